#!/usr/bin/env bash
# Has Compose and systemd read the receiver's files, where they are installed, and follows the README's first lines.
set -euo pipefail
cd "$(dirname "$0")/.."

if docker compose version > /dev/null 2>&1; then
    PASSWORD=secret1 docker compose -f intake/compose.yaml config --quiet
else
    echo "docker compose is not installed: compose.yaml is read by the tests alone"
fi
if command -v systemd-analyze > /dev/null; then
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
    # The program is not installed here: any that is stands for it.
    sed "s|^ExecStart=/usr/local/bin/steerwright-intake|ExecStart=$(command -v true)|" intake/steerwright-intake.service \
        > "$work/steerwright-intake.service"
    systemd-analyze verify --man=no "$work/steerwright-intake.service"
    # Exposure of at most 2.5, where 0 is confined in all and 10 in nothing.
    systemd-analyze security --offline=true --threshold=25 "$work/steerwright-intake.service" > /dev/null
else
    echo "systemd-analyze is not installed: the unit is read by the tests alone"
fi
