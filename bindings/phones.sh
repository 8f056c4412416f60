#!/usr/bin/env bash
# Checks that every library of the workspace compiles for phones, and the page for a browser: type checking only, nothing
# is linked or run.
#
#   bindings/phones.sh                          both phones and the browser
#   bindings/phones.sh aarch64-linux-android    one of them
#   bindings/phones.sh --size                   builds for a phone's processor, under Linux, and prints the size
#
# The targets' standard library is built from source, which Debian's compiler package for the web supports;
# the toolchain of this repository is not changed. The C and assembler sources of the database and the
# cryptography (used only by the workshop's delivery and the shop's receiver) need a C compiler for the
# target, which is not installed. A stub that writes empty objects replaces it, so the check proves nothing
# about C code.
set -euo pipefail
cd "$(dirname "$0")/.."
size=
if [ "${1:-}" = --size ]; then
    size=1
    shift
fi
targets=("$@")
browser=
if [ ${#targets[@]} -eq 0 ]; then
    targets=(aarch64-linux-android aarch64-apple-ios)
    browser=wasm32-unknown-unknown
fi

packages=(rustc-web cargo-web rust-web-src)
[ -z "$size" ] || packages+=(gcc-aarch64-linux-gnu libc6-dev-arm64-cross)
if ! dpkg -s "${packages[@]}" > /dev/null 2>&1; then
    apt-get update -q
    apt-get install -q -y --no-install-recommends "${packages[@]}"
fi
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# Stub compiler: writes an empty file to the argument after -o.
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

# Full paths, because another Rust toolchain may come first in PATH.
export RUSTC=/usr/bin/rustc RUSTDOC=/usr/bin/rustdoc RUSTC_BOOTSTRAP=1 CARGO_INCREMENTAL=0 CARGO_TARGET_DIR=target/phones
unset RUSTUP_TOOLCHAIN RUSTC_WORKSPACE_WRAPPER RUSTFLAGS
if [ -n "$size" ]; then
    target=aarch64-unknown-linux-gnu
    export CC_aarch64_unknown_linux_gnu=aarch64-linux-gnu-gcc
    export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc
    # The host's `strip` does not support the target's file format.
    CARGO_PROFILE_PHONE_STRIP=none /usr/bin/cargo rustc -q -p steerwright-ffi --profile phone --crate-type cdylib \
        --target $target -Zbuild-std=std,panic_unwind
    aarch64-linux-gnu-strip -o "$work/library" target/phones/$target/phone/libsteerwright_ffi.so
    printf '%s: %s bytes\n' $target "$(stat -c %s "$work/library")"
    exit
fi
# -Zbuild-std compiles the standard library even for a check; these settings keep that cheap.
export CARGO_PROFILE_DEV_OPT_LEVEL=0 CARGO_PROFILE_DEV_DEBUG=false
# Path of the system headers, which only exist on an Apple machine.
export SDKROOT=$work
named=()
for target in "${targets[@]}" $browser; do
    name=${target//-/_}
    export "CC_$name=$work/cc" "AR_$name=$work/ar" "CXX_$name=$work/cc" "RANLIB_$name=$work/ar"
    [ "$target" = "$browser" ] || named+=(--target "$target")
done
# One invocation for all targets: host build scripts are built once, and the targets compile in parallel.
began=$SECONDS
# Excludes the binding generator: it has no library and would trigger builds for the host.
/usr/bin/cargo check -q --workspace --exclude steerwright-generate --lib "${named[@]}" -Zbuild-std=std,panic_unwind \
    -Zbuild-std-features=panic-unwind
printf '%s: every library of the workspace type-checks (%d s)\n' "${targets[*]}" $((SECONDS - began))
# The page runs in a service worker too, where there is neither socket nor thread.
if [ -n "$browser" ]; then
    /usr/bin/cargo check -q -p steerwright-page --lib --target $browser -Zbuild-std=std,panic_abort
    printf '%s: the page type-checks\n' $browser
fi
