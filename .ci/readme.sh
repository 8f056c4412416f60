#!/usr/bin/env bash
# The commands of the README, word by word.
set -euo pipefail
cd "$(dirname "$0")/.."
repository=$PWD
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
steerwright() { cargo run -q --manifest-path "$repository/Cargo.toml" -- "$@"; }

cd "$work"
steerwright demo > demo.txt
grep -q 'Hire bike 12' demo.txt
steerwright demo --files demo-files > files.txt
steerwright check demo-files/hire-bike-03.json --catalogue demo-files/catalogue.json --drawings pictures > check.txt
grep -q 'Measure next' check.txt
ls pictures/*.svg > /dev/null
export STEERWRIGHT_BOOK=$work/field.steerbook
steerwright book new "My bike" > new.txt
steerwright book measure "My bike" < /dev/null > next.txt
grep -q 'Write it down' next.txt
