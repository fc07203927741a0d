"""The ranking chart: where each value lies on one line of Mbit/s, how sure that is, and the ranks it leaves open.

Not a list of bars: a dot stands for the value, a line for its interval, an arrow to the right for a bound.
All have one hue, because order is shown by place and by text, never by colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin, interval_text
from builder.charts.placing import axis_end
from builder.charts.ranking_template import ranking_template
from builder.charts.stacking import Sets, lines
from builder.charts.theme import Layout, balanced, held, text_room, wrapped

# Names stand left of the plot, on a phone above their line. The plot takes what they and the figures leave of the width.
WIDE = Layout(plot_width=0, plot_height=0, label_width=240, text=15, note=13)
NARROW = Layout(plot_width=0, plot_height=0, label_width=0, text=14, note=13)
COLUMN, PHONE = 836, 340  # whole widths: of a page's column, and of a phone [px]

AIR = 10  # between two columns
ROW_AIR = 18  # of a row besides its text
DOT_ROOM = 24  # of a dot below its name
EDGES = 5, 22  # of the plot of a phone: half a dot, and half of the axis' last number
NAME_EDGE = 6.0  # of a name from the axis below it
SIDE_GAP = 26  # from a plot to the figures right of it
MOST_RANK = 150  # of the ranks, which otherwise go on below each other
FOOT = 42  # from the last row to the lines under the chart
ARROW_ROOM = 1.06  # of a bound's value: its arrow stays inside of the plot


@dataclass(frozen=True, slots=True)
class RankBar:
    """One row.

    maker, model  what stands there; the maker may be empty
    value         its value [unit of the figure]
    low, high     its interval, None where there is none [unit of the figure]
    bound         whether the value is only a lower bound
    rank_text     the ranks it may have, as printed: "1st to 2nd of 6"
    value_text    the value as it is printed everywhere else
    rank_short    the ranks under a head that says "rank": "1–2"
    """

    maker: str
    model: str
    value: float
    low: float | None
    high: float | None
    bound: bool
    rank_text: str
    value_text: str
    rank_short: str

    @property
    def label(self) -> str:
        return f"{self.maker} {self.model}".strip()


def ranking_figure(
    *, key: str, title: str, bars: Sequence[RankBar], unit: str, notes: Sequence[str], spoken: str
) -> Figure:
    """A dot with its interval for each row, in the order given.

    unit    of the values
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
        spec=_filling(COLUMN, title, bars, unit, notes, WIDE),
        spoken=spoken,
        table=TableTwin(
            caption=f"Values ({unit}), intervals and ranks",
            columns=("Name", f"Value ({unit})", f"Interval ({unit})", "Rank"),
            rows=tuple((bar.label, bar.value_text, _interval(bar), bar.rank_text) for bar in bars),
        ),
        notes=tuple(notes),
        narrow=_filling(PHONE, title, bars, unit, notes, NARROW),
        drawn=partial(_laid_out, title, bars, unit, notes),
        parts=len(bars),
    )


