"""What stands on the time axis of the waiting chart: bars, their lines on to 99 %, and what is hatched.

Times in ms, places in px from the plot's left edge and from its top.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from builder.charts.waiting_rows import WaitingRow, Within
from builder.charts.waiting_template import END_GAP, END_WIDTH
from builder.wording import duration

BAR = 18  # height of a bar [px]
WHISKER = 8  # half the height of a tick [px]
LEAST_END = 4  # of the hatched piece at the edge [px]
HATCH = 6  # from one stroke to the next [px]
TICK_PX = 40  # for a number on the axis

Sets = dict[str, list[dict[str, Any]]]


@dataclass(frozen=True, slots=True)
class TimeAxis:
    """The time axis: ms to px and back. A place below its start, such as 0 ms, is drawn at the start."""

    low: float
    high: float
    width: int

    def px(self, ms: float) -> float:
        return math.log(max(ms, self.low) / self.low) / math.log(self.high / self.low) * self.width

    def ms(self, px: float) -> float:
        return float(f"{self.low * (self.high / self.low) ** (px / self.width):.5g}")

    def held(self, ms: float) -> float:
        return max(ms, self.low)

    @property
    def ticks(self) -> list[float]:
        """Places with a number: powers of ten; where there are hardly any, and there is room, 2 and 5 as well. [ms]"""
        first, last = math.floor(math.log10(self.low)), math.ceil(math.log10(self.high))
        powers = [10.0**n for n in range(first, last + 1)]
        ticks = [t for t in powers if self.low * 0.999 <= t <= self.high * 1.001]
        if len(ticks) < 3:
            steps = [d * t for t in powers for d in (1, 2, 5)]
            ticks = [float(f"{t:.5g}") for t in steps if self.low * 0.999 <= t <= self.high * 1.001]
        room = max(1, self.width // TICK_PX)
        return ticks[:: math.ceil(len(ticks) / room)]


def nice_step(value: float, *, up: bool) -> float:
    """The next of 1, 2, 5 and their tenfold, not below *value* or not above it."""
    power = math.floor(math.log10(value))
    steps = [float(f"{d}e{power + p}") for p in (-1, 0, 1) for d in (1, 2, 5)]
    return min(s for s in steps if s >= value) if up else max(s for s in steps if s <= value)


def bars_of(row: WaitingRow, number: int, bar: float, axis: TimeAxis) -> Sets:
    """Everything of one row that stands on the time axis. bar: middle of its bar. [px]"""
    names = ("grid", "bars", "open", "edges", "whiskers", "beyond", "ticks", "dots", "lost", "hatches", "ends")
    sets: Sets = {name: [] for name in (*names, "counts", "missed", "words", "asides")}
    if not row.planned:
        return sets
    upper, lower = short(bar - BAR / 2), short(bar + BAR / 2)
    sets["grid"] = [{"t": t, "at": upper - 3, "at2": lower + 3} for t in axis.ticks]
    target = next((mark.ms for mark in row.marks if not mark.good), math.inf)
    half, most, nearly_all = (row.percentiles[p] for p in (50, 90, 99))
    begun = row.slowest_ms if most.ms is None else most.ms

    def hue(ms: float) -> str:
        return "late" if ms > target else "in time"

    if half.thin:
        sets["dots"] = [
            {"row": number, "t": axis.held(ms), "at": bar, "hue": hue(ms), "words": f"answered in {duration(ms)}"}
            for ms in row.answers_ms
        ]
    elif half.ms is not None and begun is not None:
        words = f"50 % within {duration(half.ms)}, "
        words += "90 % never answered" if most.ms is None else f"90 % within {duration(most.ms)}"
        pieces = [
            {"row": number, "t": a, "t2": b, "at": upper, "at2": lower, "hue": side, "words": words}
            for a, b, side in _pieces(axis.held(half.ms), axis.held(begun), target)
        ]
        sets["open" if most.thin else "bars"] = pieces
        if most.thin:
            sets["edges"] = [
                {"t": piece["t"], "t2": piece["t2"], "at": edge, "hue": piece["hue"]}
                for piece in pieces
                for edge in (upper, lower)
            ]
    if most.ms is None:
        start = axis.low if row.slowest_ms is None else axis.held(row.slowest_ms)
        end = END_GAP + axis.width + END_WIDTH - axis.px(start)
        sets["lost"] = [{"t": start, "at": upper, "at2": lower}]
        sets["hatches"] = [{"t": start, "at": upper, "path": _hatching(end)}]
        return sets
    if row.lost_share:
        end = LEAST_END + (END_WIDTH - LEAST_END) * row.lost_share
        sets["ends"] = [{"at": upper, "path": _hatching(end) + f"M0,0H{short(end)}V{BAR}H0Z"}]
    _whisker(sets, number, most.ms, nearly_all, bar, axis, target)
    return sets


def _whisker(sets: Sets, number: int, start: float, last: Within, bar: float, axis: TimeAxis, target: float) -> None:
    """From 90 % on to a tick at 99 %, or to the right edge where 99 % were never answered."""
    begun = axis.held(start)
    if last.ms is None:
        on_time = [p for p in _pieces(begun, axis.high, target) if p[2] == "in time"]
        sets["whiskers"] = [{"t": a, "t2": b, "at": bar, "hue": side} for a, b, side in on_time]
        late = on_time[-1][1] if on_time else begun
        sets["beyond"] = [{"t": late, "at": bar, "hue": "in time" if target == math.inf else "late"}]
    elif not last.thin:
        pieces = _pieces(begun, axis.held(last.ms), target)
        sets["whiskers"] = [{"t": a, "t2": b, "at": bar, "hue": side} for a, b, side in pieces]
        sets["ticks"] = [
            {
                "row": number,
                "t": axis.held(last.ms),
                "at": bar - WHISKER,
                "at2": bar + WHISKER,
                "hue": "late" if last.ms > target else "in time",
                "words": f"99 % within {duration(last.ms)}",
            }
        ]


def _pieces(start: float, end: float, target: float) -> list[tuple[float, float, str]]:
    """A stretch of time cut at the target. [ms]"""
    if end <= target:
        return [(start, end, "in time")]
    if start >= target:
        return [(start, end, "late")]
    return [(start, target, "in time"), (target, end, "late")]


def _hatching(width: float) -> str:
    """Strokes from lower left to upper right over a piece as high as a bar, as an SVG path. [px]"""
    return "".join(_strokes(width))


def _strokes(width: float) -> Iterator[str]:
    for foot in range(HATCH // 2 - BAR, math.ceil(width), HATCH):
        left, right = max(foot, 0), min(foot + BAR, width)
        if left < right:
            yield f"M{short(left)},{short(BAR - (left - foot))}L{short(right)},{short(BAR - (right - foot))}"


def short(px: float) -> float:
    """A place to a tenth of a px, which nobody sees."""
    return round(px, 1)
