"""What looks like a mistake on a whole sheet of runs, though each row alone could be true: listed, not held."""

from __future__ import annotations

from collections.abc import Iterable

from catalog.checking.known import Known
from catalog.checking.results import Pairs
from catalog.checking.rows import TypedTable


def check_runs(tables: Iterable[tuple[TypedTable, Pairs]], known: Known) -> None:
    """All of them, over the runs of one batch."""
