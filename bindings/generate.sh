#!/usr/bin/env bash
# Generates the Python, Kotlin and Swift bindings from the debug build of the library. The output is not
# committed, so that it is never older than the library.
#
#   bindings/generate.sh                    all three
#   bindings/generate.sh python kotlin      some of them
#
# STEERWRIGHT_LIBRARY=FILE uses that library (not stripped) instead of building one.
set -euo pipefail
cd "$(dirname "$0")/.."
languages=("$@")
[ ${#languages[@]} -gt 0 ] || languages=(python kotlin swift)

case "$(uname -s)" in
    Darwin) ending=dylib ;;
    *) ending=so ;;
esac
library=${STEERWRIGHT_LIBRARY:-target/debug/libsteerwright_ffi.$ending}
if [ -z "${STEERWRIGHT_LIBRARY:-}" ]; then
    # The features of the whole workspace and, through one example, of its tests, so that both builds share artifacts.
    cargo build -q --workspace --lib --bin steerwright-generate --example photo
fi
if ! [ -x target/debug/steerwright-generate ]; then
    cargo build -q --workspace --bin steerwright-generate
fi

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
generate() { target/debug/steerwright-generate generate "$library" -l "$1" -o "$work/$1" --no-format; }

# Replaces a file only if it differs, to avoid needless recompilation.
put() {
    mkdir -p "$(dirname "$2")"
    cmp -s "$1" "$2" || cp "$1" "$2"
}

for language in "${languages[@]}"; do
    generate "$language"
    case "$language" in
        python)
            put "$work/python/steerwright.py" bindings/python/steerwright/_generated.py
            put "$library" "bindings/python/steerwright/$(basename "$library")"
            ;;
        kotlin)
            # Java has failures that are not exceptions: assertion errors, stack overflow, out of memory, a
            # TODO. If they were not caught, a callback of the host app would appear to return an empty value:
            # 1970 from a clock, meaningless bytes from a sender.
            caught='catch(e: kotlin.Exception)'
            [ "$(grep -cF "$caught" "$work/kotlin/steerwright/steerwright.kt")" = 2 ] || {
                echo "the generated Kotlin catches what a shell throws in another way: look at this script" >&2
                exit 1
            }
            sed "s/$caught/catch(e: Throwable)/" "$work/kotlin/steerwright/steerwright.kt" > "$work/steerwright.kt"
            put "$work/steerwright.kt" android/bridge/src/generated/kotlin/steerwright/steerwright.kt
            ;;
        swift)
            sources=ios/SteerwrightKit/Sources
            put "$work/swift/SteerwrightCore.swift" $sources/SteerwrightCore/SteerwrightCore.swift
            put "$work/swift/SteerwrightCoreFFI.h" $sources/SteerwrightCoreFFI/SteerwrightCoreFFI.h
            ;;
        *)
            echo "no such language: $language" >&2
            exit 2
            ;;
    esac
done
