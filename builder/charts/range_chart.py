"""The range chart: how throughput fades with attenuation, or with the received level.

Lines join measured knots only, never across a gap; a bound carries an arrow upwards, a value at the device's own port
two bars; every line has its name on it. Windows stand as brackets under the axis, and what stands between at the spots
on steps below. Of two lines a second panel may show the difference, on the same axis.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

from builder.charts.figures import Figure, TableTwin, interval_text
from builder.charts.range_content import Content
from builder.charts.range_layout import laid_out
from builder.charts.range_lines import (
    Difference,
    DifferenceKnot,
    RangeKnot,
    RangeSeries,
    RangeWindow,
    RulerMark,
    ordered,
)
from builder.charts.range_template import AXIS_NAMES, AXIS_TITLES, NARROW, WIDE, Y_TITLE, AxisKind
from builder.charts.theme import series_numbers
from builder.wording import decibels

NOT_TESTED = "not tested"
NOT_COMPARED = "not compared"


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
    unit: str = "Mbit/s",
    windows: Sequence[RangeWindow] = (),
    difference: Difference | None = None,
) -> Figure:
    """The range chart of one to six lines.

    axis          "attenuation" [dB, growing to the right] or "level" [dBm, falling to the right]
    series        in order of their positions, which give hue, dash and shape
    ruler         places to name under the axis; those outside of the drawn range are left out
    notes         lines for under the chart
    shared_range  shaded where given and shorter than what is drawn, either end first [dB or dBm]
    max_gap_db    the longest stretch between two knots that is still drawn as a line [dB]
    unit          of the lines, in words
    windows       named stretches of the axis
    difference    of two lines, drawn below them
    Raises        ValueError for no series, more than six, one without knots, two knots of one series at the
                  same place, a value below 0, an interval that does not hold its value, or the difference of other
                  than two lines.
    """
    positions = series_numbers(len(series))
    if difference is not None and (len(series) != 2 or not difference.knots):
        raise ValueError(f"a difference is of two lines and has knots, got {len(series)} lines")
    lines = [ordered(one) for one in series]
    content = Content(
        title=title,
        axis=axis,
        lines=dict(zip(positions, lines, strict=True)),
        ruler=tuple(sorted(ruler, key=lambda mark: mark.x)),
        notes=tuple(notes),
        shared_range=shared_range,
        max_gap_db=max_gap_db,
        unit=unit,
        windows=tuple(windows),
        difference=difference,
    )
    return Figure(
        key=key,
        title=title,
        spec=laid_out(content, WIDE),
        spoken=spoken,
        table=_table(axis, lines, difference),
        notes=tuple(notes),
        narrow=laid_out(content, NARROW),
        drawn=partial(laid_out, content),
        plainer=None if difference is None else partial(laid_out, replace(content, difference=None)),
        parts=len(lines),
    )


def _table(axis: AxisKind, lines: Sequence[RangeSeries], difference: Difference | None) -> TableTwin:
    """One row per place, one column per line, in the order the axis is read."""
    headings = [line.label for line in lines]
    if len(set(headings)) < len(headings):
        headings = [f"{line.label}, {line.detail}" for line in lines]
    cells = [{_same(knot.x): _cell(knot) for knot in line.knots} for line in lines]
    missing = [NOT_TESTED] * len(lines) + [NOT_COMPARED]
    if difference is not None:
        headings.append(difference.heading)
        cells.append({_same(knot.x): _cell(knot) for knot in difference.knots})
    places = sorted({place for column in cells for place in column}, reverse=axis == "level")
    return TableTwin(
        caption=f"{Y_TITLE} at each {AXIS_NAMES[axis]}",
        columns=(AXIS_TITLES[axis], *headings),
        rows=tuple(
            (decibels(x), *(column.get(x, none) for column, none in zip(cells, missing, strict=False))) for x in places
        ),
    )


def _same(x: float) -> float:
    """A key that places share where they differ by less than SAME_PLACE."""
    return round(x, 8)


def _cell(knot: RangeKnot | DifferenceKnot) -> str:
    if knot.low is None or knot.high is None:
        return knot.text
    return f"{knot.text} ({interval_text(knot.low, knot.high, printed=knot.text)})"
