"""The overview: every device in near, middle and far, a dot with its interval in each of three panels on one scale.

Wide, a row a device with a panel beside the other; on a phone the panels stand below each other, the middle window first,
with each device's name above its line, where a finger meets it. A row that may be first has the hue and the bold.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from builder.charts.figures import Figure, Spec
from builder.charts.overview_names import Line, name_lines, room, short_names
from builder.charts.overview_rows import Cell, Row, Window, overview_table
from builder.charts.overview_template import SETS, Sizes, view
from builder.charts.placing import axis_end
from builder.charts.stacking import Sets, short
from builder.charts.theme import GROUND, Layout, balanced, config, wrapped
from builder.wording import trimmed

MOST_ROWS = 24
MIDDLE = 1  # the window by which rows are sorted, and which stands first on a phone

WIDE_WIDTH, NARROW_WIDTH = 1136, 340
WIDE = Sizes(label=15, small=14.5, head=16, note=13, radius=5.5)
NARROW = Sizes(label=14, small=13, head=15, note=13, radius=5.0)

NAMES_WIDTH = 178  # of the column of names [px]
PANEL_WIDTH = 324  # from one panel to the next
MOST_PLOT = 204
HEAD_FOOT, ROWS_TOP, ROW = 50, 62, 34  # of the wide layout: where axes begin, where rows do, and how high they are
BAR_ROW, SHORT_ROW = 44, 27  # of the narrow one, with the name above the line and beside it
SHORT_WIDTH = 78  # of its names beside the line
LINE = 17.0  # of a name
FOOT = 28  # with the numbers of the axis
PANEL_GAP = 28

TICK = 4  # of an interval, on either side of its line
ARROW = 26  # from a lower bound to the end of its arrow
PORT = (10.0, 14.0)  # from a value that its port held back to its two strokes
AIR = 8


def overview_figure(
    *, key: str, title: str, rows: Sequence[Row], windows: Sequence[Window], notes: Sequence[str], spoken: str
) -> Figure:
    """The overview of one to 24 devices in three windows, in the order given.

    windows  near, middle, far
    notes    lines for under the chart
    Raises   ValueError without rows, for more, or for a row without a cell for each window.
    """
    if not 1 <= len(rows) <= MOST_ROWS:
        raise ValueError(f"an overview holds 1 to {MOST_ROWS} rows, got {len(rows)}")
    if any(len(row.cells) != len(windows) for row in rows):
        raise ValueError("an overview needs a cell for each window in every row")
    content = _Content(rows, windows)
    return Figure(
        key=key,
        title=title,
        spec=_whole(title, _wide(content), notes, WIDE, WIDE_WIDTH),
        spoken=spoken,
        table=overview_table(rows, windows),
        notes=tuple(notes),
        narrow=_whole(title, _narrow(content), notes, NARROW, NARROW_WIDTH),
        parts=len(rows),
        zooms=False,
    )


@dataclass(frozen=True, slots=True)
class _Content:
    """What is drawn, before any size is known."""

    rows: Sequence[Row]
    windows: Sequence[Window]

    @property
    def end(self) -> float:
        """Where every axis ends. [Mbit/s]"""
        return axis_end(max(cell.right_end * (1.06 if cell.bound else 1) for row in self.rows for cell in row.cells))


@dataclass(frozen=True, slots=True)
class _View:
    """One view: its sizes in px, what its edges stand for, and its data sets."""

    width: float
    height: float
    domain: tuple[float, float]
    sets: Sets


@dataclass(frozen=True, slots=True)
class _Columns:
    """Where things stand in a panel. [px from its left edge]

    plot    left and right end of the axis
    value   right edge of the values
    rank    left edge of the ranks, or their right edge where they end the panel
    width   of the panel
    """

    plot: tuple[float, float]
    value: float
    rank: float
    width: float
    end: float
    sizes: Sizes

    @property
    def unit(self) -> float:
        """What one px stands for. [Mbit/s]"""
        return self.end / (self.plot[1] - self.plot[0])

    @property
    def domain(self) -> tuple[float, float]:
        return self.at(0), self.at(self.width)

    def at(self, px: float) -> float:
        """The place on the axis that lies so far from the panel's left edge. [Mbit/s]"""
        return float(f"{(px - self.plot[0]) * self.unit:.6g}")

    def px(self, value: float) -> float:
        return self.plot[0] + value / self.unit


def _whole(title: str, views: Sequence[_View], notes: Sequence[str], sizes: Sizes, width: int) -> Spec:
    """The views beside or below each other as one specification, with the notes under the first or the last of them."""
    beside = width == WIDE_WIDTH
    noted = 0 if beside else len(views) - 1
    order = [noted, *(n for n in range(len(views)) if n != noted)]  # the view with number 0 has the notes
    numbers = {place: number for number, place in enumerate(order)}
    parts = [
        view(numbers[place], sizes, width=v.width, height=v.height, domain=v.domain) for place, v in enumerate(views)
    ]
    at = views[noted].height + 2 * sizes.note
    left = views[noted].domain[0]
    lines = [text for note in notes for text in wrapped(note, width, sizes.note)]
    layout = Layout(plot_width=width, plot_height=0, label_width=0, text=round(sizes.label), note=round(sizes.note))
    return {
        "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
        "title": {"text": balanced(title, width, layout.text + 5, bold=True)},
        "config": config(layout),
        "background": GROUND.light,
        "padding": 12,
        "spacing": 0,
        "bounds": "flush",
        "hconcat" if beside else "vconcat": parts,
        "datasets": {
            **{
                f"{name}{numbers[place]}": v.sets.get(name, [])
                for place, v in enumerate(views)
                for name in SETS
                if name != "notes"
            },
            "notes": [{"x": left, "at": at + i * (sizes.note + 5), "text": text} for i, text in enumerate(lines)],
        },
    }


