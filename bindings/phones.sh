#!/usr/bin/env bash
# Checks that every library of the workspace compiles for phones: types and borrows only, nothing is linked or run.
#
#   bindings/phones.sh                          both
#   bindings/phones.sh aarch64-linux-android    one of them
#   bindings/phones.sh --size                   instead builds the library for a phone's processor, under Linux, and tells its size
#
# The targets' standard library is built from source, which Debian's own compiler for the web can do; the toolchain of
# this repository is not touched. The C and assembler sources of the database and of the cryptography (which only the
# workshop's courier and the shop's receiver need) want a C compiler for the target, which is not here: a stand-in makes
# empty objects of them, so that this proves nothing about C.
set -euo pipefail
cd "$(dirname "$0")/.."
size=
if [ "${1:-}" = --size ]; then
    size=1
    shift
fi
targets=("$@")
[ ${#targets[@]} -gt 0 ] || targets=(aarch64-linux-android aarch64-apple-ios)

packages=(rustc-web cargo-web rust-web-src)
[ -z "$size" ] || packages+=(gcc-aarch64-linux-gnu libc6-dev-arm64-cross)
if ! dpkg -s "${packages[@]}" > /dev/null 2>&1; then
    apt-get update -q
    apt-get install -q -y --no-install-recommends "${packages[@]}"
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Objects of nothing: the last argument after -o is where one is wanted.
cat > "$work/cc" << 'END'
#!/bin/sh
out=
while [ $# -gt 0 ]; do
    [ "$1" = -o ] && out=$2
    shift
done
[ -z "$out" ] || : > "$out"
END
cat > "$work/ar" << 'END'
#!/bin/sh
for word; do
    case "$word" in *.a) printf '!<arch>\n' > "$word" ;; esac
done
END
chmod +x "$work/cc" "$work/ar"

# By their full paths: another Rust may come first on the path.
export RUSTC=/usr/bin/rustc RUSTDOC=/usr/bin/rustdoc RUSTC_BOOTSTRAP=1 CARGO_INCREMENTAL=0 CARGO_TARGET_DIR=target/phones
unset RUSTUP_TOOLCHAIN RUSTC_WORKSPACE_WRAPPER RUSTFLAGS
if [ -n "$size" ]; then
    target=aarch64-unknown-linux-gnu
    export CC_aarch64_unknown_linux_gnu=aarch64-linux-gnu-gcc
    export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc
    # `strip` of this machine does not know the target's files.
    CARGO_PROFILE_PHONE_STRIP=none /usr/bin/cargo rustc -q -p steerwright-ffi --profile phone --crate-type cdylib \
        --target $target -Zbuild-std=std,panic_unwind
    aarch64-linux-gnu-strip -o "$work/library" target/phones/$target/phone/libsteerwright_ffi.so
    printf '%s: %s bytes\n' $target "$(stat -c %s "$work/library")"
    exit
fi
# The standard library is compiled, not only checked, whatever is asked of Cargo: as little of it as will do.
export CARGO_PROFILE_DEV_OPT_LEVEL=0 CARGO_PROFILE_DEV_DEBUG=false
# Where the system's own headers would be, which only an Apple machine knows.
export SDKROOT=$work
named=()
for target in "${targets[@]}"; do
    name=${target//-/_}
    export "CC_$name=$work/cc" "AR_$name=$work/ar" "CXX_$name=$work/cc" "RANLIB_$name=$work/ar"
    named+=(--target "$target")
done
# All at once: what runs while they are compiled is built once, and no core waits for another target's last library.
began=$SECONDS
# Without the program that writes the other languages' sides, which has no library and would have others built for it.
/usr/bin/cargo check -q --workspace --exclude steerwright-generate --lib "${named[@]}" -Zbuild-std=std,panic_unwind \
    -Zbuild-std-features=panic-unwind
printf '%s: every library of the workspace type-checks (%d s)\n' "${targets[*]}" $((SECONDS - began))
