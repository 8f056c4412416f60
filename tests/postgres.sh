#!/bin/sh
# Runs the receiver's checks and whole journeys on PostgreSQL, or with --load its load: a cluster of its own in a folder
# that is gone afterwards, on a socket of the loopback nobody else has. Needs the server's programs (Debian: apt-get
# install postgresql), installs nothing, and leaves a server that runs already alone. Arguments go to the checks, such as
# a name.
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

place=$(mktemp -d)
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

as_nobody "$programs/initdb" -D "$place/data" -U checks -A trust -E UTF8 --locale=C --no-sync >/dev/null
# Another program may have this port; then the start says so, and the next run takes another.
port=$((20000 + $$ % 20000))
as_nobody "$programs/pg_ctl" -D "$place/data" -w -l "$place/log" start \
    -o "-p $port -c listen_addresses=127.0.0.1 -c unix_socket_directories=$place -c max_connections=400" >/dev/null || {
    cat "$place/log" >&2
    exit 1
}

export STEERWRIGHT_POSTGRES="postgres://checks@127.0.0.1:$port/postgres?sslmode=disable"
if [ "${1:-}" = "--load" ]; then
    shift
    cargo bench -q -p steerwright-intake --bench load -- "$@"
else
    cargo test -p steerwright-intake --test receiver -- "$@"
    cargo test -p steerwright-tests --test journeys -- "$@"
fi
