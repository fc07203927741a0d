"""Numbers as people and spreadsheets write them. Which mark is the decimal one is settled by evidence, per file.

A text is tried with the point and with the comma as decimal mark. Where only one reading is possible it
is evidence for the whole file ("812,5"; "1.024,0"); where both are and differ ("1.024") the evidence of
the other cells decides, and without any nobody can tell. Tables and logs are read by this one rule.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from catalog.reading.rawtable import Exact

_MINUS = str.maketrans({"−": "-", "–": "-", "‒": "-", "﹣": "-", "－": "-"})
_SPACES = "\u00a0\u202f\u2007\u2009"
_PLAIN = str.maketrans({**dict.fromkeys(_SPACES, " "), "’": "'", "‘": "'", "“": '"', "”": '"', "„": '"'})

_SHAPE = re.compile(
    r"(?P<sign>[+-]?) ?(?P<digits>[.,]?\d(?:[\d.,' ]*\d)?(?:e[+-]?\d{1,3})?) ?(?P<unit>[^\d.,].*)?", re.I
)
_READINGS = {
    ".": re.compile(r"(?:\d+|[1-9]\d{0,2}(?:([, '])\d{3})(?:\1\d{3})*)?(?:\.\d+)?(?:e[+-]?\d+)?", re.I),
    ",": re.compile(r"(?:\d+|[1-9]\d{0,2}(?:([. '])\d{3})(?:\1\d{3})*)?(?:,\d+)?", re.I),
}


@dataclass(frozen=True)
class Marks:
    """What a file's numbers say about its decimal mark.

    decimal  the mark, None without evidence or with evidence for both
    mixed    evidence for both marks stands in the file
    """

    decimal: str | None = None
    mixed: bool = False


def plain(text: str, repairs: Counter[str] | None = None) -> str:
    """*text* with ordinary spaces, quotes and minus sign; what was replaced is counted in *repairs*."""
    if text.isascii():
        return text
    if repairs is not None:
        if any(space in text for space in _SPACES):
            repairs["no-break space"] += 1
        if any(mark in text for mark in "’‘“”„"):
            repairs["curly quote"] += 1
        if text.translate(_MINUS) != text:
            repairs["minus sign"] += 1
    return text.translate(_PLAIN).translate(_MINUS).strip()


@lru_cache(maxsize=65536)
def readings(text: str) -> Mapping[str, float]:
    """What the digits of *text* can mean, by decimal mark; both marks where they agree."""
    match = _SHAPE.fullmatch(text)
    if match is None:
        return {}
    digits = match["digits"]
    values = {}
    for mark, pattern in _READINGS.items():
        if pattern.fullmatch(digits):
            bare = digits.replace(" ", "").replace("'", "")
            bare = bare.replace(",", "") if mark == "." else bare.replace(".", "").replace(",", ".")
            value = float(bare) * (-1.0 if match["sign"] == "-" else 1.0)
            if math.isfinite(value):
                values[mark] = value
    return values


def settle_marks(texts: Iterable[str]) -> Marks:
    """The decimal mark of a file, from all its numeric cells."""
    evidence: set[str] = set()
    for text in texts:
        if isinstance(text, Exact):
            continue
        values = readings(text if text.isascii() else plain(text))
        if len(values) == 1 and ("." in text or "," in text):
            evidence.update(values)
    if len(evidence) == 1:
        return Marks(evidence.pop())
    return Marks(None, mixed=len(evidence) == 2)


def unit_text(text: str) -> str:
    """What follows the number in *text*: "112.5 MB/s" gives "MB/s", a bare number ""."""
    match = _SHAPE.fullmatch(plain(text))
    return (match["unit"] or "").strip() if match else ""
