#!/bin/sh
# Fuzzes each file format, bundles and tables among them, for the given number of seconds, 60 by default, from the files
# of tests/data and the demo.
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
for format in bundle table; do
    mkdir -p "corpus/$format"
    (cd .. && cargo fuzz run --sanitizer none "$format" "fuzz/corpus/$format" "data/$format" -- \
        -max_total_time="$seconds" -max_len=20000 -timeout=5 -rss_limit_mb=2048 -dict="fuzz/$format.dict" \
        -print_final_stats=1)
done
