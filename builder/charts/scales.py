"""Scales with two literal ends, linear or logarithmic, and the ticks and labels of their axes.

Ticks are those of D3 (d3-array 3, `ticks`): multiples of 1, 2 or 5 times a power of ten.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from builder.charts.grammar import NotDrawn, Plot, must, only

_KNOWN = frozenset(("domain", "nice", "zero", "reverse", "type"))
# Where the step changes, as D3 has them.
_TEN, _FIVE, _TWO = math.sqrt(50), math.sqrt(10), math.sqrt(2)
_MINUS = "−"


@dataclass(frozen=True, slots=True)
class Scale:
    """From values to px: *low* lies at *start*, *high* at *end*."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool

    def __call__(self, value: float) -> float:
        if self.logarithmic:
            share = math.log(value / self.low) / math.log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)

    def on_axis(self, values: Sequence[float]) -> list[float]:
        """Those of *values* that lie on the axis."""
        first, last = sorted((math.floor(self.start), math.ceil(self.end)))
        return [value for value in values if first <= self(value) <= last]


def scale_of(given: dict[str, Any] | None, plot: Plot, *, across: bool, where: str) -> Scale:
    """The scale of a position channel. Raises NotDrawn for other than two literal ends."""
    if not given or "domain" not in given:
        raise NotDrawn(f"{where}.scale.domain is missing")
    only(given, _KNOWN, f"{where}.scale")
    must(given, "type", (None, "linear", "log"), f"{where}.scale")
    must(given, "nice", (None, False), f"{where}.scale")
    ends = given["domain"]
    if not isinstance(ends, list) or len(ends) != 2:
        raise NotDrawn(f"{where}.scale.domain is {ends!r}; drawn are two ends")
    low, high = (plot.literal(end, f"{where}.scale.domain") for end in ends)
    logarithmic = given.get("type") == "log"
    if given.get("zero") and not logarithmic and not min(low, high) <= 0 <= max(low, high):
        raise NotDrawn(f"{where}.scale.zero would change the domain {low} to {high}")
    if low == high or (logarithmic and min(low, high) <= 0):
        raise NotDrawn(f"{where}.scale.domain is {low} to {high}, which has no length")
    start, end = (0.0, plot.width) if across else (plot.height, 0.0)
    if given.get("reverse"):
        start, end = end, start
    return Scale(low, high, start, end, logarithmic)


def ticks(low: float, high: float, count: float) -> tuple[list[float], float]:
    """About *count* round numbers from *low* to *high*, and their step."""
    if count <= 0:
        return [], 1.0
    if low > high:
        numbers, step = ticks(high, low, count)
        return numbers[::-1], step
    first, last, step = _spec(low, high, count)
    # A step below 1 is kept as its inverse, for 3 / 10 is nearer to 0.3 than 3 * 0.1 is.
    numbers = [i / -step if step < 0 else i * step for i in range(first, last + 1)]
    return numbers, (1 / -step if step < 0 else step)


def _spec(low: float, high: float, count: float) -> tuple[int, int, float]:
    rough = (high - low) / max(0, count)
    power = math.floor(math.log10(rough))
    error = rough / 10.0**power
    factor = 10 if error >= _TEN else 5 if error >= _FIVE else 2 if error >= _TWO else 1
    if power < 0:
        step = 10.0**-power / factor
        first, last = _half_up(low * step), _half_up(high * step)
        first, last = first + (first / step < low), last - (last / step > high)
        step = -step
    else:
        step = 10.0**power * factor
        first, last = _half_up(low / step), _half_up(high / step)
        first, last = first + (first * step < low), last - (last * step > high)
    if last < first and 0.5 <= count < 2:
        return _spec(low, high, count * 2)
    return first, last, step


def _half_up(value: float) -> int:
    return math.floor(value + 0.5)


def tick_count(asked: float, low: float, high: float, least_step: float | None) -> float:
    """How many ticks are tried for where they must not be nearer than *least_step*."""
    if least_step is None:
        return asked
    return min(asked, math.floor(abs(high - low) / least_step or 1) + 1)


def _whole(value: float) -> str:
    return _signed(f"{_half_up(abs(value)):d}", value)


def _grouped(value: float) -> str:
    return _signed(f"{_half_up(abs(value)):,d}", value)


def _signed(digits: str, value: float) -> str:
    return f"{_MINUS}{digits}" if value < 0 and digits.strip("0.,") else digits


def _shortest(value: float) -> str:
    """Six significant digits without idle zeros: d3-format's "~g"."""
    return _signed(f"{abs(value):g}", value)


def _duration(value: float) -> str:
    return f"{_shortest(value)} ms" if value < 1000 else f"{_shortest(value / 1000)} s"


# What axes of ours ask for, as d3-format and Vega's expressions write it.
FORMATS: dict[str, Callable[[float], str]] = {
    "d": _whole,
    ",d": _grouped,
    ".1f": lambda value: _signed(f"{abs(value):.1f}", value),
    ".2f": lambda value: _signed(f"{abs(value):.2f}", value),
}
EXPRESSIONS: dict[str, Callable[[float], str]] = {
    "datum.value < 1000 ? format(datum.value, '~g') + ' ms' : format(datum.value / 1000, '~g') + ' s'": _duration
}


def by_step(step: float) -> Callable[[float], str]:
    """How an axis without a format writes its numbers: with as many decimals as its *step* has."""
    decimals = max(0, -math.floor(math.log10(step) + 1e-12))
    return lambda value: _signed(f"{abs(value):,.{decimals}f}", value)
