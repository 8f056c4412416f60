"""Advance widths of the letters used in the drawings, from real fonts.

The drawing module bounds the width of a line of text without a font. This writes the widths of a wide sans serif
(DejaVu Sans, regular and bold, as included in matplotlib) as shares of the font size, so that the bound can be checked.
Run: python3 tests/oracle/text_widths.py (needs matplotlib and fontTools).
"""

import json
import pathlib

import fontTools
import matplotlib
from fontTools.ttLib import TTFont

LETTERS = sorted(
    set(
        "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
        " \u00a0.,:;!?'\"()[]|/-+=<>%&#*$@_°Ø±×−→"
    )
)


def widths(name):
    font = TTFont(pathlib.Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name)
    units = font["head"].unitsPerEm
    cmap = font.getBestCmap()
    return {letter: round(font["hmtx"][cmap[ord(letter)]][0] / units, 6) for letter in LETTERS}


document = {
    "made_by": {"fontTools": fontTools.version, "matplotlib": matplotlib.__version__},
    "regular": widths("DejaVuSans.ttf"),
    "bold": widths("DejaVuSans-Bold.ttf"),
}
target = pathlib.Path(__file__).resolve().parent.parent / "data" / "oracle" / "text_widths.json"
target.write_text(json.dumps(document, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
