"""Batches, their files and notes, the method in force, and what was corrected or hidden."""

from __future__ import annotations

import zlib

from sqlite_utils import Database

from catalog.method import Constants, constants_from_json
from catalog.queries.selecting import ORIGIN, select
from catalog.records import BatchInfo, Correction, Embargo, Extra, Hidden, RawFile, Source

BATCHES = """
SELECT batch_id, title, timezone, licence, entered_utc, published_utc FROM batch ORDER BY sequence
"""
RAW_FILES = """
SELECT batch_id, path, sha256, size_bytes FROM raw_file JOIN raw_content USING (sha256)
ORDER BY batch_id, path
"""
SOURCES = "SELECT batch_id, source_file, sheet, map_path FROM source ORDER BY batch_id, source_file"
CONTENT = "SELECT deflated FROM raw_content WHERE sha256 = ?"
EXTRAS = f"SELECT {ORIGIN}, header, typed FROM extra ORDER BY batch_id, source_file, source_row, header"
METHODS = "SELECT version, constants FROM method ORDER BY version"
CORRECTIONS = f"""
SELECT {ORIGIN}, correction_id, table_name AS "table", row_key, column_name AS "column", was, now, reason,
       noticed_by, date, device_id AS device, run_id
FROM correction ORDER BY correction_id
"""
EMBARGOES = f"""
SELECT {ORIGIN}, subject, device_id AS device, unit_id AS unit, version, until_utc, until_typed, covers
FROM embargo ORDER BY subject, device_id, unit_id, version, batch_id, until_utc
"""
# Tables whose rows come from rows of files.
_ROWS = (
    *("run", "spot_reading", "station", "longrun", "feature", "heat", "power", "part", "price", "bridge"),
    *("withdrawal", "dispute", "row_again"),
)
HIDDEN = "SELECT what, id, covers, until_utc FROM hidden ORDER BY what, id, covers"


def batches(db: Database) -> list[BatchInfo]:
    """All batches in order of entry (in a public copy: of id)."""
    return select(db, BATCHES, BatchInfo)


def raw_files(db: Database) -> list[RawFile]:
    """All files that were entered, by batch and path."""
    return select(db, RAW_FILES, RawFile)


def sources(db: Database) -> list[Source]:
    """All sheets that were read as tables through a map, by batch and source."""
    return select(db, SOURCES, Source)


def raw_content(db: Database, sha256: str) -> bytes | None:
    """The bytes of a file as it was entered; None if unknown, or kept back as in a public copy."""
    row = db.execute(CONTENT, [sha256]).fetchone()
    return None if row is None or row[0] is None else zlib.decompress(row[0])


def is_row_of(db: Database, batch_id: str, file: str, number: int) -> bool:
    """Whether a row of a file, under any name, was entered, then or before, or a cell of that row.

    As a result, a reading, or as one that came again.
    """
    there = "batch_id = ? AND (source_file = ? OR substr(source_file, 1, length(?) + 1) = ? || '/')"
    place = [batch_id, file, file, file, number]
    return any(db.table(table).count_where(f"{there} AND source_row % 10000000 = ?", place) for table in _ROWS)


def extras(db: Database) -> list[Extra]:
    """All cells of unknown columns, by the row they are notes to."""
    return select(db, EXTRAS, Extra)


def methods(db: Database) -> list[Constants]:
    """All sets of constants, oldest first."""
    return [constants_from_json(text, version=version) for version, text in db.execute(METHODS)]


def method_in_force(db: Database) -> Constants:
    """The newest set of constants."""
    return methods(db)[-1]


def corrections(db: Database) -> list[Correction]:
    """All corrections in the order in which they were made."""
    return select(db, CORRECTIONS, Correction)


def embargoes(db: Database) -> list[Embargo]:
    """All embargoes by subject; in a public copy those that have ended."""
    return select(db, EMBARGOES, Embargo)


def hidden(db: Database) -> list[Hidden]:
    """What a preview must mark, by what and id; nothing in a public copy."""
    return select(db, HIDDEN, Hidden)
