"""A name in a chart, in two parts of which one is bold, and how much room any text is given."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from builder.charts.theme import text_room

Box = tuple[float, float, float, float]  # left, top, right, bottom [px]

ELLIPSIS = "…"


@dataclass(frozen=True, slots=True)
class LabelText:
    """A name in two parts that meet at one place, one of them bold: so they keep together in any face.

    first   runs up to that place; may be empty
    second  runs on from it
    bold    which of the two
    """

    first: str
    second: str
    bold: Literal["first", "second"] = "second"

    @property
    def text(self) -> str:
        return f"{self.first}{' ' if self._space else ''}{self.second}" if self.first else self.second

    @property
    def _space(self) -> bool:
        return bool(self.first) and not self.second.startswith(",")

    def gap(self, size: float) -> float:
        """Space between the parts. [px]"""
        return 0.28 * size if self._space else 0.0

    def left(self, size: float) -> float:
        """Width to the left of the place, with what is kept free. [px]"""
        wide = text_room(self.first, size, bold=self.bold == "first")
        return wide + self.gap(size) if self.first else 0.0

    def right(self, size: float) -> float:
        """Width to the right of it. [px]"""
        return text_room(self.second, size, bold=self.bold == "second")

    def cut(self, width: float, size: float) -> LabelText:
        """The name in no more than *width* px: its middle left out, so that first and last letters stay."""
        if self.left(size) + self.right(size) <= width:
            return self
        letters, bold = self.text, True
        for kept in range(len(letters) - 1, 1, -1):
            tail = kept // 2
            text = f"{letters[: kept - tail].rstrip()}{ELLIPSIS}{letters[len(letters) - tail :].lstrip()}"
            if text_room(text, size, bold=bold) <= width:
                return LabelText("", text)
        return LabelText("", ELLIPSIS)
