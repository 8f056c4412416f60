#!/usr/bin/env bash
# Renders synthetic bikes and measures them from taps, against their truth. Needs NumPy, Numba and OpenCV.
set -euo pipefail
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 tests/scenes/render.py "$work" --scale 0.25 --count "${1:-40}"
STEERWRIGHT_PICTURES=$work cargo test -q --workspace --test photo_pictures -- --nocapture
