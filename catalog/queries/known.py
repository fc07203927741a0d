"""What a batch is held against: the rows a catalogue already has, as plain mappings of schema.py's columns."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from sqlite_utils import Database

from catalog import schema

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# The measured tables that can grow large are asked by device; every one of them has device_id.
_BY_DEVICE = frozenset({"run", "station", "longrun", "feature", "heat", "power", "part", "price", "bridge"})


def table_rows(db: Database, table: str, *, devices: Iterable[str] | None = None) -> list[dict[str, Any]]:
    """All rows of *table*, or only those of some *devices*, in the order they were entered."""
    assert table in schema.TABLES, table
    sql, values = f"SELECT * FROM {table}", []
    if devices is not None and table in _BY_DEVICE:
        values = sorted(set(devices))
        sql += f" WHERE device_id IN ({', '.join('?' * len(values))})"
    return list(db.query(f"{sql} ORDER BY rowid", values))


def numbered_rows(db: Database, table: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """All rows of *table*, each behind its rowid, by which they are ordered."""
    assert table in schema.TABLES, table
    for row in db.query(f"SELECT rowid AS rowid, * FROM {table} ORDER BY rowid"):
        yield row.pop("rowid"), row


def next_id(db: Database, table: str, column: str) -> int:
    """The number after the highest one in use."""
    assert table in schema.TABLES, table
    return int(db.execute(f"SELECT coalesce(max({column}), 0) + 1 FROM {table}").fetchone()[0])


def batches_with_file(db: Database, sha256: str) -> list[tuple[str, str]]:
    """Batch and path of every file with this content, oldest batch first."""
    sql = """SELECT f.batch_id, f.path FROM raw_file AS f JOIN batch AS b USING (batch_id) WHERE f.sha256 = ?
             ORDER BY b.sequence, f.path"""
    return list(db.execute(sql, [sha256]))


def raw_file(db: Database, batch_id: str, path: str) -> bytes | None:
    """The bytes of a file a batch came with; None when it had none of this name or they are not kept here."""
    import zlib

    row = db.execute(
        "SELECT c.deflated FROM raw_file AS f JOIN raw_content AS c USING (sha256) WHERE f.batch_id = ? AND f.path = ?",
        [batch_id, path],
    ).fetchone()
    return zlib.decompress(row[0]) if row and row[0] is not None else None


def maps_of_file(db: Database, batch_id: str, path: str) -> list[str]:
    """The reading maps through which a batch read tables from a file."""
    sql = "SELECT map_path FROM source WHERE batch_id = ? AND substr(source_file, 1, length(?) + 1) = ? || '/'"
    return [name for (name,) in db.execute(sql, [batch_id, path, path])]


def file_hashes(db: Database, batch_id: str) -> dict[str, str]:
    """Path -> SHA-256 of the files that a batch came with."""
    return dict(db.execute("SELECT path, sha256 FROM raw_file WHERE batch_id = ? ORDER BY path", [batch_id]))


def digests_of(db: Database, figures: Iterable[str]) -> dict[tuple[str, int], dict[str, float]]:
    """Some figures of every log, by its owner and the owner's number."""
    names = sorted(figures)
    cursor = db.execute(
        f"SELECT owner, owner_id, figure, value FROM digest WHERE figure IN ({', '.join('?' * len(names))}) "
        "ORDER BY owner, owner_id, figure",
        names,
    )
    return {owner: {figure: value for *_, figure, value in rows} for owner, rows in groupby(cursor, itemgetter(0, 1))}


def samples_of(db: Database, owner: str, number: int, *, within: str = "main") -> dict[str, NDArray[np.int64]]:
    """The raw samples of one log, by quantity, in the units of `series`; *within* an attached catalogue."""
    import numpy as np
    import orjson

    cursor = db.execute(
        f"SELECT quantity, samples FROM {within}.series WHERE owner = ? AND owner_id = ? ORDER BY quantity",
        [owner, number],
    )
    return {quantity: np.array(orjson.loads(samples), dtype=np.int64) for quantity, samples in cursor}


def origin_of_row(db: Database, owner: str, number: int) -> tuple[str, str, int]:
    """Batch, file and row of a run, station or long run."""
    assert owner in ("run", "station", "longrun"), owner
    sql = f"SELECT batch_id, source_file, source_row FROM {owner} WHERE {owner}_id = ?"
    batch, file, row = db.execute(sql, [number]).fetchone()
    return str(batch), str(file), int(row)


def named_spots(db: Database) -> list[dict[str, Any]]:
    """Rows of spot_reading that only name a spot, without a reading."""
    return list(db.query("SELECT * FROM spot_reading WHERE reading_dbm IS NULL ORDER BY rowid"))


def latest_run_day(db: Database, house_id: str, spot: str, band: str) -> str | None:
    """Day or month of the latest session with a run at a spot in a band, alone or with other links."""
    row = db.execute(
        "SELECT s.date FROM run AS r JOIN session AS s USING (session_id) "
        "WHERE s.house_id = ? AND r.spot = ? AND '+' || r.band || '+' LIKE '%+' || ? || '+%' "
        "ORDER BY substr(s.date || '-31', 1, 10) DESC LIMIT 1",
        [house_id, spot, band],
    ).fetchone()
    return None if row is None else str(row[0])


def spellings(db: Database, table: str, column: str) -> set[str]:
    """Every text that stands in a column."""
    return {text for (text,) in db.execute(f"SELECT DISTINCT {column} FROM {table} WHERE {column} IS NOT NULL")}
