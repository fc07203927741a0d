"""The batches of a catalogue as workbooks, one each, with their logs and pictures beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from sqlite_utils import Database

from catalog.books.converting import turn_into_workbook
from catalog.exporting import export_batches
from catalog.exporting.batches import unheard


def export_workbooks(
    db: Database, folder: Path, *, refused: Callable[[str], None] = unheard
) -> tuple[list[str], list[str]]:
    """Write every batch as a workbook in a folder of its own, such as "001-first-bench/first-bench.xlsx".

    Corrections, and batches that came as a workbook, are written as they came.

    refused  as `export_batches`

    Returns  the names of the folders, in the order in which they are entered or corrected again; and the ids of
             batches that say what no sheet can hold, which are folders as they came
    Raises   as `export_batches`
    """
    left: list[str] = []

    def finish(place: Path, batch_id: str) -> None:
        if (place / "batch.toml").exists() and not turn_into_workbook(place, batch_id):
            left.append(batch_id)

    return export_batches(db, folder, finish=finish, refused=refused), left
