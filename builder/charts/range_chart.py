"""The range chart: how throughput fades with attenuation, or with the received level.

Lines join measured knots only, never across a gap; a bound carries an arrow upwards; every line has its name at
its end. What stands between at the spots is a second ruler under the axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin, interval_text
from builder.charts.placing import axis_end, spread, stairs
from builder.charts.range_template import (
    AXIS_NAMES,
    AXIS_TITLES,
    KEY_START,
    Y_AXIS_WIDTH,
    Y_TITLE,
    AxisKind,
    range_template,
    text_start,
)
from builder.charts.theme import NARROW, WIDE, Layout, balanced, series_numbers, text_room, wrapped
from builder.wording import decibels

NOT_TESTED = "not tested"
SAME_PLACE = 1e-9  # dB: sums of measured decibels that differ by less are one place

# From the foot of the plot to what is written under it. [px]
BELOW_AXIS = 58
ARROW_ROOM = 1.08  # of a bound's value: its arrow stays inside of the plot


@dataclass(frozen=True, slots=True)
class RangeKnot:
    """One measured cell on a line.

    x          attenuation [dB], or received level [dBm] as it is printed, below 0
    value      throughput [Mbit/s]
    low, high  its interval, None where there is none [Mbit/s]
    bound      whether the value is only a lower bound
    text       the value as it is printed everywhere else
    """

    x: float
    value: float
    low: float | None
    high: float | None
    bound: bool
    text: str


@dataclass(frozen=True, slots=True)
class RangeSeries:
    """One line: what its label says in bold, what it says below that, and its knots in any order."""

    label: str
    detail: str
    knots: tuple[RangeKnot, ...]


@dataclass(frozen=True, slots=True)
class RulerMark:
    """What stands between at one place of the axis, as text. [dB or dBm]"""

    x: float
    text: str


def range_figure(
    *,
    key: str,
    title: str,
    axis: AxisKind,
    series: Sequence[RangeSeries],
    ruler: Sequence[RulerMark],
    notes: Sequence[str],
    spoken: str,
    shared_range: tuple[float, float] | None,
    max_gap_db: float = 12.0,
) -> Figure:
    """The range chart of one to six lines.

    axis          "attenuation" [dB, growing to the right] or "level" [dBm, falling to the right]
    series        in order of their positions, which give hue, dash and shape
    ruler         places to name under the axis; those outside of the drawn range are left out
    notes         lines for under the chart
    shared_range  shaded where given, either end first [dB or dBm]
    max_gap_db    the longest stretch between two knots that is still drawn as a line [dB]
    Raises        ValueError for no series, more than six, one without knots, two knots of one series at the
                  same place, a value below 0, or an interval that does not hold its value.
    """
    positions = series_numbers(len(series))
    lines = [_ordered(one) for one in series]
    content = _Content(title, axis, dict(zip(positions, lines, strict=True)), ruler, notes, shared_range, max_gap_db)
    return Figure(
        key=key,
        title=title,
        spec=_laid_out(content, WIDE),
        spoken=spoken,
        table=_table(axis, lines),
        notes=tuple(notes),
        narrow=_laid_out(content, NARROW),
        drawn=partial(_laid_out, content),
        parts=len(lines),
    )


@dataclass(frozen=True, slots=True)
class _Content:
    """What is drawn, before any size is known."""

    title: str
    axis: AxisKind
    lines: dict[str, RangeSeries]
    ruler: Sequence[RulerMark]
    notes: Sequence[str]
    shared_range: tuple[float, float] | None
    max_gap_db: float

    @property
    def x_limits(self) -> tuple[float, float]:
        """Drawn range: the knots and a little air, to whole numbers. [dB or dBm]"""
        places = [knot.x for line in self.lines.values() for knot in line.knots]
        return math.floor(min(places) - 1), math.ceil(max(places) + 1)

    @property
    def y_limit(self) -> float:
        """Upper end of y: room for the highest value, its interval and an arrow. [Mbit/s]"""
        knots = [knot for line in self.lines.values() for knot in line.knots]
        return axis_end(max(max(k.value * (ARROW_ROOM if k.bound else 1), k.high or 0.0) for k in knots))

    def end(self, line: RangeSeries) -> RangeKnot:
        """The knot where a line ends on the right."""
        return line.knots[-1] if self.axis == "attenuation" else line.knots[0]

    def pieces(self, line: RangeSeries) -> list[list[RangeKnot]]:
        """Knots joined by a line, ascending by place."""
        joined = [[line.knots[0]]]
        for before, knot in pairwise(line.knots):
            if knot.x - before.x > self.max_gap_db + SAME_PLACE:
                joined.append([])
            joined[-1].append(knot)
        return joined


def _ordered(series: RangeSeries) -> RangeSeries:
    """The series with its knots ascending by place, after checking them."""
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
    return RangeSeries(series.label, series.detail, knots)


def _table(axis: AxisKind, lines: Sequence[RangeSeries]) -> TableTwin:
    """One row per place, one column per line, in the order the axis is read."""
    headings = [line.label for line in lines]
    if len(set(headings)) < len(headings):
        headings = [f"{line.label}, {line.detail}" for line in lines]
    cells = [{_same(knot.x): _cell(knot) for knot in line.knots} for line in lines]
    places = sorted({_same(knot.x) for line in lines for knot in line.knots}, reverse=axis == "level")
    return TableTwin(
        caption=f"{Y_TITLE} at each {AXIS_NAMES[axis]}",
        columns=(AXIS_TITLES[axis], *headings),
        rows=tuple((decibels(x), *(column.get(x, NOT_TESTED) for column in cells)) for x in places),
    )


def _same(x: float) -> float:
    """A key that places share where they differ by less than SAME_PLACE."""
    return round(x, 8)


def _cell(knot: RangeKnot) -> str:
    if knot.low is None or knot.high is None:
        return knot.text
    return f"{knot.text} ({interval_text(knot.low, knot.high, printed=knot.text)})"


def _laid_out(content: _Content, layout: Layout, shown: int | None = None) -> Spec:
    """The specification of *content* for one layout; *shown* of its lines are drawn, the axes are those of all."""
    labels = [_label_lines(line, layout) for line in content.lines.values()]
    heights = [len(names + details) * layout.line_height + 4.0 for names, details in labels]
    height = max(float(layout.plot_height), sum(heights))
    scale = _Heights(content.y_limit, height)
    x_low, x_high = content.x_limits

    wanted = [scale.px(content.end(line).value) for line in content.lines.values()]
    centres = spread(wanted, heights, low=0.0, high=height)

    ruler, foot = _ruler(content, layout, scale)
    whole_width = Y_AXIS_WIDTH + layout.plot_width + text_start(layout) + layout.label_width
    notes = [line for note in content.notes for line in wrapped(note, whole_width, layout.note)]
    note_tops = [foot + 14 + row * (layout.note + 5) for row in range(len(notes))]

    spec = range_template(content.axis, layout)
    spec["title"] = {"text": balanced(content.title, whole_width, layout.text + 5, bold=True)}
    spec["height"] = round(height)
    spec["params"] = [
        {"name": "x_low", "value": x_low},
        {"name": "x_high", "value": x_high},
        {"name": "y_high", "value": content.y_limit},
    ]
    spec["datasets"] = {
        "shared": _shared(content),
        **_marks(content, shown),
        **_labels(content, labels, centres, layout, scale, shown),
        "ruler": ruler,
        "notes": [{"at": scale.value(top), "text": text} for top, text in zip(note_tops, notes, strict=True)],
    }
    return spec


@dataclass(frozen=True, slots=True)
class _Heights:
    """Between Mbit/s on y and px from the top of the plot."""

    y_limit: float
    height: float

    def px(self, value: float) -> float:
        return (1 - value / self.y_limit) * self.height

    def value(self, px: float) -> float:
        """Cut to a hundredth of a px, so that the specification stays short."""
        return round((1 - px / self.height) * self.y_limit, 2 + max(0, 2 - math.ceil(math.log10(self.y_limit))))


def _marks(content: _Content, shown: int | None) -> dict[str, list[dict[str, Any]]]:
    """Data sets of lines, knots, bounds and intervals."""
    knots: list[dict[str, Any]] = []
    bounds: list[dict[str, Any]] = []
    bands: list[dict[str, Any]] = []
    lone: list[dict[str, Any]] = []
    for number, line in list(content.lines.items())[:shown]:
        for index, piece in enumerate(content.pieces(line)):
            name = f"{number}.{index}"
            knots += [{"series": number, "piece": name, "x": knot.x, "value": knot.value} for knot in piece]
            bounds += [{"series": number, "x": knot.x, "value": knot.value} for knot in piece if knot.bound]
            for part, stretch in enumerate(_with_interval(piece)):
                rows = [
                    # An interval may reach below 0, a throughput does not.
                    {"series": number, "x": knot.x, "low": max(knot.low or 0.0, 0.0), "high": knot.high}
                    for knot in stretch
                ]
                if len(rows) == 1:
                    lone += rows
                else:
                    bands += [{**row, "piece": f"{name}.{part}"} for row in rows]
    return {"knots": knots, "bounds": bounds, "bands": bands, "lone": lone}


def _with_interval(piece: Sequence[RangeKnot]) -> Iterator[list[RangeKnot]]:
    """Stretches of neighbouring knots that all have an interval."""
    stretch: list[RangeKnot] = []
    for knot in piece:
        if knot.low is not None and knot.high is not None:
            stretch.append(knot)
        elif stretch:
            yield stretch
            stretch = []
    if stretch:
        yield stretch


def _shared(content: _Content) -> list[dict[str, Any]]:
    if content.shared_range is None:
        return []
    low, high = sorted(content.shared_range)
    left, right = (low, high) if content.axis == "attenuation" else (high, low)
    return [{"x": left, "x2": right, "text": "shared range"}]


def _label_lines(line: RangeSeries, layout: Layout) -> tuple[list[str], list[str]]:
    """A label's lines: the name in bold, the detail below."""
    names = balanced(line.label, layout.label_width, layout.text, bold=True)
    return names, balanced(line.detail, layout.label_width, layout.text - 1)


