"""The waiting chart: for each row a bar of how long its requests waited, beside what is asked for.

A bar goes from 50 to 90 % of the planned requests, a line on to a tick at 99 %; what lies beyond the target is in full
ink. Requests that failed, or were never made, are hatched at the right edge: where they are so many that 90 % were
never answered, from the slowest answer on. Where few requests lie beyond a percentile no end is drawn for it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import ceil
from typing import Any

from builder.charts.figures import Figure, Spec
from builder.charts.stacking import Sets, lines, short, stacked
from builder.charts.theme import Layout, held, text_room, wrapped
from builder.charts.waiting_bars import TimeAxis, axis_numbers, bars_of, nice_step
from builder.charts.waiting_rows import Mark, WaitingRow, waiting_table
from builder.charts.waiting_template import (
    END_GAP,
    END_WIDTH,
    NUMBERS_BELOW,
    full_width,
    side_width,
    waiting_template,
)

# 836 and 340 px wide in all. Labels stand left of the plot and words right of it; on a phone above and below their bar.
WIDE = Layout(plot_width=386, plot_height=0, label_width=226, text=15, note=13)
NARROW = Layout(plot_width=318, plot_height=0, label_width=0, text=14, note=13)

MOST_ROWS = 20

BELOW_AXIS = 66  # from the foot of the plot to what is written under it [px]
LABEL_AIR = 16  # right of the column of labels [px]
MARK_AIR = 4  # between a mark and its words [px]


def waiting_figure(
    *, key: str, title: str, heading: str, rows: Sequence[WaitingRow], notes: Sequence[str], spoken: str
) -> Figure:
    """The waiting chart of one to twenty rows, in the order given.

    heading  of the labels, in the table
    notes    lines for under the chart
    Raises   ValueError without rows, or for more.
    """
    if not 1 <= len(rows) <= MOST_ROWS:
        raise ValueError(f"a waiting chart holds 1 to {MOST_ROWS} rows, got {len(rows)}")
    draw = partial(_laid_out, _Content(title, rows, notes))
    return Figure(
        key=key,
        title=title,
        spec=draw(WIDE),
        spoken=spoken,
        table=waiting_table(rows, heading=heading),
        notes=tuple(notes),
        narrow=draw(NARROW),
        drawn=draw,
        parts=len(rows),
    )


@dataclass(frozen=True, slots=True)
class _Content:
    """What is drawn, before any size is known."""

    title: str
    rows: Sequence[WaitingRow]
    notes: Sequence[str]

    @property
    def shared_marks(self) -> tuple[Mark, ...]:
        """The marks, where all rows have the same: they run through all of them, and are named once."""
        marks = {row.marks for row in self.rows}
        return self.rows[0].marks if len(marks) == 1 and len(self.rows) > 1 else ()

    @property
    def x_limits(self) -> tuple[float, float]:
        """Whole steps of 1, 2, 5 around everything drawn. [ms]"""
        places = [mark.ms for row in self.rows for mark in row.marks]
        for row in self.rows:
            drawn = [row.percentiles[p].ms for p in row.percentiles]
            drawn += [row.slowest_ms] if row.planned and row.percentiles[90].ms is None else []
            places += [ms for ms in (*drawn, *row.answers_ms) if ms]
        if not places:
            return 1.0, 1000.0
        return nice_step(min(places) / 1.15, up=False), nice_step(max(places) * 1.15, up=True)


@dataclass(frozen=True, slots=True)
class _Density:
    """How much a row says and how much room it takes: the less, the more rows a picture of fixed height holds. [px]

    bar          height of a bar
    over, under  how far a mark goes beyond it
    air          between what stands in a row and the next
    wide_row     least height of a row with its label beside the bar; *narrow_row* of one with the label above it
    """

    bar: int
    over: int
    under: int
    air: int
    wide_row: int = 0
    narrow_row: int = 0
    with_mark_texts: bool = True
    with_detail: bool = True
    with_words: bool = True


ON_PAGES = _Density(bar=18, over=10, under=7, air=12, wide_row=64, narrow_row=100)
IN_PICTURES = (
    _Density(bar=18, over=10, under=6, air=16),
    _Density(bar=18, over=6, under=4, air=10, with_mark_texts=False),
    _Density(bar=12, over=4, under=3, air=6, with_mark_texts=False, with_detail=False),
    *(
        _Density(bar=bar, over=3, under=2, air=air, with_mark_texts=False, with_detail=False, with_words=False)
        for bar, air in ((14, 14), (11, 4))
    ),
)


def _laid_out(content: _Content, layout: Layout, shown: int | None = None) -> Spec:
    """The specification for one layout. Heights are px from the top of the plot.

    Where the layout has a height, rows become denser until all fit, and those that still do not are left out. *shown*
    of the others are drawn, the last one first; the axis is that of all.
    """
    axis = TimeAxis(*content.x_limits, layout.plot_width)
    shared = content.shared_marks
    row_of = _wide if layout.label_width else _narrow
    for density in IN_PICTURES if layout.plot_height else (ON_PAGES,):
        named = content.rows if density.with_detail else _told_apart(content.rows)
        layout = layout if density.with_detail else _for_names_alone(layout, named)
        place = partial(row_of, axis=axis, layout=layout, density=density, shared=bool(shared))
        rows, top = stacked(named, place, height=layout.plot_height)
        if len(rows) == len(content.rows):
            break
    seen = rows if shown is None else rows[max(0, len(rows) - shown) :]
    sets: Sets = {name: [entry for row in seen for entry in row[name]] for name in rows[0]}
    if shared:  # their words stand over the plot; where words stand between the bars, they go past the bars alone
        sets["mark_texts"] = _mark_texts(shared, 0.0, axis, layout)
        if layout.label_width:
            sets["marks"] = [_mark(mark, 0.0, top) for mark in shared]
    width = full_width(layout)
    notes = [text for note in content.notes for text in wrapped(note, width, layout.note)]
    sets["notes"] = [{"at": top + BELOW_AXIS + i * (layout.note + 5), "text": text} for i, text in enumerate(notes)]
    ticks, height = axis.ticks(layout.text - 1), round(top)
    sets |= axis_numbers(axis, ticks, layout.text - 1, top + NUMBERS_BELOW)
    spec = waiting_template(layout, span=(axis.low, axis.high), ticks=ticks, height=height)
    spec["title"] = {"text": held(content.title, width, layout.text + 5, bold=True)}
    spec["datasets"] = sets
    return spec


def _told_apart(rows: Sequence[WaitingRow]) -> list[WaitingRow]:
    """The rows as their labels alone name them: equal ones gain what their details begin with, the machine."""
    count = Counter(row.label for row in rows)
    return [
        replace(row, label=f"{row.label}, {row.detail.partition(' · ')[0]}")
        if count[row.label] > 1 and row.detail
        else row
        for row in rows
    ]


def _for_names_alone(layout: Layout, rows: Sequence[WaitingRow]) -> Layout:
    """The layout with a column of labels no wider than the longest name; what is saved goes to the plot."""
    widest = max(text_room(row.label, layout.text, bold=True) for row in rows)
    return replace(layout, label_width=min(layout.label_width, ceil(widest) + LABEL_AIR))


def _wide(
    number: int, row: WaitingRow, top: float, *, axis: TimeAxis, layout: Layout, density: _Density, shared: bool
) -> tuple[Sets, float]:
    """Label, bar and words beside each other, with one line through their middles."""
    line = layout.line_height
    label_width, side = layout.label_width - LABEL_AIR, side_width(layout)
    name = held(row.label, label_width, layout.text, bold=True)
    detail = held(row.detail, label_width, layout.text - 1) if density.with_detail else []
    count, words = (
        held(text, side, size) for text, size in zip(_side(row, layout, shared), _sizes(layout), strict=True)
    )
    if not density.with_words:
        count, words = held(row.count, side, layout.text), []
    over, block = _block(row, axis, layout, density, shared)
    height = max(max(line * max(len(name + detail), len(count + words)), block) + density.air, density.wide_row)
    middle = top + height / 2
    sets = _bars(row, number, middle - block / 2 + over, axis, layout, density)
    _add_marks(sets, row, middle - block / 2 + over, axis, layout, density, shared)
    _add_label(sets, name, detail, number, middle - len(name + detail) * line / 2, line)
    side_top = middle - len(count + words) * line / 2
    sets["missed" if row.missed else "counts"] = lines(count, side_top, line)
    sets["words"] = lines(words, side_top + len(count) * line, line)
    sets["rows"] = [{"at": short(top + height)}]
    return sets, top + height


def _narrow(
    number: int, row: WaitingRow, top: float, *, axis: TimeAxis, layout: Layout, density: _Density, shared: bool
) -> tuple[Sets, float]:
    """The label above its bar, the words below it; in a picture of fixed height beside the label."""
    line, width = layout.line_height, full_width(layout)
    name = held(row.label, width, layout.text, bold=True)
    detail = held(row.detail, width, layout.text - 1) if density.with_detail else []
    over, block = _block(row, axis, layout, density, shared)
    label_top = top + density.air / 2
    bar_top = label_top + len(name + detail) * line + over
    if not density.with_mark_texts:
        count = held(row.count if shared else row.count_within, width, layout.text - 1)
        beside = _fit(name, count, layout, bold=True)
        count_top = label_top if beside else label_top + len(name + detail) * line
        bar_top += 0 if beside else len(count) * line
        foot = bar_top - over + block + density.air / 2
        sets = _bars(row, number, bar_top, axis, layout, density)
        sets["asides"] = lines(count, count_top, line)
    else:
        count, words = (
            held(text, width, size) for text, size in zip(_side(row, layout, shared), _sizes(layout), strict=True)
        )
        beside = _fit(count, words, layout, bold=row.missed)
        count_top = bar_top - over + block + (3 if block else 0)
        foot = count_top + line * len(count if beside else count + words) + density.air / 2
        sets = _bars(row, number, bar_top, axis, layout, density)
        sets["missed" if row.missed else "counts"] = lines(count, count_top, line)
        sets["asides" if beside else "words"] = lines(words, count_top + (0 if beside else len(count) * line), line)
    _add_marks(sets, row, bar_top, axis, layout, density, shared)
    _add_label(sets, name, detail, number, label_top, line)
    sets["rows"] = [{"at": short(foot)}]
    return sets, foot


def _bars(row: WaitingRow, number: int, top: float, axis: TimeAxis, layout: Layout, density: _Density) -> Sets:
    return bars_of(row, number, axis, top=top, high=density.bar, ticks=axis.ticks(layout.text - 1))


def _side(row: WaitingRow, layout: Layout, shared: bool) -> tuple[str, str]:
    """The count and what stands below it."""
    if not layout.plot_height:
        return row.count, row.words
    return (row.count if shared else row.count_within), row.short_words


def _sizes(layout: Layout) -> tuple[int, int]:
    return layout.text, layout.text - 1


def _block(row: WaitingRow, axis: TimeAxis, layout: Layout, density: _Density, shared: bool) -> tuple[float, float]:
    """From the head of a bar's words to the bar, and to the foot of its mark. [px]"""
    if not row.planned:
        return 0.0, 0.0
    named = _words_beside(_named_marks(row, density, shared), 0.0, axis, layout)
    over = max([density.over, *(density.over + _half_line(layout) - text["at"] for text in named)])
    return over, over + density.bar + density.under


