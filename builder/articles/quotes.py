"""A quote: what a binding says, and what must stand beside it; with the words every kind of quote shares."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from builder import wording
from builder.bench.bench import Subject
from builder.bench.cells import Cell, cell_figure

SPACE = "\u00a0"  # between a number and its unit
RATE_UNIT = f"{SPACE}Mbit/s"


@dataclass(frozen=True, slots=True)
class Quote:
    """What a binding says, and what must stand beside it.

    text     as the article prints it
    what     the quantity in words
    whose    devices with firmware and unit
    group    conditions in words; "" where they play no part
    dates    days of the tests; "" where none was measured, or none is known
    runs     finished runs behind it; 0 where none counts
    devices  their ids: the pages on which it stands
    remark   what its author should look at, such as the age of a price; "" for nothing
    figures  ids of the figures it states or rests on: a dispute about one of them is one about it
    mark     what is printed behind it wherever it stands, such as a port that held it back; "" for nothing
    """

    text: str
    what: str
    whose: str
    group: str
    dates: str
    runs: int
    devices: tuple[str, ...]
    remark: str = ""
    figures: tuple[str, ...] = ()
    mark: str = ""

    @property
    def printed(self) -> str:
        """The text with its mark, in one pair of parentheses."""
        if not self.mark:
            return self.text
        return f"{self.text[:-1]}; {self.mark})" if self.text.endswith(")") else f"{self.text} ({self.mark})"


def whose(*subjects: Subject) -> str:
    """ "Tessarik Cupola 1.2, unit A"; of several a listing."""
    return wording.listing(
        [
            f"{subject.maker} {subject.model} {subject.firmware}, unit {subject.unit}"
            + (f", with {subject.under}" if subject.under else "")
            for subject in subjects
        ]
    )


def dates_of(cells: Sequence[Cell]) -> str:
    """The days of cells in words; "" for none."""
    days = sorted(cell.date for cell in cells)
    return wording.date_range(days[0], days[-1]) if days else ""


def figures_of(cells: Iterable[Cell]) -> tuple[str, ...]:
    """Ids of the cells' figures."""
    return tuple(cell_figure(cell) for cell in cells)


def unbroken(text: str) -> str:
    """A text whose numbers stay on one line with their units."""
    return text.replace(" ", SPACE)
