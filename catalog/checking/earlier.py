"""Files that were entered before: the same bytes meaning the same, or other bytes under a name that is taken."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from typing import Any

from sqlite_utils import Database

from catalog.checking.troubles import Trouble
from catalog.errors import InputRefused, Problem
from catalog.queries.known import batches_with_file, file_hashes, maps_of_file, raw_file
from catalog.reading.batch import RawBatch
from catalog.reading.folder import MAX_LOG_BYTES
from catalog.reading.rawtable import RawTable
from catalog.reading.sources import file_of, place_of


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


def entered_in(db: Database | None, raw: RawBatch, table: RawTable, stem: str) -> str | None:
    """The batch that held this very table: the same bytes, under the same defaults and zone, and through the same map."""
    if db is None or place_of(table.file).table != file_of(table.file):
        return None  # of a sheet of the batch's workbook, other sheets say what its cells mean
    now = _meaning(raw.document.values, stem)
    plan = raw.hashes.get(table.map_file)
    for batch_id, path in batches_with_file(db, raw.hashes[file_of(table.file)]):
        maps = [file_hashes(db, batch_id).get(name) for name in maps_of_file(db, batch_id, path)]
        if (plan not in maps) if table.map_file else maps:
            continue
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


def source_row(batch_id: str, raw: RawTable) -> dict[str, Any]:
    """A table that was read through a map, as the catalogue keeps it."""
    return {
        "batch_id": batch_id,
        "source_file": raw.file,
        "sheet": place_of(raw.file).sheet,
        "map_path": raw.map_file,
    }
