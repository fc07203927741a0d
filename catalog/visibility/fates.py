"""What became of each row of a catalogue in its public copy, and by which acts, in the copy's own words.

Whoever says why a figure changed has to look past the copy: a row that went may be hidden, withdrawn or corrected. From
here they get the acts as the copy tells them, and of what it does not tell only that there was something.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from sqlite_utils import Database

from catalog.queries import Fact


@dataclass(frozen=True, slots=True)
class ToldWithdrawal:
    """A withdrawal as the copy has it."""

    what: str
    id: str
    from_date: str
    reason: str


@dataclass(frozen=True, slots=True)
class ToldCorrection:
    """A correction as the copy has it, without the key, which another copy may show otherwise."""

    table: str
    column: str
    was: str
    now: str
    reason: str
    date: str


@dataclass(frozen=True, slots=True)
class Fate:
    """What became of one row.

    batch        number of the batch it came from: compared with others, never shown
    left_out     "" for a row that is in the copy
    withdrawals  that took it out of view
    corrections  of it, or of a row that it follows from, in the order in which they were made
    untold       whether there are further corrections that the copy does not show
    values       what the catalogue says, to be compared with what the copy says, never shown
    """

    batch: int | None
    left_out: Literal["", "hidden", "withdrawn"]
    withdrawals: tuple[ToldWithdrawal, ...]
    corrections: tuple[ToldCorrection, ...]
    untold: bool
    values: tuple[object, ...] = field(repr=False)


@dataclass(frozen=True)
class Fates:
    """The fates of all rows that figures rest on.

    rows      by key of the fact (`catalog.queries.facts`)
    nameless  names that the copy gives to batches whose own must not be shown
    """

    rows: Mapping[str, Fate]
    nameless: frozenset[str]
    _places: Mapping[tuple[str, str, str, int | None], str] = field(repr=False)

    def at(self, table: str, origin: tuple[str, str, int | None]) -> str | None:
        """The key of the row of *table* that stands at a place: batch, file, row."""
        return self._places.get((table, *origin))


def fates_of(db: Database, whole: Mapping[str, Fact]) -> Fates:
    """The fates of the facts of the *whole* catalogue, once the temporary tables of this package are filled in *db*."""
    left_out: dict[tuple[str, int], str] = {
        (table, row): why for table, row, why in db.execute("SELECT tbl, row_id, why FROM temp.left_out")
    }
    withdrawals, corrections, untold = _withdrawals(db), _corrections(db), _untold(db)
    numbers = dict(db.execute("SELECT batch_id, sequence FROM src.batch").fetchall())
    workloads = {fact.about: fact for fact in whole.values() if fact.table == "workload"}
    rows: dict[str, Fate] = {}
    for key, fact in whole.items():
        here = fact.table, fact.row
        # The roles and seats of a workload stand where it does.
        owner = workloads[fact.about] if fact.table in ("workload_role", "workload_seat") else fact
        why = left_out.get((owner.table, owner.row), "")
        rows[key] = Fate(
            batch=numbers[owner.origin[0]] if owner.origin else None,
            left_out="" if not why else "withdrawn" if why == "withdrawn" else "hidden",
            withdrawals=tuple(withdrawals.get(here, ())),
            corrections=tuple(corrections.get(here, ())),
            untold=here in untold,
            values=fact.values,
        )
    nameless = {shown for (shown,) in db.execute("SELECT shown_id FROM temp.kept_batch WHERE shown_id <> batch_id")}
    places = {(fact.table, *fact.origin): key for key, fact in whole.items() if fact.origin is not None}
    return Fates(rows, frozenset(nameless), places)


def find_followers(db: Database) -> None:
    """Let temp.corrected also hold the rows that follow from a corrected one: places, evidence, roles and seats."""
    followers = [
        (table, "session", f"src.{table} AS x ON x.session_id = o.session_id")
        for table in ("run", "station", "longrun", "heat")
    ]
    followers += [
        (
            table,
            "spot_reading",
            f"src.session AS s USING (house_id) JOIN src.{table} AS x ON x.session_id = s.session_id AND x.spot = o.spot",
        )
        for table in ("run", "station", "longrun")
    ]
    followers.append(("ceiling", "run", "src.ceiling AS x ON x.run_id = o.run_id"))
    followers += [
        (table, "workload", f"src.{table} AS x ON (x.workload_id, x.version) = (o.workload_id, o.version)")
        for table in ("workload_role", "workload_seat")
    ]
    # The marks of the newest version of a workload are in force for its older ones.
    followers.append(
        (
            "role",
            "role",
            "src.workload_role AS p ON p.definition = o.role_id JOIN src.workload_role AS q "
            "ON (q.workload_id, q.role_id) = (p.workload_id, p.role_id) JOIN src.role AS x ON x.role_id = q.definition",
        )
    )
    for follower, table, joined in followers:
        db.execute(
            f"""INSERT OR IGNORE INTO temp.corrected
                SELECT c.row_id, '{follower}', x.rowid FROM temp.corrected AS c
                JOIN src.{table} AS o ON c.tbl = '{table}' AND o.rowid = c.corrected JOIN {joined}"""
        )


def _withdrawals(db: Database) -> dict[tuple[str, int], list[ToldWithdrawal]]:
    withdrawals: dict[tuple[str, int], list[ToldWithdrawal]] = defaultdict(list)
    for table, row, *fields in db.execute(
        """SELECT t.tbl, t.row_id, w.what, s.id, w.from_date, w.reason
           FROM temp.taken AS t JOIN src.withdrawal AS w ON w.rowid = t.act
           JOIN temp.shown_withdrawal AS s ON s.row_id = t.act ORDER BY w.from_date, w.what, s.id"""
    ):
        withdrawals[table, row].append(ToldWithdrawal(*fields))
    return withdrawals


def _corrections(db: Database) -> dict[tuple[str, int], list[ToldCorrection]]:
    corrections: dict[tuple[str, int], list[ToldCorrection]] = defaultdict(list)
    for table, row, *fields in db.execute(
        """SELECT c.tbl, c.corrected, x.table_name, x.column_name, x.was, x.now, x.reason, x.date
           FROM temp.corrected AS c JOIN src.correction AS x ON x.rowid = c.row_id
           JOIN temp.shown_correction AS s ON s.row_id = c.row_id ORDER BY x.correction_id"""
    ):
        corrections[table, row].append(ToldCorrection(*fields))
    return corrections


def _untold(db: Database) -> set[tuple[str, int]]:
    return {
        (table, row)
        for table, row in db.execute(
            """SELECT c.tbl, c.corrected FROM temp.corrected AS c JOIN src.correction AS x ON x.rowid = c.row_id
               WHERE x.table_name NOT LIKE '%embargo' AND c.row_id NOT IN (SELECT row_id FROM temp.shown_correction)"""
        )
    }
