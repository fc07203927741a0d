"""Which figures rest on summaries, means or medians of runs that are not kept, and how that is said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from builder import wording
from builder.bench.cells import Cell, natural

AS_NOTED = "as noted then"
NO_SPREAD = "no spread noted"


def summaries_of(cells: Iterable[Cell]) -> tuple[str, ...]:
    """What cells are summaries, each kind once: "mean of 3", "median of 5"; () where the runs of all are there."""
    return tuple(sorted({cell.summary for cell in cells if cell.summary}, key=natural))


def rests_on(cells: Sequence[Cell]) -> str:
    """ "2 of 6 values are summaries as noted then: mean of 3, median of 5"; "" for none."""
    summed_up = [cell for cell in cells if cell.summary]
    if not summed_up:
        return ""
    count = len(summed_up)
    are = "is a summary" if count == 1 else "are summaries"
    of = wording.count(len(cells), "value")
    return f"{count} of {of} {are} {AS_NOTED}: {', '.join(summaries_of(summed_up))}"


def why_no_interval(cells: Iterable[Cell]) -> str:
    """Why a value has no interval: of a cell that was measured once, or of summaries that give no spread."""
    once = [cell for cell in cells if cell.sd is None]
    return NO_SPREAD if once and all(cell.summary for cell in once) else "single run"
