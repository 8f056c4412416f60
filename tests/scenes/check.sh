#!/usr/bin/env bash
# Renders synthetic bikes and measures them from taps, against their truth. Needs NumPy, Numba and OpenCV.
set -euo pipefail
cd "$(dirname "$0")/../.."
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 tests/scenes/render.py "$work/bikes" --scale 0.25 --count "${1:-40}"
python3 tests/scenes/forks.py "$work/forks" --scale 0.25 --first 500 --count "${2:-24}"
STEERWRIGHT_PICTURES=$work/bikes STEERWRIGHT_FORKS=$work/forks \
    cargo test -q --workspace --test photo_pictures --test photo_forks -- --nocapture
