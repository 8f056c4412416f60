#!/usr/bin/env bash
# The receiver's photos in an S3-compatible server (moto), through a relay that makes calls fail. Needs moto_server on the PATH.
set -euo pipefail
cd "$(dirname "$0")/.."

work=$(mktemp -d)
port=$((30000 + $$ % 2000))
moto_server -H 127.0.0.1 -p "$port" > "$work/log" 2>&1 &
server=$!
trap 'kill "$server" 2> /dev/null; wait "$server" 2> /dev/null || true; rm -rf "$work"' EXIT
# As long as the process is there, however slow the machine is.
until curl -sf "http://127.0.0.1:$port/moto-api/" > /dev/null; do
    kill -0 "$server" 2> /dev/null || { cat "$work/log" >&2; exit 1; }
    sleep 0.2
done
curl -sf -X PUT "http://127.0.0.1:$port/larch-hollow" > /dev/null
export STEERWRIGHT_S3="http://127.0.0.1:$port"
cargo test --workspace --test receiver -- bucket
