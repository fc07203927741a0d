"""What is known without the day, and with it: two benches of the devices of the day and all that were tested over its links.

The first is read once for each state of the catalogue. For the second only the devices of the day are read again: cells
rest on the runs of their own device, on what caps values and on series, so those of all others are taken over.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder.bench.bench import Bench, load_bench
from builder.bench.bounds import Limits
from builder.bench.cells import Cell, cells
from builder.planning.costs import Costs, costs_of
from catalog import queries
from catalog.beginning.declared_minutes import declared_minutes
from catalog.checking.batches import Checked
from catalog.entering import as_if_entered
from catalog.records import Run
from catalog.visibility import Asked, full_part

Series = Mapping[tuple[str, str | None], str]


@dataclass(frozen=True, slots=True)
class Before:
    """The part of a catalogue that a day is about.

    state  of its file
    """

    catalog: Path
    state: tuple[int, ...]
    asked: Asked
    bench: Bench
    series: Series
    costs: Costs


class Benches:
    """Kept from look to look by the process that looks."""

    def __init__(self) -> None:
        self._before: Before | None = None

    def before(self, catalog: Path, db: Database, asked: Asked, *, now: datetime) -> Before:
        """The catalogue without the day.

        db      the same, opened
        Raises  CatalogUnusable.
        """
        status = catalog.stat()
        state = status.st_ino, status.st_size, status.st_mtime_ns
        kept = self._before
        if kept is None or (kept.catalog, kept.state, kept.asked) != (catalog, state, asked):
            part = full_part(catalog, asked, as_of=now)
            all_series: list[Series] = []

            def noted(runs: Iterable[Run], limits: Limits, *, series: Series) -> list[Cell]:
                all_series.append(series)
                return cells(runs, limits, series=series)

            runs = queries.runs(part)
            bench = load_bench(part, runs=runs, cells_of_runs=noted)
            part.close()
            costs = costs_of(runs, declared_minutes(db))
            self._before = kept = Before(catalog, state, asked, bench, all_series[0], costs)
        return kept


class WithDay:
    """A catalogue with what of a day is sound, as if entered: a copy in memory until it is closed.

    db  the whole catalogue: rows of a check name its things by their numbers there, which a part does not keep
    """

    def __init__(self, before: Before, db: Database, checked: Checked, *, now: datetime) -> None:
        self._before, self._now = before, now
        self._tested = frozenset(row["device_id"] for row in checked.rows.get("run", ()))
        self._whole = as_if_entered(checked, db, now=now)
        self._some = full_part(self._whole, Asked(devices=self._tested), as_of=now)
        self._batch = checked.batch["batch_id"]

    def close(self) -> None:
        self._some.close()
        self._whole.close()

    def bench(self, *, without: Set[tuple[str, int]] = frozenset()) -> Bench:
        """It, without some runs of the day. without: source and row of each."""
        old = self._before.bench

        def taken_over(runs: Iterable[Run], limits: Limits, *, series: Series) -> list[Cell]:
            capped = limits.ceilings, limits.labs, limits.ports
            if capped == (old.limits.ceilings, old.limits.labs, old.limits.ports) and series == self._before.series:
                known = [cell for cell in (*old.cells, *old.cells_under) if cell.device not in self._tested]
                return _in_order([*known, *cells(runs, limits, series=series)])
            with closing(full_part(self._whole, self._before.asked, as_of=self._now)) as every:
                # The batch itself brings what changes them.
                return cells(self._runs(every, queries.runs(every), without), limits, series=series)

        runs = self._runs(self._some, queries.runs(self._some, devices=self._tested), without)
        return load_bench(self._some, runs=runs, cells_of_runs=taken_over)

    def _runs(self, db: Database, runs: Iterable[Run], without: Set[tuple[str, int]]) -> list[Run]:
        if not without:
            return list(runs)
        places = db.execute("SELECT run_id, source_file, source_row FROM run WHERE batch_id = ?", [self._batch])
        left_out = {run_id for run_id, *place in places if tuple(place) in without}
        return [run for run in runs if run.run_id not in left_out]


def _in_order(mixed: Iterable[Cell]) -> list[Cell]:
    """Cells as `cells` has them: by device, those of one device as they are."""
    return sorted(mixed, key=lambda cell: cell.device)


def asked_of(devices: Iterable[str], clients: Iterable[str]) -> Asked:
    """What a day is about: its devices, and everything that was tested with its clients."""
    return Asked(devices=frozenset(devices), clients=frozenset(clients))