def _half_line(layout: Layout) -> float:
    return (layout.text - 1) / 2


def _named_marks(row: WaitingRow, density: _Density, shared: bool) -> tuple[Mark, ...]:
    """Marks that have their words in the row."""
    return () if shared or not row.planned or not density.with_mark_texts else row.marks


def _add_marks(
    sets: Sets, row: WaitingRow, bar_top: float, axis: TimeAxis, layout: Layout, density: _Density, shared: bool
) -> None:
    head = bar_top - density.over
    sets["marks"] = [_mark(mark, head, bar_top + density.bar + density.under) for mark in row.marks if row.planned]
    sets["mark_texts"] = _words_beside(_named_marks(row, density, shared), head, axis, layout)


def _add_label(sets: Sets, name: Sequence[str], detail: Sequence[str], number: int, top: float, line: int) -> None:
    sets["names"] = lines(name, top, line, row=number)
    sets["details"] = lines(detail, top + len(name) * line, line, row=number)


def _fit(left: Sequence[str], right: Sequence[str], layout: Layout, *, bold: bool) -> bool:
    """Whether two texts stand on one line with a gap between them. [px]"""
    if len(left) != 1 or len(right) != 1:
        return False
    taken = text_room(left[0], layout.text, bold=bold) + text_room(right[0], layout.text - 1)
    return taken + layout.text <= full_width(layout)


