#!/bin/sh
# Fuzzes what comes from outside, each target for the given number of seconds, 60 by default: bike files, catalogues,
# bundles, tables, photos, marks and taps on them and their Exif blocks; `run.sh 60 bundle table` only those. Begins
# from the files of tests/data and the demo. `run.sh --no-run` only builds them.
# Built as the tests are, from the libraries that are built for them; only the workspace's own code is compiled anew, with
# libFuzzer's counters in it. A C++ compiler builds libFuzzer.
set -eu
cd "$(dirname "$0")"
export RUSTC_WORKSPACE_WRAPPER="$PWD/counted.sh"
# Always the whole workspace: part of it would be built anew, with the features that part asks for.
fuzz() { cargo test -q --workspace --features steerwright-fuzz/libfuzzer --test "$@"; }
if [ "${1:-}" = --no-run ]; then
    fuzz 'fuzz_*' --no-run
    exit
fi
seconds=${1:-60}
[ $# -gt 0 ] && shift
for target in ${*:-bike catalogue bundle table photo marks snap exif}; do
    seeds=seeds/$target
    mkdir -p "corpus/$target" "$seeds"
    dict=
    case $target in
        bike | catalogue | marks)
            dict=-dict=json.dict
            cp ../data/valid/"$target"/*.json "$seeds"
            for file in ../data/invalid/"$target"/*.json; do
                cp "$file" "$seeds/invalid-$(basename "$file")"
            done
            ;;
        bundle | table)
            dict=-dict=$target.dict
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
        bike) cp ../../core/fit/data/demo/bikes/*.json "$seeds" ;;
        catalogue) cp ../../core/fit/data/demo/catalogue.json "$seeds" ;;
    esac
    mkdir -p "artifacts/$target"
    fuzz "fuzz_$target" -- "corpus/$target" "$seeds" "-artifact_prefix=artifacts/$target/" "-max_total_time=$seconds" \
        -max_len=20000 -timeout=10 -rss_limit_mb=2048 $dict -print_final_stats=1
done
