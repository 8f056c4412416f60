"""Writes the fuzzer's dictionaries: every name and word of the schemas, and the syntax elements of JSON, tables and
bundles.

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

table = ["bike", "owner", "what", "value", "unit", "with", "plus_minus", "at", "note", ",", ";", "\\x09", "\\x0d\\x0a", "'=", "41,8"]
lines = [f'"{word}"' for word in sorted(words | set(table))] + ['"\\""', '"\\"\\""', '"\\xef\\xbb\\xbf"']
(HERE / "table.dict").write_text("\n".join(lines) + "\n", encoding="utf-8")

fields = """archived_at at bike bike_json bytes camera checks created_at engine entries fitted_at focal_length_35mm focal_length_mm
    height id kind log made_at made_by maker measurement name note notes number observed_at original_kept photo photos predicted
    recorded_at removed_at report_json sha256 since sku struck tags thumbnail touched_at u value who why width working""".split()
lines = [json.dumps(f'"{word}"') for word in sorted(words | set(fields))] + [json.dumps(piece) for piece in pieces]
lines += [json.dumps(piece) for piece in ["\n--bikes/", "\n--checks/", "\n--photos/", "\n--photos.json\n", ".json\n"]]
lines += ['"PK\\x03\\x04"', '"PK\\x01\\x02"', '"PK\\x05\\x06"', '"PK\\x06\\x06"', '"PK\\x06\\x07"']
text = "\n".join(lines).replace("\\n", "\\x0a")
(HERE / "bundle.dict").write_text(text + "\n", encoding="utf-8")