def _mark(mark: Mark, top: float, foot: float) -> dict[str, Any]:
    return {"t": mark.ms, "at": short(top), "at2": short(foot), "kind": "good" if mark.good else "enough"}


def _words_beside(marks: Sequence[Mark], head: float, axis: TimeAxis, layout: Layout) -> list[dict[str, Any]]:
    """The words of a row's marks, each right of the head of its line; left of it at the edge of the plot.

    Where another mark's line or words are in the way, they stand above the lines instead. [px]
    """
    size, edge = layout.text - 1, layout.plot_width + END_GAP + END_WIDTH
    lines_at = [axis.px(mark.ms) for mark in marks]
    texts: list[dict[str, Any]] = []
    taken: list[tuple[float, float]] = []
    above: list[Mark] = []
    for mark, place in sorted(zip(marks, lines_at, strict=True), key=lambda pair: -pair[1]):
        wide = text_room(mark.text, size)
        start = place + MARK_AIR + 1 if place + MARK_AIR + 1 + wide <= edge else place - MARK_AIR - 1 - wide
        span = start - MARK_AIR, start + wide + MARK_AIR
        others = [other for other in lines_at if other != place]
        free = all(span[1] <= low or high <= span[0] for low, high in (*taken, *((x, x) for x in others)))
        if start < 0 or not free or lines_at.count(place) > 1:
            above.append(mark)
            continue
        taken.append(span)
        texts.append({"t": axis.ms(start), "at": short(head + 2), "text": mark.text})
    return texts + _mark_texts(above, head - _half_line(layout), axis, layout)


def _mark_texts(marks: Sequence[Mark], foot: float, axis: TimeAxis, layout: Layout) -> list[dict[str, Any]]:
    """The words of marks over their heads, the first level lowest: no two lie on each other. [px]"""
    size = layout.text - 1
    texts: list[dict[str, Any]] = []
    taken: list[float] = []  # each level's leftmost text
    for mark in sorted(marks, key=lambda m: -m.ms):
        wide = text_room(mark.text, size)
        start = max(0.0, min(axis.px(mark.ms) - 1, layout.plot_width + END_GAP + END_WIDTH - wide))
        level = next((n for n, left in enumerate(taken) if start + wide + MARK_AIR <= left), len(taken))
        taken[level : level + 1] = [start]
        at = foot - (level + 0.5) * (size + 3) - 1
        texts.append({"t": axis.ms(start), "at": short(at), "text": mark.text})
    return texts
