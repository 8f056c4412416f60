"""Tables as Python's csv module writes and reads them.

The field book reads tables written by other programs. This writes some with every separator, line end and quoting
style, adds some malformed ones, and records which cells Python reads in which row. Run: python3 tests/oracle/tables.py
(needs nothing but Python).
"""

import csv
import io
import json
import pathlib
import platform

HEADER = ["bike", "owner", "what", "value", "unit", "with", "plus_minus", "at", "note"]
NOTES = [
    "plain",
    "",
    'with "both" wheels',
    "comma, semicolon; and\ttab",
    '"',
    '""',
    "'",
    "two\nlines",
    "two\r\nlines",
    "old\rlines",
    "äöü 二 é",
    " space around ",
    "ends with a quote\"",
]
QUOTING = {"minimal": csv.QUOTE_MINIMAL, "all": csv.QUOTE_ALL, "strings": csv.QUOTE_NONNUMERIC}

tables = []


def add(name, text, separator):
    """Records a table and what Python reads from it: rows as it counts them, including empty ones."""
    rows = []
    for number, cells in enumerate(csv.reader(io.StringIO(text, newline=""), delimiter=separator), start=1):
        if number > 1 and any(cell.strip() for cell in cells):
            rows.append({"row": number, "cells": cells})
    tables.append({"name": name, "text": text, "rows": rows})


for separator in ",;\t":
    for end in ("\n", "\r\n", "\r"):
        for how, quoting in QUOTING.items():
            for mark in ("", "\ufeff"):
                out = io.StringIO(newline="")
                writer = csv.writer(out, delimiter=separator, lineterminator=end, quoting=quoting)
                writer.writerow(HEADER)
                for number, note in enumerate(NOTES):
                    bike = f"Bike {number}"
                    writer.writerow([bike, "Larch Hollow demo crew", "reach", 450, "mm", "tape", "", "", note])
                name = f"{how}, separator {separator!r}, line end {end!r}{', marked' if mark else ''}"
                add(name, out.getvalue(), separator)
                # The byte order mark is not part of the first name.
                tables[-1]["text"] = mark + tables[-1]["text"]

first = ",".join(HEADER)
row = "One,,reach,450,mm,tape,,,"
odd = {
    "empty rows": f"{first}\n\n{row}a\n\n\n{row}b\n",
    "empty rows, CRLF": f"{first}\r\n\r\n{row}a\r\n\r\n\r\n{row}b\r\n\r\n",
    "empty rows, CR": f"{first}\r\r{row}a\r\r\r{row}b\r",
    "line ends of several kinds": f"{first}\r\n{row}a\n{row}b\r{row}c\r\n\n{row}d",
    "an empty row of cells": f"{first}\n,,,,,,,,\n{row}a\n",
    "no line end at the end": f"{first}\n{row}a",
    "a quote within a cell": f'{first}\n{row}a "b" c\n{row}5"\n',
    "text behind a quoted cell": f'{first}\n{row}"a"b\n"One"x,,reach,450,mm,tape,,,c\n',
    "a quoted cell that does not end": f'{first}\n{row}"a, b; c',
    "line breaks within cells move the rows below": f'{first}\n{row}"a\nb"\n{row}c\n{row}"d\r\ne\r\n\r\nf"\n\n{row}g\n',
}
for name, text in odd.items():
    add(name, text, ",")

document = {"made_by": {"python": platform.python_version()}, "tables": tables}
target = pathlib.Path(__file__).resolve().parent.parent / "data" / "oracle" / "tables.json"
target.write_text(json.dumps(document, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
