#!/usr/bin/env bash
# Builds the Swift package against the Rust library and runs its tests.
#
#   bindings/swift.sh                       the tests
#   bindings/swift.sh --bench               the bench, a release build on the library a phone links if it is there
#   bindings/swift.sh --root                only the directory with the compiler, see below
#   bindings/swift.sh --filter Sending      other words go to `swift test`
#
# Where Swift is installed, that is used. Elsewhere, as root on Debian or Ubuntu, Debian 13's compiler is put in a
# directory of its own and run there: in $STEERWRIGHT_SWIFT_ROOT, or in target/swift-root, made when it is missing (about
# 3 GB). Nothing is installed on the machine itself but debootstrap.
#
# STEERWRIGHT_LIBRARY=FILE takes that library (not stripped) in place of building one.
set -euo pipefail
cd "$(dirname "$0")/.."
repository=$PWD

case "$(uname -s)" in
    Darwin) ending=dylib ;;
    *) ending=so ;;
esac
# Debian's own mirror as apt knows it, not that of its security updates.
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
    # No manuals, no translations, no waiting for the disk after each package: the directory can be made again.
    printf '%s\n' 'path-exclude=/usr/share/doc/*' 'path-exclude=/usr/share/man/*' 'path-exclude=/usr/share/locale/*' \
        'force-unsafe-io' > "$1/etc/dpkg/dpkg.cfg.d/lean"
    debootstrap --variant=minbase trixie "$1" "$(mirror)" > "$work/log" 2>&1 || { cat "$work/log" >&2; return 1; }
    # What is mounted in a space of its own is gone with the last process in it, however that ends.
    unshare --mount --propagation private bash -euc '
        mount -t proc proc "$1/proc"
        DEBIAN_FRONTEND=noninteractive chroot "$1" apt-get install -q -y --no-install-recommends \
            swiftlang libc6-dev libstdc++-14-dev
        chroot "$1" apt-get clean' - "$1" > "$work/log" 2>&1 || { cat "$work/log" >&2; return 1; }
    touch "$1/swift-is-there"
}

# Only that: it takes a while and can be done beside other things.
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
# Alone in its directory: beside a static library a linker might take that, and the tests load a shared one.
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
    # Its `swift` is a link that holds only inside: the file that is written last says whether all is there.
    [ -e "$root/swift-is-there" ] || make_root "$root"
    place=/repository
    scratch=/build
    mkdir -p "$root$place" "$root$scratch"
    # The tests read the repository and never write in it.
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
# A run that found no test is no success.
ran=$(sed -n 's/^.*Executed \([0-9][0-9]*\) tests\{0,1\}, with.*$/\1/p' "$log" | tail -1)
echo "Swift: ${ran:-0} tests ran"
[ "${ran:-0}" -gt 0 ]
