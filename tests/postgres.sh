#!/bin/sh
# Runs the receiver's tests and whole journeys on PostgreSQL, or with --load its load test, or with --crowd many senders
# at once: on a temporary cluster in a
# folder that is removed afterwards, on its own loopback port. Needs the server's programs (Debian: apt-get install
# postgresql), installs nothing, and does not touch a running server. Arguments are passed to the tests, such as a name.
set -eu
cd "$(dirname "$0")/.."

programs=$(ls -d /usr/lib/postgresql/*/bin 2>/dev/null | sort -V | tail -n 1)
if [ -z "$programs" ]; then
    programs=$(dirname "$(command -v initdb || true)")
fi
if [ ! -x "$programs/initdb" ]; then
    echo "tests/postgres.sh: no initdb; install PostgreSQL's server first" >&2
    exit 2
fi

# Every test has its own database, some gigabyte in total: in memory if there is space. A killed shop leaves PostgreSQL
# running, so no test depends on what reached a disk. A load test does.
folder=${TMPDIR:-/tmp}
if [ "${1:-}" != "--load" ] && [ "${1:-}" != "--crowd" ] && [ -d /dev/shm ]; then
    free=$(df -Pk /dev/shm | awk 'NR == 2 { print $4 }')
    [ "$free" -lt 4000000 ] || folder=/dev/shm
fi
place=$(mktemp -d "$folder/postgres.XXXXXX")
# PostgreSQL refuses to run as root.
if [ "$(id -u)" = 0 ]; then
    chown nobody "$place"
    as_nobody() { setpriv --reuid=nobody --regid="$(id -g nobody)" --clear-groups env HOME="$place" "$@"; }
else
    as_nobody() { "$@"; }
fi
end() {
    as_nobody "$programs/pg_ctl" -D "$place/data" -m immediate -w stop >/dev/null 2>&1 || true
    rm -rf "$place"
}
trap end EXIT
trap 'exit 130' INT TERM

if [ "${1:-}" = "--load" ] || [ "${1:-}" = "--crowd" ]; then
    small=
    segments=16
else
    small="-c max_wal_size=64MB -c min_wal_size=16MB"
    segments=1
fi
as_nobody "$programs/initdb" -D "$place/data" -U checks -A trust -E UTF8 --locale=C --no-sync \
    --wal-segsize="$segments" >/dev/null
# Another program may use a port; then the start fails, and another port is tried. Ports are below the ephemeral range.
# Starting and recovering may take minutes on a machine under load.
started=
for try in 1 2 3 4 5; do
    port=$((20000 + ($$ + 1009 * try) % 10000))
    if as_nobody "$programs/pg_ctl" -D "$place/data" -w -t 300 -l "$place/log" start \
        -o "-p $port -c listen_addresses=127.0.0.1 -c unix_socket_directories=$place -c max_connections=400 $small" \
        >/dev/null; then
        started=1
        break
    fi
done
if [ -z "$started" ]; then
    cat "$place/log" >&2
    exit 1
fi

export STEERWRIGHT_POSTGRES="postgres://checks@127.0.0.1:$port/postgres?sslmode=disable"
export STEERWRIGHT_POSTGRES_PROGRAMS="$programs"
if [ "${1:-}" = "--load" ] || [ "${1:-}" = "--crowd" ]; then
    bench=${1#--}
    shift
    cargo bench -q --workspace --profile "${STEERWRIGHT_BENCH_PROFILE:-dev}" --bench "$bench" -- "$@"
else
    # Two pools of 16 connections per test: the number of parallel tests is limited by the available connections,
    # regardless of cores.
    threads=$(nproc 2>/dev/null || echo 2)
    [ "$threads" -le 8 ] || threads=8
    export RUST_TEST_THREADS="${RUST_TEST_THREADS:-$threads}"
    cargo test --workspace --test receiver -- "$@"
    cargo test --workspace --test journeys -- "$@"
fi
