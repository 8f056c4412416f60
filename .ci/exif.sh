#!/usr/bin/env bash
# Photo intake against exiftool, on sample photos that published packages carry and on variants made from them.
# Installs what it needs; the samples are fetched, not kept.
set -euo pipefail
cd "$(dirname "$0")/.."

if ! command -v npm >/dev/null; then
    apt-get update -qq
    apt-get install -y -qq --no-install-recommends npm >/dev/null
fi
if ! command -v exiftool >/dev/null; then
    apt-get update -qq
    apt-get install -y -qq --no-install-recommends libimage-exiftool-perl >/dev/null
fi

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir -p "$work/samples" "$work/made" "$work/copies"

(
    cd "$work/samples"
    npm pack --silent exif@0.6.0 jpeg-exif@1.1.4 >/dev/null
    python3 -m pip download --quiet --no-deps --no-binary :all: piexif==1.1.3
    python3 - * <<'EOF'
import shutil, sys
for archive in sys.argv[1:]:
    shutil.unpack_archive(archive, "of-" + archive, "zip" if archive.endswith(".zip") else "gztar")
EOF
)
cargo build --quiet --workspace --example photo
reader=$(cargo metadata --format-version 1 --locked |
    python3 -c 'import json, sys; print(next(p["manifest_path"] for p in json.load(sys.stdin)["packages"] if p["name"] == "kamadak-exif"))')
cp -r "$(dirname "$reader")/tests" "$work/samples/kamadak-exif"

python3 tests/photo/exif.py "$work" "${CARGO_TARGET_DIR:-target}/debug/examples/photo"
