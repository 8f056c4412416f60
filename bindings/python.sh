#!/usr/bin/env bash
# Generates the Python bindings, then runs their tests and the example. Needs the packages in
# bindings/python/requirements.txt.
set -euo pipefail
cd "$(dirname "$0")/.."
bindings/generate.sh python
cd bindings/python
python3 -m pytest -q
python3 examples/first_bike.py > /dev/null
