"""What a batch bears on: the devices of which the public sees something else than before, or everything.

Two instants of one catalogue are compared, before and with the batch. All but results is compared row by row, as the
public copies hold it; of results, which ones may be seen. A table of which nothing is said here bears on everything.
"""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from catalog import schema
from catalog.connection import attach_readonly
from catalog.visibility import Asked, public_part
from catalog.visibility.asked import LEFT_AT_HOME, RESULTS
from catalog.visibility.seen import ResultsSeen, results_seen

# Rows of these are about one device, and say nothing of others.
_OF_A_DEVICE = frozenset(
    {
        "device",
        "device_alias",
        "device_radio",
        "device_port",
        "unit",
        "firmware",
        "embargo",
        "feature",
        "heat",
        "power",
        "part",
        "price",
    }
)
# A further row of these bears on what names it, which is new like the row itself.
_NAMED_BY_OTHERS = frozenset({"session", "client", "client_radio", "article", "article_device", "image"})
# Where rows came from, and what copies do not hold or hold with their results.
_NOT_LOOKED_AT = frozenset(
    {"batch", "raw_content", "raw_file", "source", "site", "digest", "hidden", *RESULTS, *LEFT_AT_HOME}
)
# Names of batches and places in files, and numbers that each copy gives anew.
_NOT_COMPARED = frozenset(
    {
        "batch_id",
        "marks_batch_id",
        "source_file",
        "source_row",
        "run_id",
        "epoch_id",
        "number",
        "heat_id",
        "power_id",
        "part_id",
        "price_id",
        "image_id",
        "embargo_id",
        "dispute_id",
        "correction_id",
    }
)


@dataclass(frozen=True)
class Shown:
    """What the public sees of a catalogue at an instant.

    part     its copy, but for most results
    results  which of them it sees
    """

    part: Database
    results: ResultsSeen

    def close(self) -> None:
        self.part.close()


def shown(catalog: Path | Database, *, as_of: datetime) -> Shown:
    """Look at a catalogue. Raises CatalogUnusable."""
    results: list[ResultsSeen] = []

    def look(db: Database) -> None:
        results.append(results_seen(db))

    part = public_part(catalog, Asked(), as_of=as_of, then=look)
    return Shown(part, results[0])


def devices_changed(before: Shown, after: Shown) -> frozenset[str] | None:
    """The devices of which anything differs; None where what differs may bear on every device."""
    changed = {
        device
        for table, device in {*before.results, *after.results}
        if before.results.get((table, device)) != after.results.get((table, device))
    }
    db = after.part
    attach_readonly(db, before.part, name="old")
    try:
        for table in schema.TABLES:
            if table in _NOT_LOOKED_AT:
                continue
            for gone, one, other in ((True, "old", "main"), (False, "main", "old")):
                devices = _only_in(db, table, one, other)
                if table in _OF_A_DEVICE and None not in devices:
                    changed |= {str(device) for device in devices}
                elif devices and (gone or table not in _NAMED_BY_OTHERS):
                    return None
    finally:
        db.execute("DETACH old")
    return None if changed & _bearing_on_all(db) else frozenset(changed)


def _only_in(db: Database, table: str, one: str, other: str) -> set[str | None]:
    """The devices of the rows that *one* has and *other* has not; None for a row that names none."""
    columns = [name for name in db.table(table).columns_dict if name not in _NOT_COMPARED]
    named, device = ", ".join(columns), "device_id" if "device_id" in columns else "NULL"
    rows = f"SELECT {named} FROM {one}.{table} EXCEPT SELECT {named} FROM {other}.{table}"
    with closing(db.execute(f"SELECT DISTINCT {device} FROM ({rows})")) as devices:
        return {name for (name,) in devices}


def _bearing_on_all(db: Database) -> set[str]:
    """Devices from whose results scatter, slopes, ceilings and series are learnt."""
    sql = """SELECT reference_device FROM house WHERE reference_device IS NOT NULL
             UNION SELECT device_id FROM ceiling JOIN run USING (run_id) UNION SELECT device_id FROM bridge"""
    return {device for (device,) in db.execute(sql).fetchall()}
