"""What a range chart shows, before any size is known, and places on its axis."""

from __future__ import annotations

import math
from dataclasses import dataclass

from builder.charts.placing import axis_end
from builder.charts.range_lines import Difference, RangeSeries, RangeWindow, RulerMark
from builder.charts.range_template import AxisKind

ARROW_ROOM = 1.08  # of a bound's value: its arrow stays inside of the plot, and so does the double bar of a port


@dataclass(frozen=True, slots=True)
class Content:
    """What is drawn, before any size is known."""

    title: str
    axis: AxisKind
    lines: dict[str, RangeSeries]
    ruler: tuple[RulerMark, ...]
    notes: tuple[str, ...]
    shared_range: tuple[float, float] | None
    max_gap_db: float
    unit: str
    windows: tuple[RangeWindow, ...]
    difference: Difference | None

    @property
    def places(self) -> list[float]:
        return [knot.x for line in self.lines.values() for knot in line.knots]

    @property
    def x_limits(self) -> tuple[float, float]:
        """Drawn range: the knots and a little air, to whole numbers. [dB or dBm]"""
        return math.floor(min(self.places) - 1), math.ceil(max(self.places) + 1)

    @property
    def y_limit(self) -> float:
        """Upper end of y: room for the highest value, its interval and an arrow. [Mbit/s]"""
        knots = [knot for line in self.lines.values() for knot in line.knots]
        return axis_end(max(max(k.value * (ARROW_ROOM if k.bound or k.at_port else 1), k.high or 0.0) for k in knots))


@dataclass(frozen=True, slots=True)
class Across:
    """Between a place of the axis and px from the plot's left edge."""

    low: float
    high: float
    width: float
    falling: bool

    def px(self, x: float) -> float:
        share = (x - self.low) / (self.high - self.low)
        return self.width * (1 - share if self.falling else share)

    def at(self, px: float) -> float:
        share = px / self.width
        return round(self.low + (self.high - self.low) * (1 - share if self.falling else share), 4)
