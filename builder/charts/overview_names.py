"""Names of devices in the overview: the maker regular, the model bold, and short ones where there is no room for both."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.charts.overview_rows import Row
from builder.charts.theme import held, text_room

GAP = 5  # between maker and model [px]


@dataclass(frozen=True, slots=True)
class Piece:
    """A part of a line, *px* right of where it begins."""

    text: str
    px: float
    bold: bool


Line = tuple[Piece, ...]


def name_lines(rows: Sequence[Row], width: float, size: float) -> list[list[Line]]:
    """Every row's name in lines that *width* has room for: in two columns where all fit, else one below the other. [px]"""
    column = max(text_room(row.maker, size) for row in rows) + GAP
    aligned = all(column + text_room(row.model, size, bold=True) <= width for row in rows)
    return [_lines(row, width, size, column if aligned else text_room(row.maker, size) + GAP) for row in rows]


def _lines(row: Row, width: float, size: float, start: float) -> list[Line]:
    if row.maker and start + text_room(row.model, size, bold=True) <= width:
        return [(Piece(row.maker, 0, False), Piece(row.model, start, True))]
    makers = held(row.maker, width, size) if row.maker else []
    models = held(row.model, width, size, bold=True)
    return [(Piece(text, 0, bold),) for texts, bold in ((makers, False), (models, True)) for text in texts]


def short_names(rows: Sequence[Row], width: float, size: float) -> list[str] | None:
    """The model, or as many of its last words as *width* has room for; None where two rows would be called alike. [px]"""
    names: list[str] = []
    for row in rows:
        words = row.model.split()
        ends = (" ".join(words[start:]) for start in range(len(words)))
        fitting = next((end for end in ends if text_room(end, size, bold=True) <= width), None)
        if fitting is None:
            return None
        names.append(fitting)
    return names if len(set(names)) == len(names) else None
