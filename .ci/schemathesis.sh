#!/usr/bin/env bash
# Calls every address of the receiver with made-up values, sound and unsound, and holds the answers against openapi.json.
# Needs schemathesis on the PATH. Its chance is fixed.
set -euo pipefail
cd "$(dirname "$0")/.."

work=$(mktemp -d)
export STEERWRIGHT_INTAKE_DATA="$work/data"
# With an example, so that nothing is built anew: only then the features are those of the tests.
cargo build -q --workspace --bin steerwright-intake --example photo
intake=target/debug/steerwright-intake
token=$("$intake" sender add "The Larch Hollow demo crew")
"$intake" serve --catalogue core/fit/data/demo/catalogue.json --log json --listen 127.0.0.1:0 --burst 1000000 --each-minute 1000000 2> "$work/log" &
server=$!
trap 'kill "$server" 2> /dev/null; wait "$server" 2> /dev/null || true; rm -rf "$work"' EXIT
# As long as the process is there, however slow the machine is.
address=
while kill -0 "$server" 2> /dev/null; do
    address=$(sed -n 's/.*"message":"serving".*"address":"\([^"]*\)".*/\1/p' "$work/log")
    [ -n "$address" ] && break
    sleep 0.1
done
if [ -z "$address" ]; then
    cat "$work/log" >&2
    exit 1
fi
# One worker: two threads of Python 3.11 may fail while both parse source (CPython issue 106905).
# That sound data are taken is left out: nobody makes up bytes with a given SHA-256, or a kit of this catalogue.
schemathesis run intake/openapi.json --url "http://$address" --header "Authorization: Bearer $token" \
    --max-examples "${1:-30}" --seed 20260502 --generation-database none --workers 1 --no-color \
    --exclude-checks positive_data_acceptance
# A fault of the receiver's own stands in its log.
if grep -q '"status":500' "$work/log"; then
    grep '"status":500' "$work/log" | head -5 >&2
    exit 1
fi
