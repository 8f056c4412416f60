#!/usr/bin/env python3
"""Checks the documents against the tree; exits 1 and names each line that is wrong.

In every tracked *.md:
    a relative link's file exists, and its anchor is a heading of that file (as GitHub spells anchors).

In docs/*.md, DEVELOPERS.md and every README.md, a `code span` names something that exists, if it has one of these forms:
    `some_file.rs::a_function`      a function, such as a test, in a tracked file of that name
    `module::Item`, `Type::member`  the item is defined, or re-exported, in that module or beside that type; crates of
                                    others (std, and those of the root Cargo.toml) are passed over
    `a_function()`                  a function of that name
    `core/some/path.rs`, `docs/`    a path that begins with a folder of the root is tracked, or made (in .gitignore);
                                    of any other that ends in a suffix of SOURCES, a tracked path ends in it; `*` stands
                                    for anything
Other spans, and blocks of code, are not looked at. The tables of docs/formats.md have to be those of docs/formats.py.
"""

import collections
import fnmatch
import pathlib
import re
import subprocess
import sys

ROOT = pathlib.Path(__file__).resolve().parent.parent
SOURCES = (".rs", ".py", ".sh", ".kt", ".swift", ".sql", ".toml")
NAME = r"[A-Za-z_][A-Za-z0-9_]*"
TRACKED = subprocess.check_output(["git", "ls-files"], cwd=ROOT, text=True).splitlines()
IGNORED = [line for line in (ROOT / ".gitignore").read_text().splitlines() if line.startswith("/")]
FOLDERS = {str(folder) for path in TRACKED for folder in pathlib.PurePath(path).parents if str(folder) != "."}
TOP = {path.split("/")[0] for path in TRACKED}
RUST = {path: (ROOT / path).read_text() for path in TRACKED if path.endswith(".rs") and (ROOT / path).is_file()}
MANIFESTS = {path: (ROOT / path).read_text() for path in TRACKED if path.endswith("Cargo.toml") and (ROOT / path).is_file()}
OURS = {name.replace("-", "_") for text in MANIFESTS.values() for name in re.findall(r'^name = "([^"]+)"', text, re.M)}
OTHERS = {"std", "core", "alloc"} | {
    name.replace("-", "_") for name in re.findall(r"^([\w-]+)(?:\.[\w-]+)* *=", MANIFESTS.get("Cargo.toml", ""), re.M)
} - OURS


def defines(text, name):
    """Whether Rust text defines or re-exports a name: an item, a field, a variant, or an entry of a `pub use`."""
    word = re.escape(name)
    item = rf"\b(?:fn|struct|enum|trait|type|mod|const|static|union|macro_rules!)\s+(?:mut )?{word}\b"
    member = rf"^\s*(?:pub(?:\([^)]*\))? )?{word}\s*(?:[,({{:]|= )"
    used = rf"pub(?:\([^)]*\))? use [^;]*\b{word}\b[^;]*;"
    return re.search(rf"{item}|{member}|{used}", text, re.M) is not None


def module_files(module):
    """Rust files in or of a module, or of a crate of ours."""
    for path, text in RUST.items():
        pure = pathlib.PurePath(path)
        if module in (pure.stem, *(part.replace("-", "_") for part in pure.parent.parts)):
            yield text
    if module in OURS:
        for manifest, told in MANIFESTS.items():
            if f'name = "{module.replace("_", "-")}"' in told:
                folder = manifest.removesuffix("Cargo.toml")
                yield from (text for path, text in RUST.items() if path.startswith(folder))


def rust_path(span):
    parts = [part for part in span.split("::") if part not in ("crate", "super", "self", "Self")]
    if not parts or parts[0] in OTHERS:
        return True
    for parent, name in zip(parts, parts[1:]):
        if parent[0].isupper():
            texts = [text for text in RUST.values() if re.search(rf"\b(?:struct|enum|trait|type|impl)\b[^;{{]*\b{parent}\b", text)]
        else:
            texts = module_files(parent)
        if not any(defines(text, name) for text in texts):
            return False
    return len(parts) > 1 or any(defines(text, parts[0]) for text in RUST.values())


