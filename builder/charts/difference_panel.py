"""The panel below two lines: the first minus the second, its zero in ink, with a value at each place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

from builder.charts.heights import Heights
from builder.charts.label_text import Box
from builder.charts.placing import ticks
from builder.charts.range_lines import Difference, DifferenceKnot, joined, with_interval
from builder.charts.range_template import is_wide, left_of, name_size, right_of, whole_width
from builder.charts.theme import Layout, held, text_room

Rows = list[dict[str, Any]]

HEADING_ROOM = 54  # between the two panels, with one line of heading [px]

_HEADING = 14  # its foot, above the panel [px]
_LEADING = 18
_FOOT = 26  # below the least value stands what lies below zero [px]
_HEAD = 24  # above the highest point stands its value [px]
_AIR = 4
_ARROW = 21
_DOT = 6
_BESIDE = 8


def difference_data(
    difference: Difference,
    layout: Layout,
    px: Callable[[float], float],
    at: Callable[[float], float],
    height: int,
    max_gap_db: float,
) -> tuple[dict[str, Rows], Heights, int]:
    """Data sets of the panel, its scale, and how many lines its heading takes.

    px, at  from a place of the axis to px of the plot, and back
    """
    knots = sorted(difference.knots, key=lambda knot: px(knot.x))
    scale = _scale(knots, height)
    lines, totals = _headings(difference, layout)
    count = len(lines)
    wide = is_wide(layout)
    rows = count if wide and totals == count - 1 else count + 1
    data: dict[str, Rows] = {
        "headings": [
            {"at": scale.value(-_HEADING - _LEADING * (rows - 1 - row)), "text": text} for row, text in enumerate(lines)
        ],
        "totals": [{"at": scale.value(-_HEADING), "text": difference.total}] if difference.total else [],
        "zero": [{"at": 0.0}],
        "below": [{"at": scale.value(height - 9), "text": _below(difference, layout)}],
        **_steps(scale),
        **_knots(knots, max_gap_db),
        "difference_values": _values(knots, layout, px, at, scale),
    }
    return data, scale, rows


def _headings(difference: Difference, layout: Layout) -> tuple[list[str], int]:
    """Lines of the heading, and on which of them the total has room beside it; as many as there are where on none."""
    size, width = name_size(layout), whole_width(layout) - right_of(layout)
    lines = held(difference.heading, width - left_of(layout), size, bold=True)
    last = text_room(lines[-1], size, bold=True)
    beside = is_wide(layout) and last + 16 + text_room(difference.total, size) <= layout.plot_width
    return lines, len(lines) - 1 if beside or not difference.total else len(lines)


def _below(difference: Difference, layout: Layout) -> str:
    room = layout.plot_width if is_wide(layout) else layout.plot_width + left_of(layout)
    fitting = (text for text in difference.below if text_room(text, layout.text) <= room)
    return next(fitting, difference.below[-1])


def _scale(knots: Sequence[DifferenceKnot], height: int) -> Heights:
    """From below what is least to above what is greatest, zero among them, with room for words at either end."""
    values = [knot.value for knot in knots]
    low = min(0.0, *values, *(knot.low for knot in knots if knot.low is not None))
    high = max(0.0, *values, *(knot.high for knot in knots if knot.high is not None))
    foot = _FOOT + (_ARROW if any(knot.bound == "most" for knot in knots) else 0)
    head = _HEAD + (_ARROW if any(knot.bound == "least" for knot in knots) else 0)
    if high - low <= 0:
        high = low + 1.0
    per_px = max((high - low) / (height - foot - _AIR), (max(0.0, *values) - low) / (height - foot - head))
    return Heights(low - foot * per_px, low + (height - foot) * per_px, height)


def _steps(scale: Heights) -> dict[str, Rows]:
    """Lines across at round values, and what these are, left of the plot."""
    places = [at for at in ticks(scale.low, scale.high, most=5) if 6 <= scale.px(at) <= scale.height - _FOOT + 2]
    steps = [{"at": scale.value(scale.px(at) + 4.5), "text": _signed(at)} for at in places]
    return {"grid": [{"at": at} for at in places if at], "steps": steps}


def _signed(value: float) -> str:
    return f"{value:+g}".replace("-", "−") if value else "0"


def _knots(knots: Sequence[DifferenceKnot], max_gap_db: float) -> dict[str, Rows]:
    names = ("differences", "joined", "at_least", "at_most", "difference_bands", "difference_lone")
    data: dict[str, Rows] = {name: [] for name in names}
    for index, piece in enumerate(joined(sorted(knots, key=lambda knot: knot.x), max_gap_db)):
        for knot in piece:
            row = {"x": knot.x, "value": knot.value}
            data["differences"].append({**row, "piece": index})
            if not knot.measured:
                data["joined"].append(row)
            if knot.bound:
                data[f"at_{knot.bound}"].append(row)
        for part, stretch in enumerate(with_interval(piece)):
            ends = [{"x": knot.x, "low": knot.low, "high": knot.high} for knot in stretch]
            if len(ends) == 1:
                data["difference_lone"] += ends
            else:
                data["difference_bands"] += [{**row, "piece": f"{index}.{part}"} for row in ends]
    return data


def _values(
    knots: Sequence[DifferenceKnot],
    layout: Layout,
    px: Callable[[float], float],
    at: Callable[[float], float],
    scale: Heights,
) -> Rows:
    """A value beside each point where there is room: right of it and above, else below; the last ones left of it.

    Of places with room one that neither the line nor zero goes through is taken, where there is one.
    """
    # The minus is the one letter that other faces make more than a third wider.
    size, end = layout.text, layout.plot_width + right_of(layout) - _AIR
    dots: list[Box] = [
        (px(knot.x) - _DOT, scale.px(knot.value) - _DOT, px(knot.x) + _DOT, scale.px(knot.value) + _DOT)
        for knot in knots
    ]
    taken: list[Box] = list(dots)
    zero = scale.px(0)
    points = sorted((px(knot.x), scale.px(knot.value)) for knot in knots)
    strokes = [((0, zero), (layout.plot_width, zero)), *pairwise(points)]
    rows: Rows = []
    for knot in knots:
        x, y = px(knot.x), scale.px(knot.value)
        more = [f"{knot.text} more"] if not rows and knot.value > 0 and is_wide(layout) else []
        for text in (*more, knot.text):
            wide = text_room(text, size)
            right, left = (x + _BESIDE, y - _BESIDE), (x - _BESIDE - wide, y - _BESIDE)
            below = [(x + _BESIDE, y + 18), (x - _BESIDE - wide, y + 18), (x - wide / 2, y + 22)]
            starts = [right, (x - wide / 2, y - 11), below[0], left, *below[1:]]
            if x + _BESIDE + wide > layout.plot_width - _AIR:
                starts.insert(0, left)
            boxes = [(left, foot - 0.8 * size, left + wide, foot + 0.2 * size) for left, foot in starts]
            free = [i for i, box in enumerate(boxes) if _free(box, taken, end, scale.height)]
            if free:
                place = next((i for i in free if not any(_meets(boxes[i], *stroke) for stroke in strokes)), free[0])
                taken.append(boxes[place])
                rows.append({"x": at(starts[place][0]), "at": scale.value(starts[place][1]), "text": text})
                break
    return rows


def _meets(box: Box, start: tuple[float, float], end: tuple[float, float]) -> bool:
    """Whether a stroke, its left end first, goes through a box."""
    (x1, y1), (x2, y2) = start, end
    left, right = max(box[0], x1), min(box[2], x2)
    if left > right or x1 == x2:
        return False
    ys = [y1 + (y2 - y1) * (x - x1) / (x2 - x1) for x in (left, right)]
    return min(ys) < box[3] and box[1] < max(ys)


def _free(box: Box, taken: Sequence[Box], end: float, height: float) -> bool:
    if box[0] < 0 or box[2] > end or box[1] < 0 or box[3] > height - _FOOT:
        return False
    return all(box[2] <= x or x2 <= box[0] or box[3] <= y or y2 <= box[1] for x, y, x2, y2 in taken)
