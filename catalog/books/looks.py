"""What a copy of a sheet takes over from it beside the values."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Look:
    """How a cell is shown.

    parts  attribute of a cell of openpyxl -> style: "font", "fill", "border", "alignment"
    """

    number_format: str = "General"
    parts: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Page:
    """One sheet. Widths by column, the first being 1, are known once the first row was taken. [characters]

    rows  number and cells (column, value, look) of every row with something in it, in order
    """

    title: str
    widths: Mapping[int, float]
    rows: Iterator[tuple[int, list[tuple[int, Any, Look]]]]
