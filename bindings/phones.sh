#!/usr/bin/env bash
# Checks that the whole library compiles for phones: types and borrows only, nothing is linked or run.
#
# The targets' standard library is built from source, which Debian's own compiler for the web can do; the toolchain of
# this repository is not touched. The database's C sources need a C compiler for the target, which is not here: a
# stand-in makes empty objects of them, so that this proves nothing about C.
set -euo pipefail
cd "$(dirname "$0")/.."
if ! [ -x /usr/lib/rust-web/bin/cargo ] && ! command -v cargo-web > /dev/null; then
    apt-get update -q
    apt-get install -q -y --no-install-recommends rustc-web cargo-web rust-web-src
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Objects of nothing: the last argument after -o is where one is wanted.
cat > "$work/cc" << 'EOF'
#!/bin/sh
out=
while [ $# -gt 0 ]; do
    [ "$1" = -o ] && out=$2
    shift
done
[ -z "$out" ] || : > "$out"
EOF
cat > "$work/ar" << 'EOF'
#!/bin/sh
for word; do
    case "$word" in *.a) printf '!<arch>\n' > "$word" ;; esac
done
EOF
chmod +x "$work/cc" "$work/ar"

directory=$(dpkg -L cargo-web | grep '/bin$' | tail -1)
export PATH="$directory:$PATH" RUSTC_BOOTSTRAP=1 CARGO_INCREMENTAL=0
export CARGO_TARGET_DIR=target/phones
for target in aarch64-linux-android aarch64-apple-ios; do
    name=${target//-/_}
    export "CC_$name=$work/cc" "AR_$name=$work/ar" "CXX_$name=$work/cc"
    printf 'checking for %s\n' "$target"
    "$directory/cargo" check -q -p steerwright-ffi --target "$target" -Zbuild-std=std,panic_unwind
done
