"""What a bench said that its work takes: [bench] of its batches, a later batch over an earlier one.

No figure rests on these minutes, so the catalogue keeps them where they were written: in the batch's own file.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import PurePosixPath
from typing import Any

from sqlite_utils import Database

from catalog import queries
from catalog.checking.bench_minutes import MINUTES
from catalog.reading.books import BOOK_SUFFIXES, batch_sheet
from catalog.reading.sheet_document import document_of
from catalog.reading.thing_sheets import BATCH


def declared_minutes(db: Database) -> dict[str, float]:
    """Name of a cost (`run_minutes`, ...) -> minutes, as far as a batch declares it; nothing of a public copy."""
    order = [batch.batch_id for batch in queries.batches(db)]
    files: dict[str, dict[str, str]] = {}
    for file in queries.raw_files(db):
        name = file.path
        if name == "batch.toml" or ("/" not in name and PurePosixPath(name).suffix.casefold() in BOOK_SUFFIXES):
            files.setdefault(file.batch_id, {})[name] = file.sha256
    declared: dict[str, float] = {}
    for batch in filter(files.__contains__, order):
        of_batch = files[batch]
        names = ["batch.toml"] if "batch.toml" in of_batch else sorted(of_batch)
        for name in names:
            content = queries.raw_content(db, of_batch[name])
            section = {} if content is None else _document(name, content).get("bench", {})
            if isinstance(section, dict):
                declared |= {key: float(section[key]) for key in MINUTES if key in section}
    return declared


def _document(name: str, content: bytes) -> Mapping[str, Any]:
    if name == "batch.toml":
        return tomllib.loads(content.decode("utf-8-sig"))
    sheet = batch_sheet(name, content)
    return {} if sheet is None or sheet.stem != BATCH else document_of(name, [sheet])[0].values
