"""What a range chart is made of: lines with their knots, windows, what stands between, and the difference of two lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal, Protocol, TypeVar

from builder.charts.label_text import LabelText

SAME_PLACE = 1e-9  # dB: sums of measured decibels that differ by less are one place


@dataclass(frozen=True, slots=True)
class RangeKnot:
    """One measured cell on a line.

    x          attenuation [dB], or received level [dBm] as it is printed, below 0
    value      throughput [Mbit/s]
    low, high  its interval, None where there is none [Mbit/s]
    bound      whether the value is only a lower bound
    text       the value as it is printed everywhere else
    at_port    whether the device's own port held it back
    """

    x: float
    value: float
    low: float | None
    high: float | None
    bound: bool
    text: str
    at_port: bool = False


@dataclass(frozen=True, slots=True)
class RangeSeries:
    """One line.

    label   what it is called in the table
    detail  what tells it from another of the same label there
    knots   in any order
    names   what may stand on it, from the longest to the shortest; the label where there are none
    """

    label: str
    detail: str
    knots: tuple[RangeKnot, ...]
    names: tuple[LabelText, ...] = ()

    @property
    def forms(self) -> tuple[LabelText, ...]:
        return self.names or (LabelText("", self.label),)


@dataclass(frozen=True, slots=True)
class RulerMark:
    """What stands between at one place of the axis, as text. [dB or dBm]"""

    x: float
    text: str


@dataclass(frozen=True, slots=True)
class RangeWindow:
    """A stretch of the axis that has a name; *short* where there is no room for it. [dB]"""

    low: float
    high: float
    text: str
    short: str


@dataclass(frozen=True, slots=True)
class DifferenceKnot:
    """The difference of two lines at one place.

    x          as of a `RangeKnot`
    value      first line minus second [Mbit/s]
    low, high  its interval, None where there is none [Mbit/s]
    bound      whether it is only a least or a most value
    measured   whether both were measured there; else one of them is its joined line
    text       the value as it is printed
    """

    x: float
    value: float
    low: float | None
    high: float | None
    bound: Literal["least", "most"] | None
    measured: bool
    text: str


@dataclass(frozen=True, slots=True)
class Difference:
    """The second panel: the first line minus the second.

    heading  names both: "Cupola minus Rondel 4"
    total    over all of the shared range, in words
    below    what a value below zero means, from the longest form to the shortest: "below the line: Rondel 4 gives more"
    knots    in any order
    """

    heading: str
    total: str
    below: tuple[str, ...]
    knots: tuple[DifferenceKnot, ...]


class _Knot(Protocol):
    @property
    def x(self) -> float: ...
    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...


K = TypeVar("K", bound=_Knot)


def ordered(series: RangeSeries) -> RangeSeries:
    """The series with its knots ascending by place, after checking them.

    Raises  ValueError for no knots, two at the same place, a value below 0 or outside of its interval.
    """
    knots = tuple(sorted(series.knots, key=lambda knot: knot.x))
    if not knots:
        raise ValueError(f"{series.label!r} has no knots")
    for before, knot in pairwise(knots):
        if knot.x - before.x <= SAME_PLACE:
            raise ValueError(f"{series.label!r} has two knots at {knot.x:g}: average them first")
    for knot in knots:
        low, high = knot.low, knot.high
        if knot.value < 0:
            raise ValueError(f"{series.label!r} is {knot.value:g} at {knot.x:g}, expected a value from 0")
        if (low is not None and low > knot.value) or (high is not None and high < knot.value):
            raise ValueError(f"{series.label!r}: {knot.value:g} lies outside of its interval {low} to {high}")
    return replace(series, knots=knots)


def joined(knots: Sequence[K], max_gap_db: float) -> list[list[K]]:
    """Knots that are joined by a line, ascending by place."""
    pieces = [[knots[0]]]
    for before, knot in pairwise(knots):
        if knot.x - before.x > max_gap_db + SAME_PLACE:
            pieces.append([])
        pieces[-1].append(knot)
    return pieces


def with_interval(piece: Sequence[K]) -> Iterator[list[K]]:
    """Stretches of neighbouring knots that all have an interval."""
    stretch: list[K] = []
    for knot in piece:
        if knot.low is not None and knot.high is not None:
            stretch.append(knot)
        elif stretch:
            yield stretch
            stretch = []
    if stretch:
        yield stretch
