#!/usr/bin/env bash
# The commands of the README, word by word.
set -euo pipefail
cd "$(dirname "$0")/.."
repository=$PWD
work=$(mktemp -d)
trap 'kill $(jobs -p) 2> /dev/null || true; rm -rf "$work"' EXIT
steerwright() { cargo run -q --manifest-path "$repository/Cargo.toml" -- "$@"; }

cd "$work"
# Without words the page opens: it answers at the address that it prints. Building comes first and takes what it takes.
steerwright --version > version.txt
cargo run -q --manifest-path "$repository/Cargo.toml" -- open --book page.steerbook --demo --no-browser > page.txt &
until grep -q 'http://' page.txt; do
    kill -0 $! || { echo "steerwright open ended without an address"; exit 1; }
    sleep 0.2
done
python3 - "$(grep -o 'http://[^ ]*' page.txt)" <<'PYTHON'
import http.cookiejar, sys, urllib.request
browser = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(http.cookiejar.CookieJar()))
assert "Hire bike 12" in browser.open(sys.argv[1]).read().decode()
PYTHON
kill %1
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
