"""Bench Sans, the face that figures and charts are set in: its files, and how wide a text is in it.

The files of `site_templates/vendor/bench-sans` are the only source: the site's style sheet and pictures that stand
alone carry their bytes, text is measured by their own advances, and the renderer of stills is given them unpacked.
"""

from __future__ import annotations

import base64
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from builder.shipped import templates_folder

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

FAMILY = "Bench Sans"
FOLDER = "bench-sans"
LICENCE = "LICENSE.txt"
FILES = {400: "bench-sans-regular.woff2", 700: "bench-sans-bold.woff2"}  # by weight

# What nearly all charts are written in, and the same face cut down to it. A picture with other letters carries the whole
# face: cutting it down for one picture takes longer than drawing a hundred.
USUAL_FILES = {400: "bench-sans-regular-usual.woff2", 700: "bench-sans-bold-usual.woff2"}
USUAL = frozenset(map(chr, range(0x20, 0x7F))) | frozenset("\n\u00a0−–—·×±²°≈≤≥→…†‘’“”")

# For a letter that the face lacks, which another one lends: wider than any letter of this one, in sizes of the text.
_OTHER_LETTER = 1


def folder(templates: Path | None = None) -> Path:
    """Where the face lies. Raises BuildRefused where the installation has no templates."""
    return (templates or templates_folder()) / "vendor" / FOLDER


def rules(templates: Path | None = None) -> str:
    """The `@font-face` rules, their files as data: so a page from disk has the face."""
    return "".join(_rule((folder(templates) / name).read_bytes(), weight) for weight, name in FILES.items())


def rules_for(texts: str) -> str:
    """The rules for a picture by itself with these letters: half as heavy if all of them are usual ones."""
    return _usual_rules() if USUAL.issuperset(texts) else _all_rules()


def without_rules(text: str) -> str:
    """A text without the rules that this module gives, byte for byte."""
    return text.replace(_all_rules(), "").replace(_usual_rules(), "")


def width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide *text* is in the face, without kerning, which takes up to 2 % off a text. [px]"""
    advances, unit = _advances(700 if bold else 400)
    return sum(map(advances.__getitem__, text)) * size / unit


def unpack(target: Path) -> None:
    """Write the face into *target* as what renderers read that do not know the web's packed form."""
    for weight, name in FILES.items():
        with _font(weight) as font:
            font.flavor = None
            font.save(target / f"{Path(name).stem}.ttf")


@cache
def _all_rules() -> str:
    return rules()


@cache
def _usual_rules() -> str:
    return "".join(_rule((folder() / name).read_bytes(), weight) for weight, name in USUAL_FILES.items())


def _rule(content: bytes, weight: int) -> str:
    return (
        f'@font-face{{font-family:"{FAMILY}";font-weight:{weight};font-style:normal;font-display:block;'
        f"src:url(data:font/woff2;base64,{base64.b64encode(content).decode()})}}\n"
    )


@cache
def _advances(weight: int) -> tuple[dict[str, int], int]:
    """Advance of every letter, and the size of the text, both in units of the face: whole, so that sums are exact."""
    with _font(weight) as font:
        unit, metrics = font["head"].unitsPerEm, font["hmtx"]
        letters = {chr(code): metrics[glyph][0] for code, glyph in font.getBestCmap().items()}
        return defaultdict(lambda: _OTHER_LETTER * unit, letters), unit


def _font(weight: int) -> TTFont:
    from fontTools.ttLib import TTFont  # 25 ms, and 6 for a file: only where text is measured

    return TTFont(folder() / FILES[weight], lazy=True, recalcTimestamp=False)
