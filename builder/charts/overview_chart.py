"""The overview: every device in near, middle and far, a dot with its interval in each of three panels on one scale.

Wide, a row a device with a panel beside the other; on a phone the panels stand below each other, the middle window first,
with each device's name above its line, where a finger meets it. A row that may be first is in ink and bold.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.charts.figures import Figure, Spec
from builder.charts.overview_names import name_lines, short_names
from builder.charts.overview_panels import (
    AIR,
    LINE,
    Columns,
    add_cell,
    add_link,
    add_name,
    as_it_is,
    empty,
    panel,
    tops_of,
)
from builder.charts.overview_rows import Row, Window, overview_table
from builder.charts.overview_template import SETS, Sizes, view
from builder.charts.placing import axis_end
from builder.charts.stacking import Sets
from builder.charts.theme import GROUND, Layout, balanced, config, text_room, wrapped

MOST_ROWS = 24
MIDDLE = 1  # the window by which rows are sorted, and which stands first on a phone

WIDE_WIDTH, NARROW_WIDTH = 1136, 340
WIDE = Sizes(label=15, small=14.5, head=16, note=13, radius=5.5)
NARROW = Sizes(label=14, small=13, head=15, note=13, radius=5.0)

NAMES_WIDTH = 178  # of the column of names [px]
PANEL_WIDTH = 324  # from one panel to the next
MOST_PLOT = 204
HEAD_FOOT, ROWS_TOP, ROW = 50, 62, 34  # of the wide layout: where axes begin, where rows do, and how high they are
BAR_ROW, SHORT_ROW = 46, 27  # of the narrow one, with the name above the line, 44 as it is shown, and beside it
SHORT_WIDTH = 78  # of its names beside the line
FOOT = 28  # with the numbers of the axis
PANEL_GAP = 28


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
        return axis_end(max(cell.right_end * cell.signs for row in self.rows for cell in row.cells))


@dataclass(frozen=True, slots=True)
class _View:
    """One view: its sizes in px, what its edges stand for, and its data sets."""

    width: float
    height: float
    domain: tuple[float, float]
    sets: Sets


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
    values = [text_room(cell.text, sizes.label, bold=cell.first) for cell in cells]
    ranks = [text_room(f"{cell.rank}{cell.mark}", sizes.small) for cell in cells]
    return max([*values, 0.0]), max([*ranks, text_room("rank", sizes.small)])


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
    tops = tops_of(heights, ROWS_TOP)
    height = tops[-1] + FOOT
    first = empty()
    for row, lines, top, high in zip(content.rows, names, tops, heights, strict=False):
        add_name(first, row, lines, top + high / 2 - (len(lines) - 1) * LINE / 2, LINE, as_it_is)
        add_link(first, row, (0, NAMES_WIDTH - AIR), (top, top + high), as_it_is)
    first["rows"] = [{"at": top} for top in tops[1:-1]]
    views = [_View(NAMES_WIDTH, height, (0, NAMES_WIDTH), first)]
    for place, window in enumerate(content.windows):
        width = PANEL_WIDTH if place < len(content.windows) - 1 else last
        columns = Columns((0.0, plot), value, value + AIR + 1, width, content.end, sizes)
        sets = panel(columns, window, (12, 32), tops, "left", axis_top=HEAD_FOOT)
        for row, top, high in zip(content.rows, tops, heights, strict=False):
            add_cell(sets, columns, row.cells[place], top + high / 2, top + high / 2, "left")
        views.append(_View(width, height, columns.domain, sets))
    return views


def _narrow(content: _Content) -> list[_View]:
    """The panel of the middle window with its names above their lines, then the others with short ones beside them."""
    sizes = NARROW
    values, ranks = _column_widths(content, sizes)
    value = min(292.0, NARROW_WIDTH - ranks - AIR)
    widest = max(
        (text_room(f"{c.words}{c.mark}", sizes.small) for row in content.rows for c in row.cells if c.words), default=0
    )
    fitting = SHORT_WIDTH + AIR + widest <= NARROW_WIDTH
    shortened = short_names(content.rows, SHORT_WIDTH - 2, sizes.small) if fitting else None
    names = name_lines(content.rows, value - values - 2 * AIR, sizes.label)
    order = [MIDDLE, *(n for n in range(len(content.windows)) if n != MIDDLE)]
    views: list[_View] = []
    for place in order:
        beside = shortened is not None and place != MIDDLE
        plot = (float(SHORT_WIDTH), min(246.0, value - values - AIR)) if beside else (0.0, float(NARROW_WIDTH))
        columns = Columns(plot, value, NARROW_WIDTH, NARROW_WIDTH, content.end, sizes)
        heights = [float(SHORT_ROW) if beside else BAR_ROW + (len(lines) - 1) * LINE for lines in names]
        tops = tops_of(heights, 44)
        sets = panel(columns, content.windows[place], (13, 32), tops, "right", axis_top=44)
        for number, (row, top, high) in enumerate(zip(content.rows, tops, heights, strict=False)):
            cell = row.cells[place]
            if beside and shortened is not None:
                middle = top + high / 2
                kind = "firsts_short" if cell.first else "shorts"
                sets[kind].append({"x": columns.at(0), "at": middle, "text": shortened[number]})
                add_cell(sets, columns, cell, middle, middle, "right")
                continue
            add_cell(sets, columns, cell, top + high - 11, top + 13, "right")
            label = 2.0, value - values - AIR
            add_name(
                sets, row, names[number], top + 13, LINE, columns.at, left=4, pad=sizes.label, linked=place == MIDDLE
            )
            if place == MIDDLE:
                add_link(sets, row, label, (top, top + high), columns.at)
        height = tops[-1] + FOOT + (PANEL_GAP if place != order[-1] else 0)
        views.append(_View(NARROW_WIDTH, height, columns.domain, sets))
    return views
