"""Which results may be seen, without a copy of them: for who asks whether there are others than before.

Both are asked while a copy is made (`public_part(then=…)`), once it is known what goes in. Like `asked`, they read
tables whole and not by their indexes.
"""

from __future__ import annotations

from collections.abc import Mapping

from sqlite_utils import Database

from catalog.visibility.asked import RESULTS
from catalog.visibility.hiding import kept

ResultsSeen = Mapping[tuple[str, str], str]
"""Table and device -> the numbers of its visible rows in the whole catalogue, each with what a later batch said of it."""

Link = tuple[str, str | None, str, int, str, str | None, int | None, str | None, int]
"""Client, driver, band, width, direction, protocol, flows, security and method of a run."""


def results_seen(db: Database) -> ResultsSeen:
    """The visible rows of RESULTS by device. What a row says is not compared: no batch writes into one that is there."""
    seen: dict[tuple[str, str], str] = {}
    for table in RESULTS:
        rows = db.execute(
            f"""SELECT device_id, group_concat(row, ' ') FROM (
                    SELECT x.device_id, x.{table}_id || coalesce(m.said, '') AS row
                    FROM src.{table} AS x NOT INDEXED
                    LEFT JOIN temp.moved AS m ON m.tbl = '{table}' AND m.row_id = x.rowid
                    WHERE {kept(table, "x")} ORDER BY x.{table}_id)
                GROUP BY device_id"""
        )
        seen |= {(table, device): numbers for device, numbers in rows}
    return seen


def links_seen(db: Database) -> list[Link]:
    """Every kind of link over which a visible run was made, with a value or without, in no order."""
    return list(
        db.execute(
            f"""SELECT DISTINCT client_id, driver, band, width_mhz, direction, protocol, flows, security, method
                FROM src.run AS x NOT INDEXED WHERE {kept("run", "x")}"""
        )
    )
