"""Batches and corrections as folders again, in the order in which they were entered.

A catalogue keeps the bytes of every file it used, so a batch is written back as it came, not made up from its
rows. Entering the folders in the order of their names, and correcting by those of corrections, gives the same
catalogue; only the hours of entry are others, and the answers that `answers.py` adds.
"""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Callable
from pathlib import Path, PurePosixPath

from sqlite_utils import Database

from catalog.connection import path_of
from catalog.errors import CatalogUnusable, InputRefused
from catalog.exporting.answers import Step, answer_again
from catalog.whole_files import draft_beside, require_apart, whole_folder

_STEPS = """
SELECT b.sequence AS place, 0 AS number, b.batch_id AS name FROM batch AS b
UNION ALL SELECT c.after_batch, c.number, 'corrections' FROM correction_file AS c
ORDER BY place, number
"""
_BATCH_FILES = "SELECT path, sha256 FROM raw_file WHERE batch_id = ? ORDER BY path"
_CORRECTION_FILES = """
SELECT name, sha256 FROM correction_file WHERE number = :number
UNION ALL SELECT path, sha256 FROM correction_attachment WHERE file_number = :number ORDER BY 1
"""


def unheard(sentence: str) -> None:
    """For those who do not enter the export again."""


def as_it_came(folder: Path, batch_id: str) -> None:
    """A batch stays as it was entered."""


def export_batches(
    db: Database,
    folder: Path,
    *,
    finish: Callable[[Path, str], object] = as_it_came,
    refused: Callable[[str], None] = unheard,
) -> list[str]:
    """Write every batch and file of corrections into a folder of its own, such as "001-first-bench".

    What today's checks ask of rows that were entered before is answered in the batches, so that they enter again.

    finish   called for the folder of each batch, with its id
    refused  told, where one of them does not enter again, which and why

    Returns the names of these folders, in the order in which they are entered or corrected again.
    Raises  InputRefused where *folder* is in use, or the catalogue is a copy without the bytes of its files;
            CatalogUnusable where one is damaged; WriteRefused where the folder cannot be written. Then there is no
            folder, or the empty one that was there.
    """
    if folder.exists() and not folder.is_dir():
        raise InputRefused(f"{folder} is a file. Export into a new folder.")
    if folder.exists() and any(folder.iterdir()):
        raise InputRefused(f"{folder} is not empty. Export into a new folder.")
    require_apart(folder, catalog=path_of(db))
    steps_again: list[Step] = []
    with db.atomic(), whole_folder(folder) as made:
        steps = db.execute(_STEPS).fetchall()
        width = max(3, len(str(len(steps))))
        for count, (_, number, title) in enumerate(steps, start=1):
            name = f"{count:0{width}}-{title}"
            cursor = db.execute(_CORRECTION_FILES, {"number": number}) if number else db.execute(_BATCH_FILES, [title])
            files = cursor.fetchall()
            for path, sha256 in files:
                _write(made, name, path, _content(db, path, sha256))
            corrections = db.table("correction_file").get(number)["name"] if number else None
            steps_again.append(Step(made / name, None if number else title, corrections))
        with draft_beside(folder) as trial:
            if (sentence := answer_again(db, steps_again, trial)) is not None:
                refused(sentence)
        for step in steps_again:
            if step.batch_id is not None:
                finish(step.folder, step.batch_id)
    return [step.folder.name for step in steps_again]


def _content(db: Database, path: str, sha256: str) -> bytes:
    deflated = db.table("raw_content").get(sha256)["deflated"]
    if deflated is None:
        raise InputRefused(
            "This catalogue is a copy without the bytes of its files, so batches cannot be written from it."
        )
    try:
        content = zlib.decompress(deflated)
    except zlib.error:
        content = b""
    if hashlib.sha256(content).hexdigest() != sha256:
        raise CatalogUnusable(f"{path} is damaged in the catalogue; `likeloss verify` lists what else is.")
    return content


def _write(folder: Path, name: str, path: str, content: bytes) -> None:
    inside = PurePosixPath(path)
    if inside.is_absolute() or ".." in inside.parts or "\\" in path or "/" in name:
        raise InputRefused(f"{path!r} leaves its folder, so it is not written.")
    target = folder / name / inside
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(content)
