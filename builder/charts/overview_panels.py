"""What stands in one panel of the overview: its head and axis, and a device's name, dot, interval and figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from builder.charts.overview_names import Line
from builder.charts.overview_rows import Cell, Row, Window
from builder.charts.overview_template import SETS, Sizes
from builder.charts.stacking import Sets, short
from builder.charts.theme import text_room
from builder.wording import trimmed

LINE = 17.0  # from one line of a name to the next [px]
AIR = 8
BEYOND_DOT = 3  # the ends of an interval reach so far out of a dot, which may be wider than it [px]
PORT = (6.0, 10.0)  # from a value that its port held back, or its interval, to its two strokes


@dataclass(frozen=True, slots=True)
class Columns:
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


def as_it_is(px: float) -> float:
    return px


def empty() -> Sets:
    return {name: [] for name in SETS if name != "notes"}


def tops_of(heights: Sequence[float], first: float) -> list[float]:
    """Top of every row, and the foot of the last. [px]"""
    tops = [float(first)]
    for height in heights:
        tops.append(tops[-1] + height)
    return tops


def panel(
    columns: Columns, window: Window, heads: tuple[float, float], tops: Sequence[float], side: str, *, axis_top: float
) -> Sets:
    """The panel without its rows: head, units, axis with its numbers, and a line below each row.

    heads  heights of its two lines of words
    side   how the ranks are aligned
    """
    sets = empty()
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
    numbered = [columns.end * part / 2 for part in range(3)]
    sets["axis"] = [{"x": 0, "at": axis_top, "at2": foot}]
    sets["grid"] = [{"x": short(place), "at": axis_top, "at2": foot} for place in numbered[1:]]
    for number, place in enumerate(numbered):
        inside = ("left", "middle", "right")[number] if columns.plot == (0, columns.width) else "middle"
        sets[inside].append({"x": place, "at": foot + 15, "text": trimmed(place, 1)})
    sets["rows"] = [{"at": top} for top in tops[1:-1]]
    return sets


def add_cell(sets: Sets, columns: Columns, cell: Cell, bar: float, line: float, side: str) -> None:
    """One device in one window. bar: height of its dot; line: of its value and ranks. [px]"""
    if cell.value is None:
        start = columns.plot[0] + (AIR if columns.plot[0] or side == "left" else 4)
        words = f"{cell.words}{cell.mark}"
        ends = start - 2, start + text_room(words, columns.sizes.small)
        sets["pads"].append(_box(ends, (bar - 9, bar + 9), columns.at))
        sets["left"].append({"x": columns.at(start), "at": bar, "text": words})
        return
    hue = "first" if cell.first else "behind"
    sets[f"dots_{hue}"].append({"x": cell.value, "at": bar})
    if cell.low is not None and cell.high is not None:
        low = max(cell.low, 0.0)
        tick = columns.sizes.radius + BEYOND_DOT
        sets[f"intervals_{hue}"].append({"low": low, "high": cell.high, "at": bar})
        sets[f"caps_{hue}"] += [{"x": x, "at": bar - tick, "at2": bar + tick} for x in (low, cell.high)]
    if cell.bound:
        sets[f"arrows_{hue}"].append({"x": cell.value, "at": bar})
    if cell.at_port:
        right = columns.px(cell.right_end)
        sets["ports"] += [{"x": columns.at(right + px), "at": bar - 9, "at2": bar + 9} for px in PORT]
    sets["firsts" if cell.first else "values"].append({"x": columns.at(columns.value), "at": line, "text": cell.text})
    sets[side].append({"x": columns.at(columns.rank), "at": line, "text": f"{cell.rank}{cell.mark}"})


def add_name(
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
                ends = left + piece.px - 2, left + piece.px + text_room(piece.text, pad, bold=piece.bold)
                sets["pads"].append(_box(ends, (top + number * line - 9, top + number * line + 9), x))
            entry = {"x": x(left + piece.px), "at": top + number * line, "text": piece.text}
            if linked:
                sets["models" if piece.bold else "makers"].append({**entry, "href": row.href})
            else:
                sets["firsts_short" if piece.bold else "shorts"].append(entry)


def add_link(
    sets: Sets, row: Row, across: tuple[float, float], down: tuple[float, float], x: Callable[[float], float]
) -> None:
    sets["links"].append({**_box(across, down, x), "href": row.href})


def _box(across: tuple[float, float], down: tuple[float, float], x: Callable[[float], float]) -> dict[str, float]:
    """A rectangle. across, down: its ends from the panel's left edge and its top [px]; x: what the first are on x."""
    return {"x": x(across[0]), "x2": x(across[1]), "at": down[0], "at2": down[1]}
