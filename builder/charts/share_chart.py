"""A table as a picture: rows by columns, in each cell a share and a time, the cell the fuller the more came late.

One hue, and no colour that says good or bad: what is below its mark is bold, and every figure is written out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any

from builder.charts.figures import Figure, Spec, TableTwin
from builder.charts.share_template import head_size, share_template
from builder.charts.stacking import Sets, lines, short, stacked
from builder.charts.theme import Layout, held, text_room, wrapped

# 836 and 340 px wide in all, as the waiting chart, which stands on the same pages.
WIDE = Layout(plot_width=610, plot_height=0, label_width=226, text=15, note=13)
NARROW = Layout(plot_width=340, plot_height=0, label_width=0, text=14, note=13)

MOST_ROWS = 20

LEAST_COLUMN = 66  # a narrower column does not hold a share and a time [px]
LEAST_COLUMN_ALONE = 50  # nor a share alone [px]
MOST_HEAD_LINES = 3
PAD = 6  # between the edge of a cell and its text [px]
GAP = 2  # between cells [px]
AIR = 6  # between what stands in a row and the next [px]
FULLEST = 0.75  # opacity of a cell where everything came late: its text still has a contrast of 4.5 to 1
ROOT = 0.4  # of the late share, by which a cell fills


@dataclass(frozen=True, slots=True)
class ShareCell:
    """One cell.

    share   came in time, of what was planned; None where nothing says. [1]
    text    the share as it is printed, or what stands in its place
    detail  within what time 90 % were answered, or how it ended; "" for nothing
    missed  whether less came in time than was asked for
    """

    share: float | None
    text: str
    detail: str = ""
    missed: bool = False

    def __post_init__(self) -> None:
        if self.share is not None and not 0 <= self.share <= 1:
            raise ValueError(f"a share lies from 0 to 1, got {self.share:g}")

    @property
    def tint(self) -> float:
        """How full the cell is: a root of what came late, so that a few in a hundred already show. [1]"""
        return 0.0 if self.share is None else round(FULLEST * (1 - self.share) ** ROOT, 3)


@dataclass(frozen=True, slots=True)
class ShareRow:
    """One row: its label in bold, the rest of it, and a cell for each column."""

    label: str
    detail: str
    cells: tuple[ShareCell, ...]


def share_figure(
    *,
    key: str,
    title: str,
    heading: str,
    columns: Sequence[str],
    rows: Sequence[ShareRow],
    notes: Sequence[str],
    spoken: str,
) -> Figure:
    """The picture of one to twenty rows, in the order given.

    heading  of the labels, in the table
    columns  what each cell of a row is about
    notes    lines for under the chart
    Raises   ValueError without rows or columns, for more rows, or a row of another length.
    """
    if not 1 <= len(rows) <= MOST_ROWS:
        raise ValueError(f"a share chart holds 1 to {MOST_ROWS} rows, got {len(rows)}")
    if not columns or any(len(row.cells) != len(columns) for row in rows):
        raise ValueError(f"every row needs a cell for each of the {len(columns)} columns, and there must be some")
    draw = partial(_laid_out, title, columns, rows, notes)
    return Figure(
        key=key,
        title=title,
        spec=draw(WIDE),
        spoken=spoken,
        table=TableTwin(
            caption="Share in time, and within what time 90 % of the planned requests were answered",
            columns=(heading, *columns),
            rows=tuple((_name(row), *(_words(cell) for cell in row.cells)) for row in rows),
        ),
        notes=tuple(notes),
        narrow=draw(NARROW),
        drawn=draw,
        parts=len(rows),
        zooms=False,
    )


def _name(row: ShareRow) -> str:
    return ", ".join(filter(None, (row.label, row.detail)))


def _words(cell: ShareCell) -> str:
    return "; ".join(filter(None, (cell.text, cell.detail)))


def _laid_out(
    title: str,
    columns: Sequence[str],
    rows: Sequence[ShareRow],
    notes: Sequence[str],
    layout: Layout,
    shown: int | None = None,
) -> Spec:
    """The specification for one layout. Places are px from the top left corner of the cells.

    Where the layout has a height, rows say less until all fit, and those that still do not are left out. *shown* of
    the others are drawn, the last one first. Columns that would be too narrow for their figures, or for a word of
    their heads, become lines below each other.
    """
    column = layout.plot_width / len(columns)
    heads = [wrapped(name, column - PAD, head_size(layout)) for name in columns]
    whole = all(text_room(text, head_size(layout)) <= column - PAD for texts in heads for text in texts)
    for said in _shorter(rows) if layout.plot_height else (rows,):
        least = LEAST_COLUMN if any(cell.detail for row in said for cell in row.cells) else LEAST_COLUMN_ALONE
        beside = column >= least and whole and max(map(len, heads)) <= MOST_HEAD_LINES
        place = partial(_row, layout=layout, columns=columns, column=column if beside else None)
        drawn, top = stacked(said, place, height=layout.plot_height)
        if len(drawn) == len(rows):
            break
    seen = drawn if shown is None else drawn[max(0, len(drawn) - shown) :]
    width = layout.label_width + layout.plot_width
    note_lines = [text for note in notes for text in wrapped(note, width, layout.note)]
    spec = share_template(layout)
    spec["title"] = {"text": held(title, width, layout.text + 5, bold=True)}
    spec["height"] = round(top)
    spec["params"] = [
        {"name": "x_high", "value": layout.plot_width},
        {"name": "y_high", "value": round(top)},
    ]
    spec["datasets"] = {
        **{name: [entry for row in seen for entry in row[name]] for name in drawn[0]},
        "frame": [{"at": 0}],
        "heads": [
            {"x": short(number * column + PAD), "at": -(len(texts) - i - 0.5) * layout.line_height - 4, "text": text}
            for number, texts in enumerate(heads)
            for i, text in enumerate(texts)
        ]
        if beside
        else [],
        "notes": [{"at": top + 16 + i * (layout.note + 5), "text": text} for i, text in enumerate(note_lines)],
    }
    return spec


def _shorter(rows: Sequence[ShareRow]) -> Iterator[Sequence[ShareRow]]:
    """The rows, then without the rest of their labels, then with shares alone."""
    yield rows
    yield [replace(row, detail="") for row in rows]
    yield [ShareRow(row.label, "", tuple(replace(cell, detail="") for cell in row.cells)) for row in rows]


def _row(
    number: int, row: ShareRow, top: float, *, layout: Layout, columns: Sequence[str], column: float | None
) -> tuple[Sets, float]:
    """The data sets of one row, and its foot. column: its width; None for lines below each other. [px]"""
    line, small = layout.line_height, layout.text - 1
    label_width = layout.label_width - 16 if layout.label_width else layout.plot_width
    name, detail = held(row.label, label_width, layout.text, bold=True), held(row.detail, label_width, small)
    label_height = (len(name) + len(detail)) * line
    cells_top = top + AIR / 2 + (0 if layout.label_width else label_height + 2)
    sets: Sets = {key: [] for key in ("rows", "cells", "names", "details", "figures", "missed", "times", "roles")}
    at = cells_top
    for place, (cell, role) in enumerate(zip(row.cells, columns, strict=True)):
        if column is None:
            at = _listed(sets, cell, role, at, layout)
        else:
            at = max(at, _placed(sets, cell, place * column, cells_top, column, layout))
    if column is not None:  # as high as the highest
        for box in sets["cells"]:
            box["at2"] = short(at)
    foot = max(at, top + AIR / 2 + label_height) + AIR / 2
    name_top = (top + foot - label_height) / 2 if layout.label_width and column is not None else top + AIR / 2
    sets["names"] = lines(name, name_top, line)
    sets["details"] = lines(detail, name_top + len(name) * line, line)
    sets["rows"] = [{"at": short(foot)}]
    return sets, foot


def _placed(sets: Sets, cell: ShareCell, left: float, top: float, width: float, layout: Layout) -> float:
    """A cell below the head of its column; returns its foot. [px]"""
    line, room = layout.line_height, width - 2 * PAD
    text = held(cell.text, room, layout.text, bold=cell.missed)
    detail = held(cell.detail, room, layout.text - 1)
    foot = top + (len(text) + len(detail)) * line + 4
    sets["cells"].append(_box(cell, left, left + width - GAP, top, foot))
    sets["missed" if cell.missed else "figures"] += lines(text, top + 2, line, x=short(left + PAD))
    sets["times"] += lines(detail, top + 2 + len(text) * line, line, x=short(left + PAD))
    return foot


def _listed(sets: Sets, cell: ShareCell, role: str, top: float, layout: Layout) -> float:
    """A cell as a line: what it is about, the share, the time; returns its foot. [px]"""
    line, width = layout.line_height, layout.plot_width
    starts = [PAD, width * 0.46, width * 0.7, width]
    rooms = [b - a - PAD for a, b in pairwise(starts)]
    about = held(role, rooms[0], layout.text - 1)
    text = held(cell.text, rooms[1], layout.text, bold=cell.missed)
    detail = held(cell.detail, rooms[2], layout.text - 1)
    foot = top + max(len(about), len(text), len(detail)) * line + 4
    sets["cells"].append(_box(cell, 0, width, top, foot))
    sets["roles"] += lines(about, top + 2, line, x=short(starts[0]))
    sets["missed" if cell.missed else "figures"] += lines(text, top + 2, line, x=short(starts[1]))
    sets["times"] += lines(detail, top + 2, line, x=short(starts[2]))
    return foot + GAP


def _box(cell: ShareCell, left: float, right: float, top: float, foot: float) -> dict[str, Any]:
    places = {"x": left, "x2": right, "at": top, "at2": foot}
    return {"tint": cell.tint, **{name: short(px) for name, px in places.items()}}
