#!/usr/bin/env bash
# The Kotlin suite on this machine's JVM, against the real library; needs Maven and a JDK of 17 or later, and fetches the
# rest. Prints how many tests ran.
#
#   bindings/kotlin.sh            generates and tests, with the debug library
#   bindings/kotlin.sh bench      times a bike's screen, with the library as a phone links it
#
# STEERWRIGHT_LIBRARY=FILE takes that library (not stripped) in place of building one; for the bench any library will do.
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
# Quiet when all is well, so the numbers are read from the reports.
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
