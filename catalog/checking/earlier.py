"""Files that were entered before: the same bytes meaning the same, or other bytes under a name that is taken."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from typing import Any

from sqlite_utils import Database

from catalog.checking.troubles import Trouble
from catalog.errors import InputRefused, Problem
from catalog.queries.known import batches_with_file, file_hashes, raw_file
from catalog.reading.batch import RawBatch
from catalog.reading.folder import MAX_LOG_BYTES
from catalog.reading.sources import SourcePath, file_of


def holds_all_of(db: Database | None, batch_id: str, raw: RawBatch) -> bool:
    """Whether the batch of this id came with the same bytes in every one of its files."""
    if db is None:
        return False
    known = file_hashes(db, batch_id)
    if not known or not raw.hashes.items() <= known.items():
        return False
    return all(_hash(raw, path) == sha256 for path, sha256 in known.items())


def changed_file(db: Database, batch_id: str, raw: RawBatch) -> Problem | None:
    """A log, image or article that has other bytes than when the batch of this id was entered."""
    for path, sha256 in file_hashes(db, batch_id).items():
        if path in raw.hashes:
            continue
        current = _hash(raw, path)
        if current is not None and current != sha256:
            changed = Trouble(
                f"The file differs from the one that was entered with {batch_id}.",
                "A raw file never changes. Put the new one into a batch of its own, with rows of its own.",
                "changed-file",
            )
            return changed.at(path, 1, "", path)
    return None


def entered_in(db: Database | None, raw: RawBatch, file: str, stem: str) -> str | None:
    """The batch that held this very table: the same bytes, under the same defaults and zone."""
    if db is None:
        return None
    now = _meaning(raw.document.values, stem)
    if isinstance(file, SourcePath) and file.sheet:
        return None  # other sheets of its workbook say what its cells mean
    for batch_id, _ in batches_with_file(db, raw.hashes[file_of(file)]):
        document = raw_file(db, batch_id, "batch.toml")
        if document is not None and _meaning(tomllib.loads(document.decode("utf-8-sig")), stem) == now:
            return batch_id
    return None


def _meaning(document: Mapping[str, Any], stem: str) -> tuple[Any, Any]:
    """What batch.toml adds to the cells of a table."""
    defaults = document.get("defaults", {})
    return document.get("timezone"), defaults.get(stem, {}) if isinstance(defaults, dict) else {}


def _hash(raw: RawBatch, path: str) -> str | None:
    if path in raw.hashes:
        return raw.hashes[path]
    if raw.folder.refusal(path) is not None:
        return None
    try:
        return hashlib.sha256(raw.folder.read(path, limit=MAX_LOG_BYTES)).hexdigest()
    except InputRefused:
        return None
