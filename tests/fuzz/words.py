"""Writes `json.dict`, the fuzzer's dictionary: every name and word of the two schemas, and JSON's own pieces.

Usage: python3 tests/fuzz/words.py
"""

import json
from pathlib import Path

HERE = Path(__file__).resolve().parent
words = set()


def collect(node):
    if isinstance(node, dict):
        words.update(node.get("properties", {}))
        if isinstance(node.get("const"), str):
            words.add(node["const"])
        for value in node.values():
            collect(value)
    elif isinstance(node, list):
        for value in node:
            collect(value)


for schema in sorted((HERE.parents[1] / "core" / "data" / "schemas").glob("*.json")):
    collect(json.loads(schema.read_text(encoding="utf-8")))
pieces = ["true", "false", "null", "1e999", "-0.0", "1e-400", "\\u0000", "IS42", "ZS44", "EC34"]
lines = [json.dumps(f'"{word}"') for word in sorted(words)] + [json.dumps(piece) for piece in pieces]
lines += ['"\\xef\\xbb\\xbf"']
(HERE / "json.dict").write_text("\n".join(lines) + "\n", encoding="utf-8")
