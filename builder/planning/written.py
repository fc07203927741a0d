"""A plan as a new batch: its rows still to be measured, each with the name of its log."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from sqlite_utils import Database

from builder.planning.plans import Plan
from builder.planning.schedules import PlannedRow
from catalog import queries
from catalog.beginning.planned_batches import PlannedBatch, write_planned_folder
from catalog.beginning.skeletons import batch_id_of, slug_of
from catalog.errors import InputRefused
from catalog.reading.format import PLANNED

_RUNS = (
    "when", "device", "unit", "firmware", "client", "driver", "session", "settings", "band", "width_mhz", "direction",
    "protocol", "flows", "security", "spot", "attenuation_db", "level_dbm", "repeat", "throughput_mbit_s", "outcome",
    "log", "note",
)  # fmt: skip
_STATIONS = (
    "mix", "workload", "workload_version", "when", "device", "unit", "firmware", "client", "driver", "session",
    "settings", "role", "band", "width_mhz", "spot", "attenuation_db", "planned_s", "planned_requests", "outcome", "log",
    "note",
)  # fmt: skip
_COLUMNS = {"runs": _RUNS, "stations": _STATIONS}


def planned_batch(plan: Plan, name: str, catalog: Database, *, today: date) -> PlannedBatch:
    """The batch of a plan.

    name   what its id is made of
    today  of the first session; the others are on the days after it
    """
    batches = queries.batches(catalog)
    identifier = _free(batch_id_of(slug_of(name), today), {batch.batch_id for batch in batches})
    days = max((row.day for row in plan.rows), default=0)
    taken = {session.session_id for session in queries.sessions(catalog)}
    sessions = [_free(f"{identifier}-day-{day + 1}", taken) for day in range(days)]
    last = batches[-1] if batches else None
    house = plan.lattice.spots[0].house
    device = plan.lattice.device.subject
    return PlannedBatch(
        keys={
            "id": identifier,
            "title": f"{device.maker} {device.model}, planned {today.isoformat()}",
            "timezone": (last.timezone if last else None) or "UTC",
            "licence": last.licence if last else "CC-BY-4.0",
        },
        sessions=[(session, house, (today + timedelta(days=day)).isoformat()) for day, session in enumerate(sessions)],
        tables={
            stem: (columns, [_texts(row, columns, sessions) for row in of_table])
            for stem, columns in _COLUMNS.items()
            if (of_table := [row for row in plan.rows if row.table == stem])
        },
        purpose={
            key: value for key, value in (("against", plan.question.against), ("window", plan.question.window)) if value
        },
    )


def write_plan(plan: Plan, path: Path, catalog: Database, *, today: date) -> int:
    """Write a plan to a new folder, or to a new workbook where *path* ends in .xlsx. Returns the rows written.

    Raises  InputRefused where something is there already or there is nothing to measure; WriteRefused.
    """
    if path.exists():
        raise InputRefused(f"{path} is there already. A plan wants a name of its own.")
    if not plan.rows:
        raise InputRefused(f"Nothing has to be measured, so {path} was not written.")
    if path.suffix and path.suffix.casefold() != ".xlsx":
        raise InputRefused(
            f"{path} is neither a folder nor an .xlsx workbook. Write such as bench-day or bench-day.xlsx."
        )
    batch = planned_batch(plan, path.stem, catalog, today=today)
    if path.suffix:
        from catalog.books.filling import write_planned_workbook

        write_planned_workbook(path, batch, catalog=catalog, today=today)
    else:
        write_planned_folder(path, batch)
    return sum(len(rows) for _, rows in batch.tables.values())


def _texts(row: PlannedRow, columns: Sequence[str], sessions: Sequence[str]) -> tuple[str, ...]:
    """A row of a table."""
    values = {
        **dict(row.values),
        "device": row.device,
        "unit": row.unit,
        "firmware": row.firmware,
        "client": row.client,
        "driver": row.driver,
        "session": sessions[row.day - 1],
        "band": row.band,
        "width_mhz": "" if row.width_mhz is None else str(row.width_mhz),
        "direction": row.direction,
        "spot": row.spot,
        "attenuation_db": "" if row.attenuation_db is None else repr(row.attenuation_db),
        "repeat": "" if row.repeat is None else str(row.repeat),
        "outcome": PLANNED,
        "log": row.log,
    }
    return tuple(values.get(column, "") for column in columns)


def _free(name: str, taken: set[str]) -> str:
    """The name, with a number behind it where it is taken."""
    number, free = 1, name
    while free in taken:
        number += 1
        free = f"{name}-{number}"
    return free
