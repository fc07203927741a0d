"""Numbers, intervals, dates and names as text: the only place that rounds.

Rounding happens after computing, half away from zero, in decimal arithmetic (method.md 12), so that a
page, a table, an image and a download show the same digits. Text carries a true minus sign (U+2212).
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal

MINUS = "\u2212"
THIN = "\u202f"  # between a number and its unit's per-cent sign
AT_LEAST = "≥"


def rounded(value: float, decimals: int) -> Decimal:
    """*value* with that many decimals, halves away from zero. The float's shortest text is what is rounded."""
    return Decimal(repr(float(value))).quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)


def number(value: float, decimals: int, *, signed: bool = False) -> str:
    """A number as text; *signed* writes a plus, too. Zero has no sign."""
    result = rounded(value, decimals)
    sign = MINUS if result < 0 else "+" if signed and result > 0 else ""
    return f"{sign}{abs(result):.{decimals}f}"


def trimmed(value: float, decimals: int) -> str:
    """A number as text without zeros at its end: 45, 62.5."""
    text = number(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def rate_decimals(*values: float) -> int:
    """Decimals for rates shown together [Mbit/s]: none when all are 100 or more, else one."""
    return 0 if min(abs(value) for value in values) >= 100 else 1


def rate(value: float, *, bound: bool = False, decimals: int | None = None) -> str:
    """A throughput [Mbit/s] without its unit: "544", "98.4", "≥ 925"."""
    text = number(value, rate_decimals(value) if decimals is None else decimals)
    return f"{AT_LEAST} {text}" if bound else text


def rate_difference(value: float, *, decimals: int) -> str:
    """A signed difference of rates [Mbit/s] in the decimals of its pair."""
    return number(value, decimals, signed=True)


def between(low: float, high: float, decimals: int, *, signed: bool = False) -> str:
    """An interval in words: "26 to 94"."""
    return f"{number(low, decimals, signed=signed)} to {number(high, decimals, signed=signed)}"


def decibels(value: float) -> str:
    """A loss or a level without its unit, one decimal, none where it is whole: 70, 69.6, −54."""
    return trimmed(value, 1)


def db_range(low: float, high: float) -> str:
    """A range of losses, "45–60"; a single value where both ends print the same."""
    first, last = decibels(low), decibels(high)
    return first if first == last else f"{first}–{last}"


def dbm_range(low: float, high: float) -> str:
    """A range of levels, lower first: "−57 to −43"."""
    first, last = decibels(low), decibels(high)
    return first if first == last else f"{first} to {last}"


def percent(value: float, *, signed: bool = False) -> str:
    """A fraction as per cent with one decimal: 0.321 is "32.1 %"."""
    return f"{number(value * 100, 1, signed=signed)} %"


def ratio(value: float) -> str:
    """A ratio, three decimals."""
    return number(value, 3)


def milliseconds(value: float) -> str:
    """A duration [ms] without its unit: whole from 100, one decimal below."""
    return number(value, 0 if abs(value) >= 100 else 1)


def width(mhz: int) -> str:
    """A channel width."""
    return f"{mhz} MHz"


def band(name: str) -> str:
    """A band as the trade says it: "5 GHz", "5 + 6 GHz"."""
    return f"{name.replace('+', ' + ')} GHz"


def count(number_of: int, one: str, many: str | None = None) -> str:
    """ "1 repeat", "3 repeats"."""
    return f"{number_of} {one if number_of == 1 else many or one + 's'}"


def listing(items: Sequence[str], last: str = "and") -> str:
    """ "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def conditions(
    *,
    band_name: str,
    width_mhz: int,
    direction: str,
    protocol: str | None = None,
    flows: int | None = None,
    security: str | None = None,
) -> str:
    """The link of a group in words: "5 GHz, 80 MHz, down, tcp, 4 flows"; what is not stated is left out."""
    parts = [band(band_name), width(width_mhz), direction]
    parts += [protocol] if protocol else []
    parts += [count(flows, "flow")] if flows else []
    parts += [security] if security else []
    return ", ".join(parts)