def _column_widths(content: _Content, sizes: Sizes) -> tuple[float, float]:
    """Room for the widest value, and for the widest ranks with their mark. [px]"""
    cells = [cell for row in content.rows for cell in row.cells if cell.value is not None]
    values = [room(cell.text, sizes.label, bold=cell.first) for cell in cells]
    ranks = [room(f"{cell.rank}{cell.mark}", sizes.small) for cell in cells]
    return max([*values, 0.0]), max([*ranks, room("rank", sizes.small)])


def _wide(content: _Content) -> list[_View]:
    """The column of names, then the panels."""
    sizes = WIDE
    values, ranks = _column_widths(content, sizes)
    rest = WIDE_WIDTH - NAMES_WIDTH
    last = rest - PANEL_WIDTH * (len(content.windows) - 1)
    value = min(MOST_PLOT + 50.0, last - ranks - AIR)
    plot = min(float(MOST_PLOT), value - values - AIR)
    names = name_lines(content.rows, NAMES_WIDTH - 4, sizes.label)
    heights = [max(float(ROW), len(lines) * LINE + 8) for lines in names]
    tops = _tops(heights, ROWS_TOP)
    height = tops[-1] + FOOT
    first = _empty()
    for row, lines, top, high in zip(content.rows, names, tops, heights, strict=False):
        _name(first, row, lines, top + high / 2 - (len(lines) - 1) * LINE / 2, LINE, _as_it_is)
        _link(first, row, (0, NAMES_WIDTH - AIR), (top, top + high), _as_it_is)
    first["rows"] = [{"at": top} for top in tops[1:-1]]
    views = [_View(NAMES_WIDTH, height, (0, NAMES_WIDTH), first)]
    for place, window in enumerate(content.windows):
        width = PANEL_WIDTH if place < len(content.windows) - 1 else last
        columns = _Columns((0.0, plot), value, value + AIR + 1, width, content.end, sizes)
        sets = _panel(columns, window, (12, 32), tops, "left", axis_top=HEAD_FOOT)
        for row, top, high in zip(content.rows, tops, heights, strict=False):
            _cell(sets, columns, row.cells[place], top + high / 2, top + high / 2, "left")
        views.append(_View(width, height, columns.domain, sets))
    return views


def _narrow(content: _Content) -> list[_View]:
    """The panel of the middle window with its names above their lines, then the others with short ones beside them."""
    sizes = NARROW
    values, ranks = _column_widths(content, sizes)
    value = min(292.0, NARROW_WIDTH - ranks - AIR)
    widest = max(
        (room(f"{c.words}{c.mark}", sizes.small) for row in content.rows for c in row.cells if c.words), default=0
    )
    fitting = SHORT_WIDTH + AIR + widest <= NARROW_WIDTH
    shortened = short_names(content.rows, SHORT_WIDTH - 4, sizes.small) if fitting else None
    names = name_lines(content.rows, value - values - 2 * AIR, sizes.label)
    order = [MIDDLE, *(n for n in range(len(content.windows)) if n != MIDDLE)]
    views: list[_View] = []
    for place in order:
        beside = shortened is not None and place != MIDDLE
        plot = (float(SHORT_WIDTH), min(246.0, value - values - AIR)) if beside else (0.0, float(NARROW_WIDTH))
        columns = _Columns(plot, value, NARROW_WIDTH, NARROW_WIDTH, content.end, sizes)
        heights = [float(SHORT_ROW) if beside else BAR_ROW + (len(lines) - 1) * LINE for lines in names]
        tops = _tops(heights, 44)
        sets = _panel(columns, content.windows[place], (13, 32), tops, "right", axis_top=44)
        for number, (row, top, high) in enumerate(zip(content.rows, tops, heights, strict=False)):
            cell = row.cells[place]
            if beside and shortened is not None:
                middle = top + high / 2
                kind = "firsts_short" if cell.first else "shorts"
                sets[kind].append({"x": columns.at(0), "at": middle, "text": shortened[number]})
                _cell(sets, columns, cell, middle, middle, "right")
                continue
            _cell(sets, columns, cell, top + high - 11, top + 13, "right")
            label = 2.0, value - values - AIR
            _name(sets, row, names[number], top + 13, LINE, columns.at, left=4, pad=sizes.label, linked=place == MIDDLE)
            if place == MIDDLE:
                _link(sets, row, label, (top, top + high), columns.at)
        height = tops[-1] + FOOT + (PANEL_GAP if place != order[-1] else 0)
        views.append(_View(NARROW_WIDTH, height, columns.domain, sets))
    return views


