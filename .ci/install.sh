#!/usr/bin/env bash
# Installs what the checks need beside Rust and a C and a C++ compiler: programs from Debian, Python packages into
# target/ci-venv.
set -euo pipefail
cd "$(dirname "$0")/.."

packages=()
need() { command -v "$1" > /dev/null || packages+=("$2"); }
need curl curl
need mvn maven
need npm npm
need chromium chromium
need firefox-esr firefox-esr
need exiftool libimage-exiftool-perl
need debootstrap debootstrap
python3 -c 'import ensurepip' 2> /dev/null || packages+=(python3-venv)
ls /usr/lib/postgresql/*/bin/initdb > /dev/null 2>&1 || packages+=(postgresql)
dpkg -s rustc-web cargo-web rust-web-src > /dev/null 2>&1 || packages+=(rustc-web cargo-web rust-web-src)
if [ ${#packages[@]} -gt 0 ]; then
    apt-get update -q
    DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends "${packages[@]}"
fi
venv=target/ci-venv
[ -x $venv/bin/python ] || python3 -m venv $venv
$venv/bin/pip install -q --no-compile -r tests/oracle/requirements.txt -r tests/peers/requirements.txt \
    -r tests/scenes/requirements.txt -r bindings/python/requirements.txt schemathesis==4.32.5 "moto[server]==5.2.5"
