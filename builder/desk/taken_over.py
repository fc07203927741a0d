"""Runs and cells of a copy, most of them taken over from the copy before.

Reading 57,600 runs and making cells of them takes a second, and an edit touches the runs of a few devices. Which ones
is found by comparing the two copies, row by row, so whatever happened in between is seen: a batch that was entered,
corrected or taken back out. For that the runs of a device keep their numbers while others get more (`Spread`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from typing import TypeVar

from sqlite_utils import Database

from builder.bench.bounds import Limits
from builder.bench.cells import Cell
from builder.bench.cells import cells as all_cells
from catalog import queries
from catalog.connection import attach_readonly
from catalog.records import Run

Measurement = TypeVar("Measurement", Run, Cell)

# What a run takes from other tables (queries.RUNS): rows that are gone or differ may have changed any run.
_JOINED = (
    "SELECT session_id, house_id, date FROM {}.session",
    "SELECT client_id, series FROM {}.client",
    "SELECT client_id, version, series FROM {}.client_driver",
    "SELECT epoch_id, kit, attenuation_db, readings, readings_sd_db FROM {}.epoch",
    "SELECT house_id, min(kit) FROM {}.epoch GROUP BY house_id HAVING count(DISTINCT kit) = 1",
)


@dataclass(frozen=True)
class Measured:
    """What was measured, as one copy holds it; the copy's numbers were spread."""

    copy: Database
    runs: Mapping[str, Sequence[Run]]  # by device
    limits: Limits
    series: Mapping[tuple[str, str | None], str]
    cells: Mapping[str, Sequence[Cell]]  # by device


class TakingOver:
    """Gives what `queries.runs` and `cells` give of *copy*, by way of what was *before*."""

    def __init__(self, before: Measured | None) -> None:
        self._before = before
        self._copy: Database | None = None
        self._kept: set[str] = set()
        self._runs: Mapping[str, Sequence[Run]] = {}
        self.measured: Measured | None = None

    def runs(self, copy: Database) -> dict[str, dict[int, Run]]:
        """All runs of the copy by device, each by its number, in their order."""
        self._copy = copy
        if self._before is None or (changed := _changed(copy, self._before.copy)) is None:
            self._runs = _by_device(queries.runs(copy))
        else:
            read = _by_device(queries.runs(copy, devices=sorted(changed)) if changed else ())
            there = [device for (device,) in copy.execute("SELECT DISTINCT device_id FROM run").fetchall()]
            self._kept = set(there) - changed
            known = self._before.runs
            self._runs = {device: read[device] if device in read else known[device] for device in sorted(there)}
        return {device: {run.run_id: run for run in runs} for device, runs in self._runs.items()}

    def cells(self, runs: Iterable[Run], limits: Limits, *, series: Mapping[tuple[str, str | None], str]) -> list[Cell]:
        """All cells of those runs. Cells of a device rest on its own runs, on limits and on series alone."""
        before, known = self._before, set[str]()
        if before is not None and (limits.ceilings, limits.labs) == (before.limits.ceilings, before.limits.labs):
            ports = before.limits.ports
            if all(series.get(setup) == one for setup, one in before.series.items()):
                known = {device for device in self._kept if limits.ports.get(device) == ports.get(device)}
        fresh = (run for device, of_device in self._runs.items() if device not in known for run in of_device)
        cells: dict[str, Sequence[Cell]] = dict(_by_device(all_cells(fresh, limits, series=series)))
        if before is not None:
            cells |= {device: before.cells[device] for device in known if device in before.cells}
        assert self._copy is not None, "runs are asked for first"
        self.measured = Measured(self._copy, self._runs, limits, series, cells)
        return [cell for device in sorted(cells) for cell in cells[device]]


def _changed(copy: Database, before: Database) -> set[str] | None:
    """The devices whose runs are not the same in both copies; None where what runs take from elsewhere changed."""
    attach_readonly(copy, before, name="old")
    try:
        for joined in _JOINED:
            gone = f"{joined.format('old')} EXCEPT {joined.format('main')}"
            if copy.execute(f"SELECT 1 FROM ({gone}) LIMIT 1").fetchone():
                return None
        for one, other in (("old", "main"), ("main", "old")):
            if copy.execute(f"SELECT * FROM {one}.settings EXCEPT SELECT * FROM {other}.settings LIMIT 1").fetchone():
                return None
        columns = [name for name in copy.table("run").columns_dict if name != "run_id"]
        differ = " OR ".join(f"n.{name} IS NOT o.{name}" for name in columns)
        with closing(
            copy.execute(
                f"""SELECT DISTINCT device_id FROM main.run AS n LEFT JOIN old.run AS o USING (run_id, device_id)
                     WHERE o.run_id IS NULL OR {differ}
                    UNION
                    SELECT device_id FROM old.run AS o LEFT JOIN main.run AS n USING (run_id, device_id)
                     WHERE n.run_id IS NULL"""
            )
        ) as rows:
            return {device for (device,) in rows}
    finally:
        copy.execute("DETACH old")


def _by_device(records: Iterable[Measurement]) -> dict[str, list[Measurement]]:
    grouped: dict[str, list[Measurement]] = {}
    for record in records:
        grouped.setdefault(record.device, []).append(record)
    return grouped
