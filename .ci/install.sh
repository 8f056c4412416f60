#!/usr/bin/env bash
# Installs what the checks need beside Rust and a C and a C++ compiler: programs from Debian, Python packages into
# target/ci-venv.
set -euo pipefail
cd "$(dirname "$0")/.."

packages=(python3-venv postgresql maven npm libimage-exiftool-perl debootstrap rustc-web cargo-web rust-web-src)
if ! dpkg -s "${packages[@]}" > /dev/null 2>&1; then
    apt-get update -q
    DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "${packages[@]}"
fi
venv=target/ci-venv
[ -x $venv/bin/python ] || python3 -m venv $venv
$venv/bin/pip install -q --no-compile -r tests/oracle/requirements.txt -r tests/peers/requirements.txt \
    -r tests/scenes/requirements.txt -r bindings/python/requirements.txt schemathesis==4.32.5
