"""Rows of a chart laid out line by line, each as the data sets of what is drawn in it.

Places are px, y growing downwards.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

Sets = dict[str, list[dict[str, Any]]]  # data set -> its entries
Row = TypeVar("Row")


def stacked(
    rows: Sequence[Row], place: Callable[[int, Row, float], tuple[Sets, float]], *, height: float
) -> tuple[list[Sets], float]:
    """The rows that fit, the first always among them, and their foot.

    place   lays out a row by its number and its top; returns its data sets and its foot
    height  how far down they may reach; 0 for as far as they need
    """
    drawn: list[Sets] = []
    top = 0.0
    for number, row in enumerate(rows):
        sets, foot = place(number, row, top)
        if height and drawn and foot > height:
            break
        drawn.append(sets)
        top = foot
    return drawn, top


def lines(texts: Sequence[str], top: float, line: int, **more: Any) -> list[dict[str, Any]]:
    """Entries for lines of text below each other. line: height of one; more: what each entry has besides."""
    return [{**more, "at": short(top + (i + 0.5) * line), "text": text} for i, text in enumerate(texts)]


def short(px: float) -> float:
    """A place to a tenth of a px, which nobody sees."""
    return round(px, 1)
