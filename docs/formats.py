#!/usr/bin/env python3
"""Writes the tables of fields in docs/formats.md from the JSON Schemas; `--check` only compares.

A table stands between `<!-- fields: NAME -->` and `<!-- end -->`, where NAME is a schema file without `.schema.json`.
Types that two or more schemas have in common stand once, between `<!-- fields: shared -->` and `<!-- end -->`.
"""

import json
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "formats.md"


def schemas():
    names = subprocess.check_output(["git", "ls-files", "*.schema.json"], cwd=ROOT, text=True).split()
    return {pathlib.Path(name).name.removesuffix(".schema.json"): json.loads((ROOT / name).read_text()) for name in names}


def prose(text):
    """A description in one line of a table, without the links of Rust's documentation."""
    text = re.sub(r"\[(`[^`]+`)\](\([^)]*\))?", r"\1", " ".join((text or "").split()))
    return re.sub(r"`(crate|super|Self)::", "`", text).replace("|", "\\|")


SCHEMAS = schemas()
# Types of one word, such as a format's name: the word stands where the type would.
WORDS = {
    name: its["oneOf"][0]["const"]
    for schema in SCHEMAS.values()
    for name, its in schema.get("$defs", {}).items()
    if len(its.get("oneOf", [])) == 1 and "const" in its["oneOf"][0]
}
# Types that are a format of their own.
FORMATS = {schema["title"]: name.removesuffix("-1") for name, schema in SCHEMAS.items()}


def kind(schema):
    """The type of a field in words."""
    if "$ref" in schema:
        name = schema["$ref"].rsplit("/", 1)[1]
        if name in FORMATS:
            return f"[`{name}`](#{FORMATS[name]})"
        return f"`{WORDS.get(name, name)}`"
    if "const" in schema:
        return f"`{json.dumps(schema['const'])}`"
    if "enum" in schema:
        return " or ".join(f"`{json.dumps(value)}`" for value in schema["enum"])
    for several in ("anyOf", "oneOf"):
        if several in schema:
            return " or ".join(dict.fromkeys(kind(one) for one in schema[several] if one.get("type") != "null"))
    names = schema.get("type", "anything")
    names = [name for name in ([names] if isinstance(names, str) else names) if name != "null"]
    if names == ["array"]:
        items = schema.get("prefixItems") or ([schema["items"]] if isinstance(schema.get("items"), dict) else [])
        return "list of " + (" or ".join(dict.fromkeys(kind(item) for item in items)) or "anything")
    if names == ["object"] and isinstance(schema.get("additionalProperties"), dict):
        return f"names, each with {kind(schema['additionalProperties'])}"
    return " or ".join(names)


def fields(schema):
    rows = ["| field | type | needed | meaning |", "| --- | --- | --- | --- |"]
    for name, field in schema.get("properties", {}).items():
        needed = "yes" if name in schema.get("required", []) else ""
        rows.append(f"| `{name}` | {kind(field)} | {needed} | {prose(field.get('description'))} |")
    return rows


def definition(name, schema):
    """A type: its words, its variants or its fields."""
    lines = [f"**`{name}`**. {prose(schema.get('description'))}".rstrip(), ""]
    variants = schema.get("oneOf") or schema.get("anyOf")
    words = [one["const"] for one in variants or [] if "const" in one] + schema.get("enum", [])
    for one in variants or []:
        words += one.get("enum", [])
    if words:
        lines += ["One of " + ", ".join(f"`{word}`" for word in words) + ".", ""]
    if "pattern" in schema:
        lines += [f"A string of the form `{schema['pattern']}`.", ""]
    if schema.get("properties"):
        lines += fields(schema) + [""]
    elif isinstance(schema.get("additionalProperties"), dict):
        lines += [f"An object: {kind(schema)}.", ""]
    for one in variants or []:
        if one.get("properties"):
            lines += [prose(one.get("description")), ""] + fields(one) + [""]
        elif not words:
            lines += [f"- {kind(one)}: {prose(one.get('description'))}", ""]
    return lines


def tables():
    found, seen = {}, {}
    for schema in SCHEMAS.values():
        for name, its in schema.get("$defs", {}).items():
            if name in WORDS or name in FORMATS:
                continue
            key = (name, json.dumps(its, sort_keys=True))
            seen[key] = seen.get(key, 0) + 1
    shared = []
    for name, text in sorted(key for key, times in seen.items() if times > 1):
        shared += definition(name, json.loads(text))
    found["shared"] = shared
    for name, schema in SCHEMAS.items():
        lines = fields(schema) + [""] if schema.get("properties") else [f"An object: {kind(schema)}.", ""]
        for own, its in schema.get("$defs", {}).items():
            if seen.get((own, json.dumps(its, sort_keys=True))) == 1:
                lines += definition(own, its)
        found[name] = lines
    return found


def main():
    page, wanted = PAGE.read_text(), tables()
    there = re.findall(r"<!-- fields: (\S+) -->", page)
    if sorted(there) != sorted(wanted):
        sys.exit(f"docs/formats.md has tables for {sorted(there)}; there are schemas for {sorted(wanted)}")
    parts = re.compile(r"(<!-- fields: (\S+) -->\n).*?(<!-- end -->)", re.DOTALL)
    new = parts.sub(lambda it: it[1] + "\n" + "\n".join(wanted[it[2]]) + it[3], page)
    if "--check" not in sys.argv:
        PAGE.write_text(new)
    elif new != page:
        sys.exit("docs/formats.md is not what the schemas say; run docs/formats.py and read the difference")


main()
