#!/bin/sh
# Fuzzes photo intake and its Exif reading for the given number of seconds, 60 by default; run by hand, as run.sh is.
set -eu
cd "$(dirname "$0")"
seconds=${1:-60}
export RUSTC_BOOTSTRAP=1
# Photos: tests/data/photo; and of those that have one, the block with the Exif fields.
mkdir -p corpus/photo corpus/exif seeds/photo seeds/exif
cp ../data/photo/* seeds/photo
for file in ../data/photo/*turned.webp; do
    tail -c +"$(($(grep -abo EXIF "$file" | cut -d: -f1) + 9))" "$file" > "seeds/exif/$(basename "$file")"
done
for target in photo exif; do
    (cd .. && cargo fuzz run --sanitizer none "$target" "fuzz/corpus/$target" "fuzz/seeds/$target" -- \
        -max_total_time="$seconds" -max_len=20000 -timeout=10 -rss_limit_mb=2048 -print_final_stats=1)
done
