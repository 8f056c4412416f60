#!/bin/sh
# Kills the field book, phones and shops at random points, in more rounds than the plain test command.
set -eu
cd "$(dirname "$0")/.."
STEERWRIGHT_CRASH_ROUNDS=${1:-200} cargo test --workspace --test book_crash
STEERWRIGHT_JOURNEY_ROUNDS=${1:-150} cargo test --workspace --test journeys killed