def tracked_path(span):
    folder = span.rstrip("/")
    matches = lambda path: fnmatch.fnmatch(path, folder)
    if "/" in span and span.split("/")[0] in TOP:
        made = any(f"/{folder}".startswith(line) or line.startswith(f"/{folder}/") for line in IGNORED)
        return made or any(map(matches, TRACKED)) or any(map(matches, FOLDERS))
    return any(fnmatch.fnmatch("/" + path, "*/" + folder) for path in TRACKED)


def span_problem(span):
    test = re.fullmatch(rf"([\w./-]+\.rs)::({NAME})", span)
    if test:
        files = [text for path, text in RUST.items() if path == test[1] or path.endswith("/" + test[1])]
        if not any(re.search(rf"\bfn {test[2]}\b", text) for text in files):
            return "no such function in a file of this name"
    elif re.fullmatch(rf"{NAME}(::{NAME})+(\(\))?!?", span):
        if not rust_path(span.rstrip("()!")):
            return "no such item"
    elif re.fullmatch(rf"{NAME}\(\)", span):
        if not any(re.search(rf"\bfn {span[:-2]}\b", text) for text in RUST.values()):
            return "no such function"
    elif re.fullmatch(r"[\w.*-]+(/[\w.*-]+)*/?", span):
        begins_at_root = "/" in span and span.split("/")[0] in TOP
        if (begins_at_root or re.search(r"\w\.", span) and span.endswith(SOURCES)) and not tracked_path(span):
            return "no such path"
    return None


def anchors(text):
    """GitHub's anchors of a document's headings."""
    seen = collections.Counter()
    for heading in re.findall(r"^#{1,6} +(.+?) *#*$", without_blocks(text), re.M):
        heading = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", heading)
        anchor = re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
        yield anchor if not seen[anchor] else f"{anchor}-{seen[anchor]}"
        seen[anchor] += 1


def without_blocks(text):
    """The same lines, those of code blocks empty."""
    lines, inside = [], False
    for line in text.split("\n"):
        fence = line.lstrip().startswith("```")
        lines.append("" if inside or fence else line)
        inside ^= fence
    return "\n".join(lines)


def link_problem(page, target):
    if re.match(r"[a-z][a-z0-9+.-]*:", target):
        return None
    path, _, anchor = target.partition("#")
    file = (page.parent / path).resolve() if path else page
    if not file.exists():
        return "no such file"
    if anchor and file.suffix == ".md" and anchor not in anchors(file.read_text()):
        return "no such heading"
    return None


def main():
    wrong = 0
    for name in (path for path in TRACKED if path.endswith(".md")):
        page = ROOT / name
        if not page.is_file():
            continue
        spans_too = name.startswith("docs/") or page.name in ("DEVELOPERS.md", "README.md")
        text = without_blocks(page.read_text())
        # A span may go on over a line's end; a link may have one as its text.
        spans = list(re.finditer(r"`((?:[^`\n]|\n(?!\n))+)`", text))
        plain = list(text)
        for span in spans:
            plain[span.start() : span.end()] = ["x" if char != "\n" else char for char in span[0]]
        links = re.finditer(r"\]\(<?([^)\s>]+)", "".join(plain))
        found = [(link.start(), link[1], link_problem(page, link[1])) for link in links]
        if spans_too:
            found += [(span.start(), span[1], span_problem(span[1])) for span in spans]
        for place, what, problem in sorted(it for it in found if it[2]):
            wrong += 1
            print(f"{name}:{text.count(chr(10), 0, place) + 1}: `{what}`: {problem}")
    tables = subprocess.run([sys.executable, ROOT / "docs" / "formats.py", "--check"])
    if wrong or tables.returncode:
        sys.exit(f"{wrong} wrong")


main()
