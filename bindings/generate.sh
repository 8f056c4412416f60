#!/usr/bin/env bash
# Writes the Python, Kotlin and Swift sides of the bindings from the library's own debug build. Nothing of it is
# committed: a generated file is never older than the library beside it.
#
#   bindings/generate.sh                    all three
#   bindings/generate.sh python kotlin      some of them
#
# STEERWRIGHT_LIBRARY=FILE takes that library (not stripped) in place of building one.
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
    # The whole workspace's features and, by way of an example, those of its tests, so that their build is of use here
    # and the other way round.
    cargo build -q --workspace --lib --bin steerwright-generate --example photo
fi
if ! [ -x target/debug/steerwright-generate ]; then
    cargo build -q --workspace --bin steerwright-generate
fi

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
generate() { target/debug/steerwright-generate generate "$library" -l "$1" -o "$work/$1" --no-format; }

# Replaces a file only where it differs, so that nothing is compiled again for nothing.
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
            # Java has failures that are no exceptions: an assertion, a stack or memory that is used up, a TODO. Not
            # caught, they would end a call of the shell's own parts as if it had answered with nothing: a clock with
            # 1970, a sender with bytes that mean nothing.
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
