"""Every INSERT of a batch: rows as they were checked, logs with their digests, and the files they came from."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable, Iterator, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

import numpy as np
import orjson
from numpy.typing import NDArray
from sqlite_utils import Database

from catalog import schema
from catalog.checking.batches import Checked
from catalog.checking.logfiles import OwnedLog
from catalog.checking.times import utc_text
from catalog.digesting.logs import FINISHED, Whole
from catalog.errors import InputRefused
from catalog.reading.folder import MAX_LOG_BYTES, Folder
from catalog.reading.progress import Progress, silent, told
from catalog.storing.marks import put_marks_in_force, store_mark_figures
from catalog.thinning import kept_points, spread_ranks

# Level 1 packs logs to about a quarter at several times the speed of the default; the size is rarely the limit.
_DEFLATE_LEVEL = 1


@dataclass(frozen=True)
class Packed:
    """The bytes of one file."""

    sha256: str
    size_bytes: int
    deflated: bytes


class Packing:
    """Files packed while others are read: deflating them takes as long as reading them, on a processor of its own."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=2)
        self._begun: dict[tuple[str, str], Future[Packed]] = {}

    def __enter__(self) -> Packing:
        return self

    def __exit__(self, *_: object) -> None:
        self._pool.shutdown(cancel_futures=True)

    def begin(self, path: str, sha256: str, content: bytes) -> None:
        """Pack a file that was just read."""
        if (path, sha256) not in self._begun:
            self._begun[path, sha256] = self._pool.submit(_deflated, sha256, content)

    def packed(self, folder: Folder, files: Mapping[str, str]) -> Iterator[tuple[str, Packed]]:
        """Path and bytes of *files*, path -> SHA-256; those that were not begun are read again.

        Raises  InputRefused when a file is not what was checked.
        """
        pending = [
            (path, self._begun.get((path, sha256)) or self._pool.submit(_read_again, folder, path, sha256))
            for path, sha256 in sorted(files.items())
        ]
        return ((path, future.result()) for path, future in pending)


def store(
    db: Database, checked: Checked, folder: Folder, *, packing: Packing, now: datetime, progress: Progress = silent
) -> None:
    """Write a checked batch. The caller holds the transaction.

    Raises  InputRefused when a file changed since it was checked.
    """
    db.execute("PRAGMA defer_foreign_keys = ON")  # files are packed beside the other work and come last
    files = packing.packed(folder, checked.files)
    _store_rows(db, checked, now=now)
    store_logs(db, told(checked.logs, progress, "Storing logs"))
    store_files(db, checked.batch["batch_id"], files)


def store_figures(db: Database, checked: Checked, *, now: datetime) -> None:
    """Write a checked batch without the bytes of its files and the samples of its logs, which no public copy needs.

    The caller holds the transaction, in a catalogue in memory that is not kept.
    """
    db.execute("PRAGMA defer_foreign_keys = ON")
    _store_rows(db, checked, now=now)
    store_logs(db, checked.logs, samples=False)
    files = ((path, Packed(sha256, 0, b"")) for path, sha256 in sorted(checked.files.items()))
    store_files(db, checked.batch["batch_id"], files)


def _store_rows(db: Database, checked: Checked, *, now: datetime) -> None:
    batch_id = checked.batch["batch_id"]
    sequence = db.execute("SELECT coalesce(max(sequence), 0) + 1 FROM batch").fetchone()[0]
    batch = {
        "batch_id": batch_id,
        "sequence": sequence,
        "title": checked.batch["title"],
        "timezone": checked.batch.get("timezone"),
        "licence": checked.batch["licence"],
        "entered_utc": utc_text(now.replace(microsecond=0)),
        "published_utc": None,
    }
    insert(db, "batch", [batch])
    for table in schema.TABLES:
        if (rows := checked.rows.get(table)) is not None:
            insert(db, table, rows)
    put_marks_in_force(db)
    store_mark_figures(db, checked.by_new_marks)


def insert(db: Database, table: str, rows: Iterable[dict[str, Any]]) -> None:
    """Insert *rows*; a column that a row leaves out takes the table's default."""
    groups: dict[tuple[str, ...], list[tuple[Any, ...]]] = {}
    for row in rows:
        groups.setdefault(tuple(row), []).append(tuple(row.values()))
    for columns, values in groups.items():
        marks = ", ".join("?" * len(columns))
        db.conn.executemany(f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({marks})", values)


def store_files(db: Database, batch_id: str, files: Iterable[tuple[str, Packed]]) -> None:
    """Keep the bytes of every file that was used, once each, and remember its name in the batch."""
    kept = {row[0] for row in db.execute("SELECT sha256 FROM raw_content")}
    for path, file in files:
        if file.sha256 not in kept:
            kept.add(file.sha256)
            insert(db, "raw_content", [asdict(file)])
        insert(db, "raw_file", [{"batch_id": batch_id, "path": path, "sha256": file.sha256}])


def _deflated(sha256: str, content: bytes) -> Packed:
    return Packed(sha256, len(content), zlib.compress(content, _DEFLATE_LEVEL))


def _read_again(folder: Folder, path: str, sha256: str) -> Packed:
    content = folder.read(path, limit=MAX_LOG_BYTES)
    if hashlib.sha256(content).hexdigest() != sha256:
        raise InputRefused(f"{path} changed while it was being entered. Nothing was entered; try again.")
    return _deflated(sha256, content)


def store_logs(db: Database, logs: Iterable[OwnedLog], *, samples: bool = True) -> None:
    """Raw samples as whole numbers in JSON text, fewer of them for charts, and the figures they come to."""
    for owned in logs:
        log, owner = owned.log, {"owner": owned.owner, "owner_id": owned.owner_id}
        drawn = log.rate_bit_s if log.latency_us is None else log.latency_us
        assert drawn is not None
        points = kept_points(drawn)
        for quantity, unit, values, charted in (
            ("t", "us", log.t_us, True),
            ("rate", "bit/s", log.rate_bit_s, True),
            ("latency", "us", log.latency_us, True),
            ("outcome", "1", log.outcome, True),
            ("span", "us", log.span_us, False),
            ("amount", "B", log.amount_b, False),
        ):
            if values is None:
                continue
            row = {**owner, "quantity": quantity, "unit": unit, "n": len(values)}
            if samples:
                insert(db, "series", [{**row, "samples": _json(values)}])
            if charted:
                insert(db, "thinned", [{**row, "samples": _json(values[points])}])
        if log.latency_us is not None and log.outcome is not None:
            _store_ordered(db, owner, np.sort(log.latency_us[log.outcome == FINISHED]))
        insert(db, "digest", [{**owner, "figure": figure, "value": value} for figure, value in owned.digest.items()])


def _store_ordered(db: Database, owner: dict[str, Any], ordered: Whole) -> None:
    """Finished latencies by rank, for the share of requests still waiting: points in time would distort it."""
    ranks = spread_ranks(len(ordered))
    for quantity, unit, values in (("ordered", "us", ordered[ranks - 1]), ("rank", "1", ranks)):
        row = {**owner, "quantity": quantity, "unit": unit, "n": len(ordered)}
        insert(db, "thinned", [{**row, "samples": _json(values)}])


def _json(values: NDArray[np.integer[Any]]) -> str:
    return orjson.dumps(np.ascontiguousarray(values), option=orjson.OPT_SERIALIZE_NUMPY).decode()
