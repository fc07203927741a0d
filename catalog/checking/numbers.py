"""Numbers as people and spreadsheets write them. Which mark is the decimal one is settled by evidence, per file.

A text is tried with the point and with the comma as decimal mark. Where only one reading is possible it
is evidence for the whole file ("812,5"; "1.024,0"); where both are and differ ("1.024") the evidence of
the other cells decides, and without any the number is refused with both readings.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from catalog.checking.troubles import Trouble
from catalog.reading.rawtable import Exact
from catalog.units import Unit, convert, possible_units

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


def read_number(text: str, marks: Marks) -> float | Trouble:
    """The number at the start of *text*, whatever unit follows."""
    if isinstance(text, Exact):
        readings_by_mark: Mapping[str, float] = {".": float(text)} if math.isfinite(float(text)) else {}
    else:
        readings_by_mark = readings(plain(text))
    if not readings_by_mark:
        return Trouble(f"{text!r} is not a number.", "Write digits, with a unit where one is needed.", "not-a-number")
    values = set(readings_by_mark.values())
    if len(values) == 1:
        return values.pop()
    if marks.decimal is not None:
        return readings_by_mark[marks.decimal]
    point, comma = readings_by_mark["."], readings_by_mark[","]
    reason = "The file uses both marks as decimal mark" if marks.mixed else "Nothing else in the file tells"
    return Trouble(
        f"{_shown(max(point, comma, key=abs))} or {_shown(min(point, comma, key=abs))}? {reason}.",
        "Write it without a thousands mark, or with decimals.",
        "two-readings",
    )


def _shown(value: float) -> str:
    return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"


def unit_text(text: str) -> str:
    """What follows the number in *text*: "112.5 MB/s" gives "MB/s", a bare number ""."""
    match = _SHAPE.fullmatch(plain(text))
    return (match["unit"] or "").strip() if match else ""


def read_unit(text: str, wanted: Unit) -> Unit | Trouble:
    """The unit that *text* names, of the same quantity as *wanted*."""
    units = possible_units(text)
    if not units:
        return Trouble(
            f"{text!r}, which follows the number, is no unit that is known.",
            f"Write it in {wanted.name}.",
            "unknown-unit",
        )
    fitting = [unit for unit in units if unit.quantity == wanted.quantity]
    if not fitting:
        return Trouble(
            f"{text!r}, which follows the number, is a unit of {units[0].quantity}; {wanted.quantity} is wanted.",
            f"Write it in {wanted.name}.",
            "wrong-unit",
        )
    if len(fitting) > 1:
        names = " or ".join(unit.name for unit in fitting)
        return Trouble(f"{text!r} can mean {names}.", "Write one of the two.", "two-units")
    return fitting[0]


def read_quantity(text: str, marks: Marks, *, wanted: Unit | None, header: Unit | None) -> float | Trouble:
    """The number in *text* in the unit *wanted*: in the cell's unit if it has one, else in the header's."""
    value = read_number(text, marks)
    if isinstance(value, Trouble):
        return value
    typed_unit = "" if isinstance(text, Exact) else unit_text(text)
    if wanted is None:
        if typed_unit:
            return Trouble(f"{text!r} has a unit where a bare number belongs.", "Write the number alone.", "unit")
        return value
    unit: Unit | Trouble = read_unit(typed_unit, wanted) if typed_unit else (header or wanted)
    if isinstance(unit, Trouble):
        return unit
    return value if unit == wanted else convert(value, unit, wanted)


def is_unit(text: str, wanted: Unit) -> bool:
    """Whether *text* is nothing but a unit of the wanted quantity."""
    return isinstance(read_unit(text, wanted), Unit)