def _interval(bar: RankBar) -> str:
    if bar.low is None or bar.high is None:
        return "lower bound" if bar.bound else "no interval"
    return interval_text(bar.low, bar.high, printed=bar.value_text)


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where names and figures stand. [px from the plot's left edge]

    left, right      of the whole drawing
    names            where names begin
    models           where models begin, beside their makers or below them
    stacked          whether they stand below them
    values           right edge of the values
    ranks            left edge of the ranks; on a phone their right edge
    name_room, rank_room  widths of a name and of the ranks
    """

    left: float
    right: float
    names: float
    models: float
    stacked: bool
    values: float
    ranks: float
    name_room: float
    rank_room: float


def _filling(width: int, title: str, bars: Sequence[RankBar], unit: str, notes: Sequence[str], layout: Layout) -> Spec:
    """The specification *width* px wide in all: the plot takes what is left."""
    columns = _columns(bars, unit, layout)
    rest = round(width - 1 - (columns.right - columns.left))  # half a line on either side
    return _laid_out(title, bars, unit, notes, replace(layout, plot_width=layout.plot_width + rest))


def _columns(bars: Sequence[RankBar], unit: str, layout: Layout) -> _Columns:
    size, small, plot = layout.text, layout.text - 1, float(layout.plot_width)
    beside = bool(layout.label_width)
    value = max([text_room(unit, small), *(text_room(bar.value_text, size) for bar in bars)])
    ranks = ["rank", *(_rank(bar, layout) for bar in bars)]
    rank = min(max(text_room(text, small) for text in ranks), MOST_RANK)
    makers = max(text_room(bar.maker, size) for bar in bars)
    makers += size / 3 if makers else 0
    models = max(text_room(bar.model, size, bold=True) for bar in bars)
    if beside:
        name_room = min(makers + models, layout.label_width - AIR)
        left, values = -name_room - AIR, plot + SIDE_GAP + value
        names, right, ranks_at = left, values + AIR + rank, values + AIR
    else:
        left, right = -float(EDGES[0]), plot + EDGES[1]
        names, values, ranks_at = NAME_EDGE, right - rank - AIR, right
        name_room = max(values - value - AIR - names, right / 3)
    stacked = makers + models > name_room
    return _Columns(left, right, names, names + (0 if stacked else makers), stacked, values, ranks_at, name_room, rank)


def _rank(bar: RankBar, layout: Layout) -> str:
    return bar.rank_text if layout.label_width else bar.rank_short


def _laid_out(
    title: str, bars: Sequence[RankBar], unit: str, notes: Sequence[str], layout: Layout, shown: int | None = None
) -> Spec:
    """The specification for one layout. Heights are px from the top of the plot.

    Where the layout has a height, rows that do not fit below it are left out. *shown* of the others are drawn, the
    last one first; the axis is that of all.
    """
    columns, top = _columns(bars, unit, layout), 0.0
    rows: list[Sets] = []
    fitting: list[RankBar] = []
    for bar in bars:
        row, foot = _row(bar, top, columns, layout)
        if layout.plot_height and rows and foot > layout.plot_height:
            break
        rows.append(row)
        fitting.append(bar)
        top = foot
    width = columns.right - columns.left
    texts = [text for note in notes for text in wrapped(note, width, layout.note)]
    seen = rows if shown is None else rows[max(0, len(rows) - shown) :]
    head = -float(layout.line_height) / 2

    spec = ranking_template(layout, unit)
    spec["title"] = {"text": balanced(title, width, layout.text + 5, bold=True)}
    spec["height"] = round(top)
    places = ("left", "names", "models", "values", "ranks", "right")
    spec["params"] = [
        {"name": "x_high", "value": axis_end(max(_right_end(bar) for bar in fitting))},
        {"name": "y_high", "value": round(top)},
        *({"name": name, "value": round(getattr(columns, name), 1)} for name in places),
    ]
    spec["datasets"] = {
        **{name: [entry for row in seen for entry in row[name]] for name in rows[0]},
        "rows": [{"at": row["feet"][0]["at"]} for row, _ in pairwise(rows)],
        "frame": [{"at": 0}],
        "heads": [{"at": head, "text": unit}],
        "rank_heads": [{"at": head, "text": "rank"}],
        "notes": [{"at": top + FOOT + i * (layout.note + 5), "text": text} for i, text in enumerate(texts)],
    }
    return spec


def _row(bar: RankBar, top: float, columns: _Columns, layout: Layout) -> tuple[Sets, float]:
    """The data sets of one row, and its foot. [px]"""
    line, size = layout.line_height, layout.text
    maker, model = _name(bar, columns, size)
    rank = balanced(_rank(bar, layout), columns.rank_room, size - 1)
    above = len(maker) if columns.stacked else 0
    name_lines = max(above + len(model), len(maker))
    block = max(name_lines, len(rank), 1) * line
    if layout.label_width:  # one line through the middles of name, dot and figures
        foot = top + block + ROW_AIR
        middle = (top + foot) / 2
        name_top, side_top = middle - name_lines * line / 2, middle - len(rank) * line / 2
        value_top = middle - line / 2
    else:  # the dot below its name and figures
        name_top = side_top = value_top = top + ROW_AIR / 3
        middle = name_top + block + DOT_ROOM / 2 - 3
        foot = middle + DOT_ROOM / 2 + ROW_AIR / 6
    low = None if bar.low is None else max(bar.low, 0.0)
    spot: dict[str, Any] = {"at": middle, "value": bar.value, "low": low, "high": bar.high, "bound": bar.bound}
    return {
        "spots": [spot],
        "makers": lines(maker, name_top, line),
        "names": lines(model, name_top + above * line, line),
        "values": lines([bar.value_text], value_top, line),
        "ranks": lines(rank, side_top, line),
        "feet": [{"at": foot}],
    }, foot


def _name(bar: RankBar, columns: _Columns, size: int) -> tuple[list[str], list[str]]:
    """Maker and model, each in lines that their room holds."""
    if not columns.stacked:
        return [bar.maker] if bar.maker else [], [bar.model]
    return held(bar.maker, columns.name_room, size) if bar.maker else [], held(
        bar.model, columns.name_room, size, bold=True
    )


def _right_end(bar: RankBar) -> float:
    return max(bar.value * (ARROW_ROOM if bar.bound else 1), bar.high or 0.0)
