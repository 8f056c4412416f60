#!/usr/bin/env bash
# Builds the Swift package against the Rust library and runs its tests.
#
#   bindings/swift.sh                       run the tests
#   bindings/swift.sh --bench               run the benchmark in release mode, with the phone library if it exists
#   bindings/swift.sh --root                only create the directory with the compiler, see below
#   bindings/swift.sh --filter Sending      other arguments are passed to `swift test`
#
# An installed Swift is used if there is one. Otherwise, as root on Debian or Ubuntu, Debian 13's compiler is
# installed in a separate root directory and run there: $STEERWRIGHT_SWIFT_ROOT or target/swift-root, created
# if it is missing (about 3 GB). Nothing but debootstrap is installed on the machine itself.
#
# STEERWRIGHT_LIBRARY=FILE uses that library (not stripped) instead of building one.
set -euo pipefail
cd "$(dirname "$0")/.."
repository=$PWD

case "$(uname -s)" in
    Darwin) ending=dylib ;;
    *) ending=so ;;
esac
# Debian's main mirror as configured for apt, not the one for security updates.
mirror() { apt-get indextargets --format '$(REPO_URI)' 'Label: Debian' 'Component: main' 'Created-By: Packages' | head -1; }

make_root() {
    echo "making a Debian 13 with Swift in $1" >&2
    [ -n "$(mirror)" ] || apt-get update -q
    if ! command -v debootstrap > /dev/null; then
        { apt-get install -q -y --no-install-recommends debootstrap ||
            { apt-get update -q && apt-get install -q -y --no-install-recommends debootstrap; }; } > "$work/log" 2>&1 ||
            { cat "$work/log" >&2; return 1; }
    fi
    rm -rf "$1"
    mkdir -p "$1/etc/dpkg/dpkg.cfg.d"
    # Without manuals, translations and fsync after each package: the directory can be recreated at any time.
    printf '%s\n' 'path-exclude=/usr/share/doc/*' 'path-exclude=/usr/share/man/*' 'path-exclude=/usr/share/locale/*' \
        'force-unsafe-io' > "$1/etc/dpkg/dpkg.cfg.d/lean"
    debootstrap --variant=minbase trixie "$1" "$(mirror)" > "$work/log" 2>&1 || { cat "$work/log" >&2; return 1; }
    # Mounts in a private namespace vanish with its last process, however that ends.
    unshare --mount --propagation private bash -euc '
        mount -t proc proc "$1/proc"
        DEBIAN_FRONTEND=noninteractive chroot "$1" apt-get install -q -y --no-install-recommends \
            swiftlang libc6-dev libstdc++-14-dev
        chroot "$1" apt-get clean' - "$1" > "$work/log" 2>&1 || { cat "$work/log" >&2; return 1; }
    touch "$1/swift-is-there"
}

# Only creates the root directory: it takes a while and can run in parallel with other work.
if [ "${1:-}" = --root ]; then
    command -v swift > /dev/null && exit
    root=${STEERWRIGHT_SWIFT_ROOT:-target/swift-root}
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
    [ -e "$root/swift-is-there" ] || make_root "$root"
    exit
fi

name=libsteerwright_ffi.$ending
bindings/generate.sh swift
library=${STEERWRIGHT_LIBRARY:-target/debug/$name}
bench=
if [ "${1:-}" = --bench ]; then
    bench=1
    for profile in phone release; do
        if [ -f "target/$profile/$name" ]; then
            library=target/$profile/$name
            break
        fi
    done
    printf 'library: %s, %s bytes\n' "$library" "$(wc -c < "$library" | tr -d ' ')"
fi
# In a directory of its own, because next to a static library the linker might choose that one; the tests load
# the shared library.
beside=target/swift-library
mkdir -p $beside
cmp -s "$library" $beside/"$name" || cp "$library" $beside/"$name"

if command -v swift > /dev/null; then
    place=$repository
    scratch=$repository/target/swift-build
    run() { "$@"; }
else
    if [ "$(id -u)" != 0 ] || ! command -v apt-get > /dev/null; then
        echo "no swift here: install it, or run this as root on Debian" >&2
        exit 1
    fi
    root=${STEERWRIGHT_SWIFT_ROOT:-target/swift-root}
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
    # The root's `swift` is a symbolic link that resolves only inside the root. The marker file is written
    # last and shows that the installation is complete.
    [ -e "$root/swift-is-there" ] || make_root "$root"
    place=/repository
    scratch=/build
    mkdir -p "$root$place" "$root$scratch"
    # The repository is mounted read-only: the tests read it and never write to it.
    run() {
        unshare --mount --propagation private bash -euc '
            root=$1 repository=$2 place=$3
            shift 3
            mountpoint -q "$root/proc" || mount -t proc proc "$root/proc"
            mount --bind "$repository" "$root$place"
            mount -o remount,bind,ro "$root$place"
            exec chroot "$root" env HOME=/root LC_ALL=C.UTF-8 "$@"' - "$root" "$repository" $place "$@"
    }
fi

flags=(--package-path "$place/ios/SteerwrightKit" -Xlinker "-L$place/$beside" -Xlinker -rpath -Xlinker "$place/$beside")
if [ -n "$bench" ]; then
    run swift run -q -c release "${flags[@]}" --scratch-path "$scratch/release" steerwright-bench "$place"
    exit
fi
log=$(mktemp)
trap 'rm -rf "$log" "${work:-}"' EXIT
run swift test "${flags[@]}" --scratch-path "$scratch/debug" --disable-swift-testing "$@" 2>&1 | tee "$log"
# A run without tests counts as a failure.
ran=$(sed -n 's/^.*Executed \([0-9][0-9]*\) tests\{0,1\}, with.*$/\1/p' "$log" | tail -1)
echo "Swift: ${ran:-0} tests ran"
[ "${ran:-0}" -gt 0 ]
