"""Bench Sans, the face that figures and charts are set in: its files, and how wide a text is in it.

The files of `site_templates/vendor/bench-sans` are the only source: the site's style sheet carries their bytes, pictures
that stand alone what they need of them, text is measured by their own advances, and the renderer of stills is given them
unpacked.
"""

from __future__ import annotations

import base64
import re
from collections import defaultdict
from functools import cache, lru_cache
from html import unescape
from pathlib import Path
from typing import TYPE_CHECKING

from builder.charts.cut_face import Parts, cut, parts_of
from builder.shipped import templates_folder

if TYPE_CHECKING:
    from fontTools.ttLib import TTFont

FAMILY = "Bench Sans"
FOLDER = "bench-sans"
LICENCE = "LICENSE.txt"
FILES = {400: "bench-sans-regular.woff2", 700: "bench-sans-bold.woff2"}  # by weight

_TAGS = re.compile(r"<(/?)(g|text)\b([^>]*)>([^<]*)")  # of our drawings, which write ">" otherwise
_BOLD = 'font-weight="bold"'

# For a letter that the face lacks, which another one lends: wider than any letter of this one, in sizes of the text.
_OTHER_LETTER = 1


def folder(templates: Path | None = None) -> Path:
    """Where the face lies. Raises BuildRefused where the installation has no templates."""
    return (templates or templates_folder()) / "vendor" / FOLDER


def rules(templates: Path | None = None) -> str:
    """The `@font-face` rules, their files as data: so a page from disk has the face."""
    return "".join(_rule((folder(templates) / name).read_bytes(), weight) for weight, name in FILES.items())


def rules_for(drawn: str) -> str:
    """The rules for a picture by itself: of each weight the letters that it sets in it."""
    return "".join(_rule(_cut(letters, weight), weight) for weight, letters in _letters(drawn).items() if letters)


def without_rules(text: str) -> str:
    """A text without the rules that this module gives, byte for byte."""
    return text.replace(_all_rules(), "").replace(rules_for(text), "") if "@font-face" in text else text


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


def _letters(drawn: str) -> dict[int, frozenset[str]]:
    """By weight the letters of all texts of a picture."""
    letters: dict[int, set[str]] = {weight: set() for weight in FILES}
    bold = [False]  # of the groups around, and of none
    for closing, tag, attributes, text in _TAGS.findall(drawn):
        if tag == "g" and closing:
            bold.pop()
        elif not closing:
            heavy = bold[-1] or _BOLD in attributes
            if tag == "g":
                bold.append(heavy)
            else:
                letters[700 if heavy else 400].update(unescape(text))
    return {weight: frozenset(of_weight) for weight, of_weight in letters.items()}


@lru_cache(maxsize=256)
def _cut(letters: frozenset[str], weight: int) -> bytes:
    return cut(_parts(weight), letters)


@cache
def _parts(weight: int) -> Parts:
    with _font(weight) as font:
        return parts_of(font)


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
