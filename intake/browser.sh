#!/usr/bin/env bash
# Checks the shop's page in a real browser (Debian's Chromium) on the demo: a day at the counter, what is printed, and
# accessibility of every screen. Needs node, npm, chromium.
#
#   intake/browser.sh              the checks
#   intake/browser.sh shots FOLDER a picture of every screen, at 390, 768 and 1280 px, light and dark
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build -q --workspace --bin steerwright-intake --example photo
modules=target/intake-browser
mkdir -p $modules
cp intake/browser/package.json intake/browser/*.mjs $modules/
(cd $modules && npm install --silent --no-audit --no-fund)
export STEERWRIGHT_INTAKE=$PWD/target/debug/steerwright-intake
if [ "${1:-}" = shots ]; then
    mkdir -p "$2"
    node $modules/shots.mjs "$(realpath "$2")"
else
    node --test --test-concurrency=1 $modules/journeys.mjs
fi
