#!/usr/bin/env bash
# Generates the Python side and runs its tests and its example. Needs the packages of bindings/python/requirements.txt.
set -euo pipefail
cd "$(dirname "$0")/.."
bindings/generate.sh python
cd bindings/python
python3 -m pytest -q
python3 examples/first_bike.py > /dev/null