def _as_it_is(px: float) -> float:
    return px


def _empty() -> Sets:
    return {name: [] for name in SETS if name != "notes"}


def _tops(heights: Sequence[float], first: float) -> list[float]:
    """Top of every row, and the foot of the last. [px]"""
    tops = [float(first)]
    for height in heights:
        tops.append(tops[-1] + height)
    return tops


def _panel(
    columns: _Columns, window: Window, heads: tuple[float, float], tops: Sequence[float], side: str, *, axis_top: float
) -> Sets:
    """The panel without its rows: head, units, axis with its numbers, and a line below each row.

    heads  heights of its two lines of words
    side   how the ranks are aligned
    """
    sets = _empty()
    upper, lower = heads
    left = columns.at(0)
    sets["heads"] = [{"x": left, "at": upper, "text": window.name}]
    if side == "left":
        sets["left"] = [{"x": left, "at": lower, "text": window.span}]
    else:
        sets["right"] = [{"x": columns.at(columns.width), "at": upper, "text": window.span}]
    sets["right"].append({"x": columns.at(columns.value), "at": lower, "text": "Mbit/s"})
    sets[side].append({"x": columns.at(columns.rank), "at": lower, "text": "rank"})
    foot = tops[-1]
    places = [columns.end * part / 4 for part in range(5)]
    sets["axis"] = [{"x": 0, "at": axis_top, "at2": foot}]
    sets["grid"] = [{"x": short(place), "at": axis_top, "at2": foot} for place in places[1:]]
    for number, place in enumerate(places[::2]):
        inside = ("left", "middle", "right")[number] if columns.plot == (0, columns.width) else "middle"
        sets[inside].append({"x": place, "at": foot + 15, "text": trimmed(place, 1)})
    sets["rows"] = [{"at": top} for top in tops[1:-1]]
    return sets


def _cell(sets: Sets, columns: _Columns, cell: Cell, bar: float, line: float, side: str) -> None:
    """One device in one window. bar: height of its dot; line: of its value and ranks. [px]"""
    if cell.value is None:
        start = columns.plot[0] + (AIR if columns.plot[0] or side == "left" else 4)
        words = f"{cell.words}{cell.mark}"
        ends = start - 2, start + room(words, columns.sizes.small)
        sets["pads"].append(_box(ends, (bar - 9, bar + 9), columns.at))
        sets["left"].append({"x": columns.at(start), "at": bar, "text": words})
        return
    hue = "first" if cell.first else "behind"
    sets["dots"].append({"x": cell.value, "at": bar, "hue": hue})
    if cell.low is not None and cell.high is not None:
        low = max(cell.low, 0.0)
        sets["intervals"].append({"low": low, "high": cell.high, "at": bar, "hue": hue})
        sets["caps"] += [{"x": x, "at": bar - TICK, "at2": bar + TICK, "hue": hue} for x in (low, cell.high)]
    if cell.bound:
        sets["arrows"].append({"x": cell.value, "at": bar, "hue": hue})
    if cell.at_port:
        right = columns.px(cell.right_end if cell.high is not None else cell.value)
        sets["ports"] += [{"x": columns.at(right + px - 4), "at": bar - 9, "at2": bar + 9} for px in PORT]
    sets["firsts" if cell.first else "values"].append({"x": columns.at(columns.value), "at": line, "text": cell.text})
    sets[side].append({"x": columns.at(columns.rank), "at": line, "text": f"{cell.rank}{cell.mark}"})


def _name(
    sets: Sets,
    row: Row,
    lines: Sequence[Line],
    top: float,
    line: float,
    x: Callable[[float], float],
    *,
    left: float = 0.0,
    pad: float = 0.0,
    linked: bool = True,
) -> None:
    """A name. top, line: height of its first line, and of each; left: where it begins [px]; x: what such a place is on x.

    pad     size of its text, where lines run below it; 0 for none. [px]
    linked  whether it leads to the device, as each does once in a drawing
    """
    for number, pieces in enumerate(lines):
        for piece in pieces:
            if pad:
                ends = left + piece.px - 2, left + piece.px + room(piece.text, pad, bold=piece.bold)
                sets["pads"].append(_box(ends, (top + number * line - 9, top + number * line + 9), x))
            entry = {"x": x(left + piece.px), "at": top + number * line, "text": piece.text}
            if linked:
                sets["models" if piece.bold else "makers"].append({**entry, "href": row.href})
            else:
                sets["firsts_short" if piece.bold else "shorts"].append(entry)


def _link(
    sets: Sets, row: Row, across: tuple[float, float], down: tuple[float, float], x: Callable[[float], float]
) -> None:
    sets["links"].append({**_box(across, down, x), "href": row.href})


def _box(across: tuple[float, float], down: tuple[float, float], x: Callable[[float], float]) -> dict[str, float]:
    """A rectangle. across, down: its ends from the panel's left edge and its top [px]; x: what the first are on x."""
    return {"x": x(across[0]), "x2": x(across[1]), "at": down[0], "at2": down[1]}
