#!/bin/sh
# Fuzzes each file format, and photos, for the given number of seconds, 60 by default, from the files of tests/data and
# the demo.
# Needs cargo-fuzz (cargo install cargo-fuzz). It wants a nightly compiler for its flags: RUSTC_BOOTSTRAP lets the
# stable one take them. No sanitizer: the library forbids unsafe code, and without one the runs are several times more.
set -eu
cd "$(dirname "$0")"
seconds=${1:-60}
export RUSTC_BOOTSTRAP=1
for format in bike catalogue; do
    seeds=seeds/$format
    mkdir -p "corpus/$format" "$seeds"
    cp ../data/valid/"$format"/*.json "$seeds"
    for file in ../data/invalid/"$format"/*.json; do
        cp "$file" "$seeds/invalid-$(basename "$file")"
    done
    case $format in
        bike) cp ../../core/data/demo/bikes/*.json "$seeds" ;;
        catalogue) cp ../../core/data/demo/catalogue.json "$seeds" ;;
    esac
    (cd .. && cargo fuzz run --sanitizer none "$format" "fuzz/corpus/$format" "fuzz/$seeds" -- \
        -max_total_time="$seconds" -max_len=20000 -timeout=5 -rss_limit_mb=2048 -dict=fuzz/json.dict \
        -print_final_stats=1)
done

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
