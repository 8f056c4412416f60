#!/usr/bin/env bash
# Runs the Kotlin tests on the local JVM against the native library. Needs Maven and JDK 17 or later;
# dependencies are downloaded. Prints the number of tests.
#
#   bindings/kotlin.sh            generate and test, with the debug library
#   bindings/kotlin.sh bench      time the bike screen, with the library as linked for a phone
#
# STEERWRIGHT_LIBRARY=FILE uses that library (not stripped) instead of building one; the benchmark accepts any library.
set -euo pipefail
cd "$(dirname "$0")/.."
mvn() { command mvn -B -ntp -q -f android/bridge "$@"; }

if [ "${1:-}" = bench ]; then
    library=${STEERWRIGHT_LIBRARY:-target/phone/libsteerwright_ffi.so}
    unset STEERWRIGHT_LIBRARY
    [ -e "$library" ] || cargo rustc -q -p steerwright-ffi --profile phone --crate-type cdylib
    bindings/generate.sh kotlin
    mvn test-compile exec:exec "-Dbench.library=$(realpath "$library")"
    exit
fi

[ -z "${STEERWRIGHT_LIBRARY:-}" ] || export STEERWRIGHT_LIBRARY="$(realpath "$STEERWRIGHT_LIBRARY")"
bindings/generate.sh kotlin
reports=android/bridge/target/surefire-reports
rm -rf "$reports"
status=0
mvn test || status=$?
# Maven runs quietly, so the counts are read from the reports.
sum() {
    { cat "$reports"/TEST-*.xml 2> /dev/null | grep -o '<testsuite [^>]*' | grep -o " $1=\"[0-9]*\"" || true; } |
        tr -dc '0-9\n' | awk '{ n += $1 } END { print n + 0 }'
}
failed=$(($(sum failures) + $(sum errors)))
skipped=$(sum skipped)
passed=$(($(sum tests) - failed - skipped))
echo "$passed passed, $failed failed, $skipped skipped"
[ "$passed" -gt 0 ] || status=1
exit "$status"
