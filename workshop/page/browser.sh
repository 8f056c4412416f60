#!/usr/bin/env bash
# Checks the page in real browsers (Debian's Chromium and Firefox): journeys by mouse, touch and keyboard, without a script,
# and accessibility of every screen. Needs node, npm, chromium, firefox-esr.
#
#   workshop/page/browser.sh              the checks
#   workshop/page/browser.sh shots FOLDER [LOCALE]
#                                         a picture of every screen, at 360 and 1280 px, light and dark
set -euo pipefail
cd "$(dirname "$0")/../.."
cargo build -q -p steerwright-workshop
modules=target/browser
mkdir -p $modules
cp workshop/page/browser/package.json workshop/page/browser/*.mjs $modules/
(cd $modules && npm install --silent --no-audit --no-fund)
export STEERWRIGHT_COMMAND=$PWD/target/debug/steerwright STEERWRIGHT_DATA=$PWD/tests/data
if [ "${1:-}" = shots ]; then
    mkdir -p "$2"
    node $modules/shots.mjs "$(realpath "$2")" ${3:+"$3"}
else
    node --test --test-concurrency=1 $modules/journeys.mjs $modules/photos.mjs $modules/firefox.mjs
fi
