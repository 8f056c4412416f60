"""Python's sqlite3 saving measurements one by one, each durable before the next: wall time, as JSON.

The rows and indexes are those of the field book without its undo journal and search; the durability settings are the
same.

Usage: book.py FOLDER
"""

import json
import os
import sqlite3
import sys
import time

SCHEMA = """
CREATE TABLE bikes (key INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, name TEXT NOT NULL, touched_at INTEGER NOT NULL);
CREATE INDEX bikes_by_touch ON bikes (touched_at, key);
CREATE TABLE measurements (
    key INTEGER PRIMARY KEY, id BLOB NOT NULL UNIQUE, bike INTEGER NOT NULL REFERENCES bikes (key),
    what TEXT NOT NULL, value REAL NOT NULL, unit TEXT NOT NULL, tool TEXT NOT NULL, plus_minus REAL, taken_at TEXT,
    note TEXT, who TEXT, recorded_at INTEGER NOT NULL
);
CREATE INDEX measurements_of_bike ON measurements (bike, recorded_at, key);
"""


def main():
    path = os.path.join(sys.argv[1], "peer.db")
    for suffix in ("", "-wal", "-shm"):
        if os.path.exists(path + suffix):
            os.remove(path + suffix)
    connection = sqlite3.connect(path, isolation_level=None)
    for pragma in ("journal_mode=WAL", "synchronous=FULL", "fullfsync=ON", "foreign_keys=ON"):
        connection.execute("PRAGMA " + pragma)
    connection.executescript(SCHEMA)
    connection.execute("BEGIN")
    for number in range(1000):
        connection.execute(
            "INSERT INTO bikes (id, name, touched_at) VALUES (?, ?, ?)", (os.urandom(16), f"Bike {number}", number)
        )
    connection.execute("COMMIT")
    start, ops = time.perf_counter(), 0
    while (taken := time.perf_counter() - start) < 0.5:
        bike, now = ops % 1000 + 1, 1777622400000 + ops
        connection.execute("BEGIN IMMEDIATE")
        connection.execute(
            "INSERT INTO measurements (id, bike, what, value, unit, tool, who, recorded_at)"
            " VALUES (?, ?, 'head_tube_length', 112.0, 'mm', 'steel_rule', 'Wren', ?)",
            (os.urandom(16), bike, now),
        )
        connection.execute("UPDATE bikes SET touched_at = ? WHERE key = ?", (now, bike))
        connection.execute("COMMIT")
        ops += 1
    version = f"Python sqlite3, SQLite {sqlite3.sqlite_version}"
    print(json.dumps({"ops": ops, "seconds": taken, "version": version}))


if __name__ == "__main__":
    main()
