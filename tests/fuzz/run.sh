#!/bin/sh
# Fuzzes what comes from outside, each target for the given number of seconds, 60 by default: bike files, catalogues,
# bundles, tables, photos, marks and taps on them and their Exif blocks; `run.sh 60 bundle table` only those. Begins
# from the files of tests/data and the demo.
# Needs cargo-fuzz (cargo install cargo-fuzz). It wants a nightly compiler for its flags: RUSTC_BOOTSTRAP lets the
# stable one take them. No sanitizer: the library forbids unsafe code, and without one the runs are several times more.
set -eu
cd "$(dirname "$0")"
seconds=${1:-60}
[ $# -gt 0 ] && shift
export RUSTC_BOOTSTRAP=1
for target in ${*:-bike catalogue bundle table photo marks snap exif}; do
    seeds=seeds/$target
    mkdir -p "corpus/$target" "$seeds"
    dict=
    case $target in
        bike | catalogue | marks)
            dict=-dict=fuzz/json.dict
            cp ../data/valid/"$target"/*.json "$seeds"
            for file in ../data/invalid/"$target"/*.json; do
                cp "$file" "$seeds/invalid-$(basename "$file")"
            done
            ;;
        bundle | table)
            dict=-dict=fuzz/$target.dict
            cp ../data/"$target"/* "$seeds"
            ;;
        # Sixteen across and four taps, before the bytes of a photo as its pixels.
        snap)
            for file in ../data/photo/*.png; do
                { printf '\020\004'; cat "$file"; } > "$seeds/$(basename "$file")"
            done
            ;;
        photo) cp ../data/photo/*.jpg ../data/photo/*.png ../data/photo/*.webp "$seeds" ;;
        # Of the photos that have one, the block with the Exif fields.
        exif)
            for file in ../data/photo/*turned.webp; do
                tail -c +"$(($(grep -abo EXIF "$file" | cut -d: -f1) + 9))" "$file" > "$seeds/$(basename "$file")"
            done
            ;;
    esac
    case $target in
        marks) cp ../data/marks/*.json "$seeds" ;;
        bike) cp ../../core/data/demo/bikes/*.json "$seeds" ;;
        catalogue) cp ../../core/data/demo/catalogue.json "$seeds" ;;
    esac
    (cd .. && cargo fuzz run --sanitizer none "$target" "fuzz/corpus/$target" "fuzz/$seeds" -- \
        -max_total_time="$seconds" -max_len=20000 -timeout=10 -rss_limit_mb=2048 $dict -print_final_stats=1)
done
