"""What stands on the time axis of the waiting chart: bars, their lines on to 99 %, and what is hatched.

Times in ms, places in px from the plot's left edge and from its top.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from builder.charts.stacking import Sets, short
from builder.charts.theme import text_room
from builder.charts.waiting_rows import WaitingRow, Within
from builder.charts.waiting_template import END_GAP, END_WIDTH
from builder.wording import duration

LEAST_END = 4  # of the hatched piece at the edge [px]
HATCH = 6  # from one stroke to the next [px]
TICK_AIR = 6  # between the words of two ticks [px]


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

    def ticks(self, size: float) -> list[float]:
        """Places with a number: 1, 2, 5 and their tenfold, or so few of these that their words do not meet. [ms]

        size  of these words. [px]
        """
        powers = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
        every = [float(f"{digit}e{power}") for power in powers for digit in (1, 2, 5)]
        for thinned in (
            every,
            [t for n, t in enumerate(every) if n % 3 != 1],
            *(every[:: 3 * n] for n in range(1, len(powers) + 1)),
        ):
            ticks = [t for t in thinned if self.low * 0.999 <= t <= self.high * 1.001]
            # The first and the last stand inside of the axis, which may push them onto their neighbours.
            for some in (ticks, ticks[1:], ticks[:-1], ticks[1:-1]):
                if len(some) > 1 and self._apart(some, size):
                    return some
        return ticks[:1]

    def _apart(self, ticks: Sequence[float], size: float) -> bool:
        """Whether the words of ticks have air between them; at either end they stand inside of the axis."""
        end = -math.inf
        for tick in ticks:
            wide = text_room(duration(tick, exact=True), size)
            left = min(max(self.px(tick) - wide / 2, 0.0), self.width - wide)
            if left < end + TICK_AIR:
                return False
            end = left + wide
        return True


def axis_numbers(axis: TimeAxis, ticks: Sequence[float], size: float, at: float) -> Sets:
    """The words of ticks under the axis, none of which leaves it. size: of text; at: their height. [px]"""
    sets: Sets = {"starts": [], "numbers": [], "ends_of_axis": []}
    for tick in ticks:
        text = duration(tick, exact=True)
        half = text_room(text, size) / 2
        if axis.px(tick) < half:
            sets["starts"].append({"at": short(at), "text": text})
        elif axis.px(tick) > axis.width - half:
            sets["ends_of_axis"].append({"at": short(at), "text": text})
        else:
            sets["numbers"].append({"t": tick, "at": short(at), "text": text})
    return sets


def nice_step(value: float, *, up: bool) -> float:
    """The next of 1, 2, 5 and their tenfold, not below *value* or not above it."""
    power = math.floor(math.log10(value))
    steps = [float(f"{d}e{power + p}") for p in (-1, 0, 1) for d in (1, 2, 5)]
    return min(s for s in steps if s >= value) if up else max(s for s in steps if s <= value)


def bars_of(row: WaitingRow, number: int, axis: TimeAxis, *, top: float, high: int, ticks: Sequence[float]) -> Sets:
    """Everything of one row that stands on the time axis. top, high: of its bar. [px]"""
    names = ("grid", "bars", "open", "edges", "whiskers", "beyond", "ticks", "dots", "lost", "hatches", "ends")
    sets: Sets = {name: [] for name in (*names, "counts", "missed", "words", "asides")}
    if not row.planned:
        return sets
    upper, bar, lower = short(top), short(top + high / 2), short(top + high)
    sets["grid"] = [{"t": t, "at": upper - 3, "at2": lower + 3} for t in ticks]
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
        sets["hatches"] = [{"t": start, "at": upper, "path": _hatching(end, high)}]
        return sets
    if row.lost_share:
        end = LEAST_END + (END_WIDTH - LEAST_END) * row.lost_share
        sets["ends"] = [{"at": upper, "path": _hatching(end, high) + f"M0,0H{short(end)}V{high}H0Z"}]
    _whisker(sets, number, most.ms, nearly_all, bar, high * 0.45, axis, target)
    return sets


def _whisker(
    sets: Sets, number: int, start: float, last: Within, bar: float, tick: float, axis: TimeAxis, target: float
) -> None:
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
                "at": short(bar - tick),
                "at2": short(bar + tick),
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


def _hatching(width: float, high: int) -> str:
    """Strokes from lower left to upper right over a piece as high as a bar, as an SVG path. [px]"""
    return "".join(_strokes(width, high))


def _strokes(width: float, high: int) -> Iterator[str]:
    for foot in range(HATCH // 2 - high, math.ceil(width), HATCH):
        left, right = max(foot, 0), min(foot + high, width)
        if left < right:
            yield f"M{short(left)},{short(high - (left - foot))}L{short(right)},{short(high - (right - foot))}"
