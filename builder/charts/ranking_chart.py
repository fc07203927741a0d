"""The ranking chart: where each value lies on one line of Mbit/s, how sure that is, and the ranks it leaves open.

Not a list of bars: a dot stands for the value, a line for its interval, an arrow to the right for a bound.
All have one hue, because order is shown by place and by text, never by colour.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin, interval_text
from builder.charts.placing import axis_end
from builder.charts.templates import template
from builder.charts.theme import GRID, GROUND, SERIES, TEXT, TEXT_MUTED, Layout, balanced, config, wrapped

# Widths that fit the same columns of a page as the range chart. Names stand left of the plot, on a phone above
# their line.
WIDE = Layout(plot_width=360, plot_height=0, label_width=176, text=13, note=12)
NARROW = Layout(plot_width=240, plot_height=0, label_width=0, text=12, note=11)
SIDE_GAP = 14
ROW_AIR = 14

CAP = "M0,-1L0,1"
ARROW_RIGHT = "M0.6,0L2.6,0M1.9,-0.6L2.7,0L1.9,0.6"
ARROW_ROOM = 1.06  # of a bound's value: its arrow stays inside of the plot


def side_width(layout: Layout) -> int:
    """Width of the column right of the plot. [px]"""
    return 128 if layout.label_width else 80


@dataclass(frozen=True, slots=True)
class RankBar:
    """One row.

    label       what stands there
    value       its value [unit of the figure]
    low, high   its interval, None where there is none [unit of the figure]
    bound       whether the value is only a lower bound
    rank_text   the ranks it may have, as printed: "rank 1 to 2"
    value_text  the value as it is printed everywhere else
    """

    label: str
    value: float
    low: float | None
    high: float | None
    bound: bool
    rank_text: str
    value_text: str


def ranking_figure(
    *, key: str, title: str, bars: Sequence[RankBar], unit: str, notes: Sequence[str], spoken: str
) -> Figure:
    """A dot with its interval for each row, in the order given.

    unit    of the values, the title of their axis
    notes   lines for under the chart
    Raises  ValueError without rows, for a value below 0, or for an interval that does not hold its value.
    """
    if not bars:
        raise ValueError("a ranking needs at least one row")
    for bar in bars:
        low, high = bar.low, bar.high
        if bar.value < 0:
            raise ValueError(f"{bar.label!r} is {bar.value:g}, expected a value from 0")
        if (low is not None and low > bar.value) or (high is not None and high < bar.value):
            raise ValueError(f"{bar.label!r}: {bar.value:g} lies outside of its interval {low} to {high}")
    return Figure(
        key=key,
        title=title,
        spec=_laid_out(title, bars, unit, notes, WIDE),
        spoken=spoken,
        table=TableTwin(
            caption=f"Values ({unit}), intervals and ranks",
            columns=("Name", f"Value ({unit})", f"Interval ({unit})", "Rank"),
            rows=tuple((bar.label, bar.value_text, _interval(bar), bar.rank_text) for bar in bars),
        ),
        notes=tuple(notes),
        narrow=_laid_out(title, bars, unit, notes, NARROW),
        drawn=partial(_laid_out, title, bars, unit, notes),
        parts=len(bars),
    )


def _interval(bar: RankBar) -> str:
    if bar.low is None or bar.high is None:
        return "lower bound" if bar.bound else "no interval"
    return interval_text(bar.low, bar.high, printed=bar.value_text)


def _laid_out(
    title: str, bars: Sequence[RankBar], unit: str, notes: Sequence[str], layout: Layout, shown: int | None = None
) -> Spec:
    """The specification for one layout. Heights are px from the top of the plot.

    Where the layout has a height, rows that do not fit below it are left out. *shown* of the others are drawn, the
    last one first; the axis is that of all.
    """
    line = layout.line_height
    side = side_width(layout)
    rows: list[dict[str, list[dict[str, Any]]]] = []
    fitting: list[RankBar] = []
    top = 4.0
    for bar in bars:
        name = balanced(bar.label, layout.label_width or layout.plot_width, layout.text, bold=True)
        rank = balanced(bar.rank_text, side, layout.text - 1)
        if layout.label_width:  # one line through the middles of name, dot and figures
            block = max(len(name), 1 + len(rank)) * line
            middle = top + block / 2
            name_top, side_top = middle - len(name) * line / 2, middle - (1 + len(rank)) * line / 2
        else:  # the dot below its name, beside the ranks
            block = max(len(name) + 1, 1 + len(rank)) * line
            middle = top + (len(name) + 0.5) * line
            name_top = side_top = top
        if layout.plot_height and rows and top + block > layout.plot_height:
            break
        low = None if bar.low is None else max(bar.low, 0.0)
        rows.append(
            {
                "spots": [{"at": middle, "value": bar.value, "low": low, "high": bar.high, "bound": bar.bound}],
                "names": [{"at": name_top + (i + 0.5) * line, "text": text} for i, text in enumerate(name)],
                "values": [{"at": side_top + 0.5 * line, "text": bar.value_text}],
                "ranks": [{"at": side_top + (i + 1.5) * line, "text": text} for i, text in enumerate(rank)],
            }
        )
        fitting.append(bar)
        top += block + ROW_AIR
    width = layout.label_width + layout.plot_width + SIDE_GAP + side
    foot = top + 20
    lines = [text for note in notes for text in wrapped(note, width, layout.note)]
    seen = rows if shown is None else rows[max(0, len(rows) - shown) :]

    spec: Spec = json.loads(built(layout, unit))
    spec["title"] = {"text": balanced(title, width, layout.text + 5, bold=True)}
    spec["height"] = round(top)
    spec["params"] = [
        {"name": "x_high", "value": axis_end(max(_right_end(bar) for bar in fitting))},
        {"name": "y_high", "value": round(top)},
    ]
    spec["datasets"] = {
        **{name: [entry for row in seen for entry in row[name]] for name in ("spots", "names", "values", "ranks")},
        "notes": [{"at": foot + i * (layout.note + 5), "text": text} for i, text in enumerate(lines)],
    }
    return spec


def _right_end(bar: RankBar) -> float:
    return max(bar.value * (ARROW_ROOM if bar.bound else 1), bar.high or 0.0)


@template
def built(layout: Layout, unit: str) -> str:
    """The grammar without data, built by Altair once per layout. Data sets:

    spots                 at, value, low, high, bound
    names, values, ranks  at, text
    notes                 at, text
    """
    import altair as alt  # a third of a second: only where charts are drawn

    hue = SERIES[0].light
    x_axis = alt.Axis(
        orient="top",
        title=unit,
        domain=False,
        format="d",
        labelFlush=False,
        labelOverlap=False,
        tickCount=5,
        tickMinStep=1,
        ticks=False,
    )
    x_scale = alt.Scale(domain=[0, alt.ExprRef("x_high")], nice=False)
    y_scale = alt.Scale(domain=[0, alt.ExprRef("y_high")], nice=False, reverse=True)
    y = alt.Y("at:Q", scale=y_scale, axis=None)

    def x(field: str) -> Any:
        return alt.X(f"{field}:Q", scale=x_scale, axis=x_axis)

    def data(name: str) -> Any:
        return alt.Chart(alt.NamedData(name))

    def text(name: str, place: Any, **look: Any) -> Any:
        mark = data(name).mark_text(align="left", baseline="middle", **look)
        return mark.encode(x=place, y=y, text="text:N")

    left = alt.value(-layout.label_width)
    side = alt.value(alt.ExprRef(f"width + {SIDE_GAP}"))
    small = layout.text - 1
    layers = [
        data("spots").mark_rule(color=GRID.light).encode(x=alt.value(0), x2=alt.value(alt.ExprRef("width")), y=y),
        data("spots").mark_rule(color=hue, strokeWidth=2).encode(x=x("low"), x2="high:Q", y=y),
        *(
            data("spots").mark_point(shape=CAP, filled=False, size=70, color=hue, opacity=1).encode(x=x(end), y=y)
            for end in ("low", "high")
        ),
        data("spots")
        .transform_filter("datum.bound")
        .mark_point(shape=ARROW_RIGHT, filled=False, size=200, strokeWidth=1.6, color=hue, opacity=1)
        .encode(x=x("value"), y=y),
        data("spots")
        .mark_point(filled=True, size=70, stroke=GROUND.light, strokeWidth=1, color=hue, opacity=1)
        .encode(x=x("value"), y=y),
        text("names", left, fontSize=layout.text, fontWeight="bold", color=TEXT.light),
        text("values", side, fontSize=layout.text, color=TEXT.light),
        text("ranks", side, fontSize=small, color=TEXT_MUTED.light),
        text("notes", left, fontSize=layout.note, color=TEXT_MUTED.light),
    ]
    chart = alt.layer(*layers).properties(width=layout.plot_width, height=100)
    chart = chart.add_params(*(alt.param(name=name, value=0) for name in ("x_high", "y_high")))
    spec: Spec = chart.to_dict()
    spec["config"] = config(layout)
    spec["background"] = GROUND.light
    spec["padding"] = 12
    return json.dumps(spec)
