#!/bin/sh
# Fuzzes untrusted inputs, each target for the given number of seconds, 60 by default: bike files, catalogues, bundles,
# tables, photos, marks and taps on them and their Exif blocks; `run.sh 60 bundle table` only those. Starts from the
# files of tests/data and the demo. `run.sh --no-run` only builds them. A target and its dependencies are rebuilt with
# libFuzzer's coverage and comparison instrumentation, into target/fuzz. A stable compiler suffices for that. No
# sanitizer: the core forbids unsafe code, and runs are several times faster without one. A C++ compiler builds
# libFuzzer.
set -eu
cd "$(dirname "$0")"
host=$(rustc -vV | sed -n 's/^host: //p')
export RUSTFLAGS="--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
-Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
-Cllvm-args=-sanitizer-coverage-trace-compares -Cllvm-args=-simplifycfg-branch-fold-threshold=0"
# With a target triple given, Cargo does not apply the flags to build scripts and macros.
fuzz() {
    cargo test -q -p steerwright-fuzz --features libfuzzer --target "$host" --target-dir ../../target/fuzz --test "$@"
}
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
        # Width sixteen and four taps, then the bytes of a photo as pixels.
        snap)
            for file in ../data/photo/*.png; do
                { printf '\020\004'; cat "$file"; } > "$seeds/$(basename "$file")"
            done
            ;;
        photo) cp ../data/photo/*.jpg ../data/photo/*.png ../data/photo/*.webp "$seeds" ;;
        # From the photos that have one, the block with the Exif fields.
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
        -max_len=20000 -timeout=60 -rss_limit_mb=2048 $dict -print_final_stats=1
done