def _labels(
    content: _Content,
    labels: Sequence[tuple[list[str], list[str]]],
    centres: Sequence[float],
    layout: Layout,
    scale: _Heights,
    shown: int | None,
) -> dict[str, list[dict[str, Any]]]:
    """Data sets of the labels. The sample line stands before the first line of its label."""
    keys: list[dict[str, Any]] = []
    names: list[dict[str, Any]] = []
    details: list[dict[str, Any]] = []
    placed = list(zip(content.lines.items(), labels, centres, strict=True))
    for (number, line), (name, detail), centre in placed[:shown]:
        first = centre - (len(name + detail) - 1) * layout.line_height / 2
        rows = [
            {"at": scale.value(first + i * layout.line_height), "text": text} for i, text in enumerate(name + detail)
        ]
        end = content.end(line)
        keys.append({"series": number, "x": end.x, "value": end.value, "at": rows[0]["at"]})
        names += rows[: len(name)]
        details += rows[len(name) :]
    return {"labels": keys, "names": names, "details": details}


def _ruler(content: _Content, layout: Layout, scale: _Heights) -> tuple[list[dict[str, Any]], float]:
    """Data set of the second ruler, and how far down it reaches. [px]"""
    x_low, x_high = content.x_limits
    marks = [mark for mark in content.ruler if x_low <= mark.x <= x_high]
    top = scale.height + BELOW_AXIS
    if not marks:
        return [], top

    def place(x: float) -> float:
        share = (x - x_low) / (x_high - x_low)
        return layout.plot_width * (share if content.axis == "attenuation" else 1 - share)

    size = layout.text - 1
    starts = [place(mark.x) for mark in marks]
    rows = stairs(starts, [text_room(mark.text, size) for mark in marks], space=KEY_START)
    first = top + layout.line_height
    ruler = [
        {
            "x": mark.x,
            "top": scale.value(top),
            "at": scale.value(first + row * layout.line_height),
            "text": mark.text,
        }
        for mark, row in zip(marks, rows, strict=True)
    ]
    return ruler, first + (max(rows) + 1) * layout.line_height
