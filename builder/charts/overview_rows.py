"""Rows of the overview: what each device gives in near, middle and far, or why it has no value there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from builder.charts.figures import TableTwin, interval_text


@dataclass(frozen=True, slots=True)
class Window:
    """One of the panels: its name, and where it lies, as printed: "A wall or two away", "60–75 dB"."""

    name: str
    span: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """What one device gives in one window.

    value      None where it was not tested over the whole window; then *words* say why [Mbit/s]
    low, high  the interval, None where there is none [Mbit/s]
    bound      whether the value is only a lower bound
    at_port    whether the device's own port held it back
    first      whether the tests leave open that it is the first there
    text       the value as it is printed everywhere else
    rank       the ranks it may have: "1–3"
    mark       what refers to a note: "†"; "" for nothing
    """

    value: float | None = None
    low: float | None = None
    high: float | None = None
    bound: bool = False
    at_port: bool = False
    first: bool = False
    text: str = ""
    rank: str = ""
    words: str = ""
    mark: str = ""

    def __post_init__(self) -> None:
        if (self.value is None) != bool(self.words):
            raise ValueError(f"a cell has either a value or words, got {self.value} and {self.words!r}")
        if self.value is None:
            return
        if self.value < 0:
            raise ValueError(f"{self.value:g} is below 0")
        if not (self.low or 0.0) <= self.value <= (self.value if self.high is None else self.high):
            raise ValueError(f"{self.value:g} lies outside of its interval {self.low} to {self.high}")

    @property
    def right_end(self) -> float:
        """How far to the right it reaches. [Mbit/s]"""
        return max(self.value or 0.0, self.high or 0.0)

    @property
    def signs(self) -> float:
        """Room for the arrow or the strokes right of it, as a part of where it lies."""
        return 1.14 if self.bound else 1.08 if self.at_port else 1.0

    @property
    def interval(self) -> str:
        if self.low is None or self.high is None:
            return "lower bound" if self.bound else "no interval"
        return interval_text(self.low, self.high, printed=self.text)


@dataclass(frozen=True, slots=True)
class Row:
    """A device: its name in two parts, where it leads to, and a cell for each window."""

    maker: str
    model: str
    href: str
    cells: tuple[Cell, ...]

    @property
    def name(self) -> str:
        return f"{self.maker} {self.model}".strip()


def overview_table(rows: Sequence[Row], windows: Sequence[Window]) -> TableTwin:
    """Every value of the rows as text."""
    columns = [text for w in windows for text in (f"{w.name}, {w.span}", "Rank")]
    return TableTwin(
        caption="Mean over each window (Mbit/s) with its 95 % interval, and the ranks it may have there",
        columns=("Device", *columns),
        rows=tuple((row.name, *(text for cell in row.cells for text in _texts(cell))) for row in rows),
    )


def _texts(cell: Cell) -> tuple[str, str]:
    if cell.value is None:
        return f"{cell.words}{cell.mark}", "not ranked"
    port = ", at its port" if cell.at_port else ""
    return f"{cell.text} ({cell.interval}{port})", f"{cell.rank}{cell.mark}"
