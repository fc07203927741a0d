"""What `publish` notes in the catalogue: which batches the public has seen, after which only corrections help."""

from __future__ import annotations

from collections.abc import Iterable

from sqlite_utils import Database

State = tuple[int, ...]


def state_of(db: Database) -> State:
    """Numbers that differ as soon as anybody entered, undid or corrected something."""
    row = db.execute(
        """SELECT (SELECT count(*) FROM batch), (SELECT coalesce(max(sequence), 0) FROM batch),
                  (SELECT count(*) FROM correction_file), (SELECT count(*) FROM correction)"""
    ).fetchone()
    return tuple(row)


def mark_published(db: Database, batches: Iterable[str], *, at: str) -> None:
    """Say of batches that they are published since *at* (UTC text), where that is not recorded yet.

    The caller holds the transaction.
    """
    db.conn.executemany(
        "UPDATE batch SET published_utc = ? WHERE batch_id = ? AND published_utc IS NULL",
        [(at, batch) for batch in batches],
    )
