"""What follows from corrected rows: epochs from readings, places from epochs, digests from plans, old names."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping

from sqlite_utils import Database

from catalog.checking.known import Known, known_from
from catalog.checking.logfiles import planned_requests
from catalog.checking.resolving import Resolver
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.seating import seat_troubles
from catalog.checking.spots import KEY, digest_of_readings, kit_of_reading
from catalog.checking.troubles import Trouble
from catalog.correcting.lines import Line
from catalog.correcting.rows import Change, by_table
from catalog.digesting.answers import LATE_FIGURE, late_figures
from catalog.digesting.digests import request_digest
from catalog.errors import Problem
from catalog.marks import MARKS
from catalog.queries.stored_logs import stored_log
from catalog.reading.format import TABLES
from catalog.storing import insert
from catalog.storing.marks import lay_marks_again

_PLANS = frozenset({"planned_s", "planned_requests", "ended_at_s", "workload_id", "workload_version", "role_id"})
_SEATED = frozenset(
    {"client_id", "role_id", "workload_id", "workload_version"}
    | {"band", "width_mhz", "channel", "spot", "attenuation_db"}
)
_STEMS = {"run": "runs", "station": "stations", "longrun": "longruns"}


def keep_old_names(db: Database, changes: Mapping[tuple[str, int], Change]) -> None:
    """A renamed device is still found by its old name."""
    for change in by_table(changes, "device"):
        if not {"maker", "model"} & change.columns:
            continue
        old, new = change.old, change.new
        name = old["model"] if old["model"] != new["model"] else f"{old['maker']} {old['model']}"
        row = {column: new[column] for column in ("device_id", "batch_id", "source_file", "source_row")}
        if not db.table("device_alias").count_where("device_id = ? AND alias = ?", [new["device_id"], name]):
            insert(db, "device_alias", [{"alias": name, **row}])


def digest_readings(db: Database, changes: Mapping[tuple[str, int], Change], problems: list[Problem]) -> None:
    """The epochs of corrected readings anew. An epoch moves to another day only as a whole."""
    moves: dict[tuple[str, ...], set[str]] = defaultdict(set)
    touched: dict[tuple[str, ...], Line] = {}
    for change in by_table(changes, "spot_reading"):
        key = tuple(change.old[column] for column in KEY)
        touched[key] = line = change.lines[-1][1]
        if (change.old["reading_dbm"] is None) != (change.new["reading_dbm"] is None):
            named = Trouble(
                f"{key[1]} was named from {key[3]} without a reading, or read; a correction cannot make one the other.",
                "Enter readings as new rows of spots, with a valid_from of their own.",
                "spot-only-named",
            )
            problems.append(line.problem(named))
            return
        moves[key].add(change.new["valid_from"])
    for key, line in touched.items():
        left = db.table("spot_reading").count_where(_is(KEY), key)
        days = sorted(moves[key])
        if days == [key[3]]:
            _digest_epoch(db, key, key, line, problems)
        elif left or len(days) > 1:
            part = Trouble(
                f"The readings of {key[1]} from {key[3]} are one epoch and move to another day together.",
                "Correct valid_from of all of them, to the same day.",
                "part-of-epoch",
            )
            problems.append(line.problem(part))
        else:
            _digest_epoch(db, key, (*key[:3], days[0]), line, problems)


def _digest_epoch(
    db: Database, old: tuple[str, ...], new: tuple[str, ...], line: Line, problems: list[Problem]
) -> None:
    if old != new and db.table("epoch").count_where(_is(KEY), new):
        taken = Trouble(f"{new[1]} has an epoch from {new[3]} already.", "Correct the day.", "epoch-closed")
        problems.append(line.problem(taken))
        return
    rows = list(db.query(f"SELECT * FROM spot_reading WHERE {_is(KEY)} ORDER BY reading_number", new))
    if all(row["reading_dbm"] is None for row in rows):
        return  # the spot is only named
    kits = sorted({kit for row in rows if (kit := kit_of_reading(row)) is not None})
    if len(kits) > 1:
        mixed = Trouble(
            f"The readings of {new[1]} from {new[3]} name several kits: {', '.join(kits)}.",
            "One epoch is read with one source and one receiver; correct them all.",
            "several-kits",
        )
        problems.append(line.problem(mixed))
        return
    values = {**digest_of_readings(rows), "valid_from": new[3]} | ({"kit": kits[0]} if kits else {})
    db.execute(
        f"UPDATE epoch SET {', '.join(f'{column} = ?' for column in values)} WHERE {_is(KEY)}",
        [*values.values(), *old],
    )


def place_again(db: Database, changes: Mapping[tuple[str, int], Change], problems: list[Problem]) -> None:
    """Results whose session or epoch moved to another day or house get the attenuation of that day."""
    lines: dict[tuple[str, int], Line] = {}
    for change in by_table(changes, "session"):
        if {"date", "house_id"} & change.columns:
            _collect(db, lines, "session_id = ?", [change.new["session_id"]], change.lines[-1][1])
    for change in by_table(changes, "spot_reading"):
        if "valid_from" in change.columns:
            where = "spot = ? AND session_id IN (SELECT session_id FROM session WHERE house_id = ?)"
            _collect(db, lines, where, [change.new["spot"], change.new["house_id"]], change.lines[-1][1])
    if not lines:
        return
    resolver = Resolver(known_from(db))
    for (table, number), line in lines.items():
        row = db.table(table).get(number)
        spot = {"spot": row["spot"]}
        typed_table = TypedTable(table=TABLES[_STEMS[table]], file=line.file)
        typed = TypedRow(line.file, line.row, spot, spot, frozenset())
        place = resolver.epoch(typed_table, typed, row["session_id"], row["band"])
        for problem in typed_table.problems:
            problems.append(line.problem(Trouble(problem.expected, "Correct what rests on it too.", problem.code)))
        if table == "run" and not typed_table.problems:
            db.table("run").update(number, {column: place[column] for column in ("spot_since", "epoch_id")})


def _collect(db: Database, lines: dict[tuple[str, int], Line], where: str, values: list[str], line: Line) -> None:
    for table in _STEMS:
        for (number,) in db.execute(
            f"SELECT {table}_id FROM {table} WHERE spot IS NOT NULL AND {where} ORDER BY {table}_id", values
        ):
            lines[table, number] = line


def digest_requests(db: Database, changes: Mapping[tuple[str, int], Change], known: Known) -> None:
    """Digests of request logs whose plan was corrected; declare_marks sees to those whose role has other marks."""
    numbers = {change.rowid for change in by_table(changes, "station") if _PLANS & change.columns}
    for number in sorted(numbers):
        log = stored_log(db, "station", number)
        if log is None or log.kind != "requests":
            continue
        row = db.table("station").get(number)
        role = known.roles[row["workload_id"], row["workload_version"]][row["role_id"]]
        figures = request_digest(log, planned=planned_requests(row, log), role=role)
        db.execute(
            "DELETE FROM digest WHERE owner = 'station' AND owner_id = ? "
            "AND figure NOT IN ('started_epoch_s', 'common_s', 'first_row', 'last_row')",
            [number],
        )
        of = {"owner": "station", "owner_id": number}
        insert(db, "digest", [{**of, "figure": figure, "value": value} for figure, value in figures.items()])


def count_late_again(db: Database, changes: Mapping[tuple[str, int], Change]) -> None:
    """Digests of long runs whose mark was corrected."""
    for number in sorted(change.rowid for change in by_table(changes, "longrun") if "mark_ms" in change.columns):
        log = stored_log(db, "longrun", number)
        if log is None or log.kind != "requests":
            continue
        of = {"owner": "longrun", "owner_id": number}
        db.execute(
            "DELETE FROM digest WHERE owner = 'longrun' AND owner_id = ? "
            "AND (figure = ? OR figure GLOB 'hour_[0-9]*_' || ?)",
            [number, LATE_FIGURE, LATE_FIGURE],
        )
        figures = late_figures(log, mark_ms=db.table("longrun").get(number)["mark_ms"])
        insert(db, "digest", [{**of, "figure": figure, "value": value} for figure, value in figures.items()])


def check_seats(db: Database, changes: Mapping[tuple[str, int], Change], known: Known, problems: list[Problem]) -> None:
    """A corrected row of a mix that puts a machine into two places or two seats."""
    for change in by_table(changes, "station"):
        if not _SEATED & change.columns:
            continue
        members = list(db.query("SELECT * FROM station WHERE mix_id = ? ORDER BY station_id", [change.new["mix_id"]]))
        for _, _, trouble in seat_troubles(members, known):
            problems.append(change.lines[-1][1].problem(trouble))
            break


def declare_marks(db: Database, changes: Mapping[tuple[str, int], Change], problems: list[Problem]) -> None:
    """Let the batch that declared a corrected mark have declared the corrected one, and put it in force."""
    corrected = [change for change in by_table(changes, "role") if set(MARKS) & change.columns]
    for change in corrected:
        _declare(db, change)
    lay_marks_again(db, changed=[change.new["role_id"] for change in corrected])
    for change in corrected:
        for name, line in change.lines:
            (now,) = db.execute(f"SELECT {name} FROM role WHERE role_id = ?", [change.new["role_id"]]).fetchone()
            if now != change.new[name]:
                older = Trouble(
                    "The marks of the newest version of the workload are in force for this one.",
                    "Correct those of the newest version.",
                    "not-in-force",
                )
                problems.append(line.problem(older))


def _declare(db: Database, change: Change) -> None:
    """In every declaration of the mark that was corrected; where there is none, in that of the batch that brought the role."""
    role_id = change.new["role_id"]
    rows = db.execute("SELECT batch_id, said FROM role_declaration WHERE role_id = ? ORDER BY batch_id", [role_id])
    texts = {batch: json.loads(said) for batch, said in rows.fetchall()}
    for name in change.columns.intersection(MARKS):
        stating = [said for said in texts.values() if name in said and said[name] == change.old[name]]
        for said in stating or [texts.setdefault(change.new["batch_id"], {})]:
            said[name] = change.new[name]
    db.execute("DELETE FROM role_declaration WHERE role_id = ?", [role_id])
    of = {"role_id": role_id}
    texts = {batch: {name: mark for name, mark in said.items() if mark is not None} for batch, said in texts.items()}
    insert(
        db,
        "role_declaration",
        [{**of, "batch_id": batch, "said": json.dumps(said, sort_keys=True)} for batch, said in texts.items() if said],
    )


def _is(columns: Iterable[str]) -> str:
    return " AND ".join(f"{column} = ?" for column in columns)
