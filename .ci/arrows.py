"""Draws the workspace's crates and their dependencies among one another as a Mermaid graph in DEVELOPERS.md.

Run from the top of the checkout. Without words it compares and fails when the graph in the file is not the one that
`cargo metadata` tells; `--write` puts that one in. Arrows that follow from others are left out (transitive reduction);
dependencies of tests alone do not count.
"""

import json
import pathlib
import subprocess
import sys

FILE = pathlib.Path("DEVELOPERS.md")
BEGIN, END = "```mermaid\n", "```\n"


def dependencies():
    """Each crate of the workspace with the crates of it that it is built with."""
    command = ["cargo", "metadata", "--format-version", "1", "--no-deps", "--locked"]
    packages = json.loads(subprocess.run(command, check=True, capture_output=True).stdout)["packages"]
    names = {package["name"] for package in packages}
    return {
        package["name"]: {d["name"] for d in package["dependencies"] if d["name"] in names and d["kind"] != "dev"}
        for package in packages
    }


def reachable(arrows, start):
    """Every crate below one, itself left out."""
    found, todo = set(), list(arrows[start])
    while todo:
        crate = todo.pop()
        if crate not in found:
            found.add(crate)
            todo.extend(arrows[crate])
    return found


def graph(arrows):
    """The graph's text, the same for the same arrows."""
    short = lambda name: name.removeprefix("steerwright-")
    lines = ["graph TD"]
    for crate in sorted(arrows):
        direct = arrows[crate]
        implied = set().union(*(reachable(arrows, other) for other in direct)) if direct else set()
        lines += [f"    {short(crate)} --> {short(other)}" for other in sorted(direct - implied)]
    return "\n".join(lines) + "\n"


def main():
    text = FILE.read_text()
    before, rest = text.split(BEGIN, 1)
    old, after = rest.split(END, 1)
    new = graph(dependencies())
    if "--write" in sys.argv:
        FILE.write_text(before + BEGIN + new + END + after)
    elif new != old:
        sys.exit(f"{FILE}: the graph of crates is not what cargo metadata tells; run python3 .ci/arrows.py --write")


if __name__ == "__main__":
    main()
