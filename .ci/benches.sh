#!/usr/bin/env bash
# The benches, one short round each: they compare their results with those of the peers here, not their speed.
# Always the whole workspace: part of it would be built anew, with the features that part asks for.
set -euo pipefail
cd "$(dirname "$0")/.."
STEERWRIGHT_PYTHON=$(command -v python3)
export STEERWRIGHT_PYTHON
cargo bench -q --workspace --profile dev --bench peers -- --rounds 1
cargo bench -q --workspace --profile dev --bench book -- --bikes 1000 --rounds 1
cargo bench -q --workspace --profile dev --bench load -- --seconds 3
cargo bench -q --workspace --profile dev --bench taps -- --sample-count 1 --sample-size 1
