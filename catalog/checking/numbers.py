"""Numbers and their units in the cells of tables, by the decimal mark of their file (`reading.decimal_marks`).

A number with two readings that nothing in its file settles is refused with both.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from catalog.checking.troubles import Trouble
from catalog.reading.decimal_marks import Marks, plain, readings, unit_text
from catalog.reading.rawtable import Exact
from catalog.units import Unit, convert, possible_units

# As the cells of a workbook that holds dates are read.
_A_DATE = re.compile(r"\d{4}-\d\d-\d\d(?: |T|$)")


def read_number(text: str, marks: Marks) -> float | Trouble:
    """The number at the start of *text*, whatever unit follows."""
    if isinstance(text, Exact):
        readings_by_mark: Mapping[str, float] = {".": float(text)} if math.isfinite(float(text)) else {}
    else:
        readings_by_mark = readings(plain(text))
    if _A_DATE.match(text):
        return Trouble(
            f"{text!r} is a date, where a number is wanted.",
            "Spreadsheet programs make dates of numbers such as 1.2: format the column as numbers and type it again.",
            "date-for-number",
        )
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
