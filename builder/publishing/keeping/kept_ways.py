"""What is worked out of the catalogue before any page, taken from the build before where nothing it rests on changed.

Cells of a device rest on its runs, and on limits and series: a digest of these is their key. What a ranking rests on is
noted while it is made, as for a page. So it is for workloads, which are kept together with the runs they compare, so that
both go on holding the same records.
"""

from __future__ import annotations

import pickle
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from operator import attrgetter
from types import SimpleNamespace
from typing import Any

from sqlite_utils import Database

from builder.bench.bench import Bench
from builder.bench.bounds import Limits
from builder.bench.cells import Cell, Group
from builder.bench.cells import cells as all_cells
from builder.bench.device_runs import RunsOf, device_runs
from builder.observed import Inventory, Look, Observed, digest_of, text_of
from builder.pages.contents import Results, Ways, every_ranking, every_result
from builder.pages.worked_out import Rankings, WorkedOut
from builder.publishing.keeping.keeper import Entry, Keeper
from builder.under_load.mixes import MixResult, judged_mixes, load_mixes
from builder.under_load.workloads import WorkloadResult, workload_results
from catalog.records import Run

BENCH = "results.bench"  # the path of what rankings look at
_CELLS, _RANKED, _MIXES = "cells of a device ", "ranked group ", "several clients "  # no kind of page begins so
_FIELDS = [field.name for field in fields(Cell)]
_values = attrgetter(*_FIELDS)
_GROUP, _RUN_IDS = _FIELDS.index("group"), _FIELDS.index("run_ids")


class KeptWays:
    """Gives what `Ways` give, and what of it is to be kept for the next build.

    inventory  its record is the bench until the contents are there
    """

    def __init__(self, keeper: Keeper, inventory: Inventory) -> None:
        self.keeper, self._inventory = keeper, inventory
        self._runs: RunsOf = {}
        self._mixes = ""  # key of the runs with several clients
        self._workloads: Sequence[WorkloadResult] | None = None  # of those runs, where they were kept
        self._groups: dict[Group, Group] = {}  # equal groups are one object, so that comparing them is quick
        self.entries: dict[str, Entry] = {}

    @property
    def ways(self) -> Ways:
        return Ways(
            runs=self.runs,
            cells=self.cells,
            rankings=self.rankings,
            mixes=self.mixes,
            workloads=self.workloads,
            results=self.results,
        )

    def runs(self, copy: Database) -> RunsOf:
        """All runs of the copy, by device."""
        self._runs = device_runs(copy)
        return self._runs

    def cells(self, runs: Iterable[Run], limits: Limits, *, series: Mapping[tuple[str, str | None], str]) -> list[Cell]:
        """All cells of these runs, which are all of the copy."""
        del runs  # most of them need not be made
        of_all = digest_of((limits.ceilings, limits.labs, series))
        keys = {
            device: _CELLS + digest_of((of_all, limits.ports.get(device), digest_of(runs), _order(runs)))
            for device, runs in self._runs.items()
        }
        kept = self.keeper.fresh(_CELLS)
        fresh = [device for device, key in keys.items() if key not in kept]
        made: dict[str, list[Cell]] = {device: [] for device in sorted(keys)}
        for cell in all_cells((run for device in fresh for run in self._runs[device].values()), limits, series=series):
            made[cell.device].append(cell)
        for device, key in keys.items():
            if key in kept:
                made[device] = self._unpacked(kept[key].content, list(self._runs[device]))
            self.entries[key] = kept.get(key) or self.keeper.entry(key, self._packed(made[device], device), ())
        return [cell for of_device in made.values() for cell in of_device]

    def results(self, worked: WorkedOut) -> Results:
        """All results. What they rest on is looked at in the bench, which is there by now."""
        self._inventory.record = SimpleNamespace(results=SimpleNamespace(bench=worked.bench))
        return every_result(worked)

    def rankings(self, bench: Bench, groups: Sequence[Group]) -> Rankings:
        """The rankings of these groups over all windows."""
        kept = self.keeper.fresh(_RANKED)
        results: dict[tuple[Group, str], Any] = {}
        for group in groups:
            key = _RANKED + text_of(group)
            if key in kept:
                results |= {(group, window): one for window, one in pickle.loads(kept[key].content)}
                self.entries[key] = kept[key]
            else:
                looks: set[Look] = set()
                watched: Any = Observed(self._inventory, looks, path=BENCH)
                made = every_ranking(watched, [group])
                content = pickle.dumps([(window, one) for (_, window), one in made.items()])
                self.entries[key] = self.keeper.entry(key, content, looks)
                results |= made
        return results

    def mixes(self, copy: Database) -> list[MixResult]:
        """All runs of the copy with several clients, judged."""
        return load_mixes(copy, judged=self._judged)

    def _judged(self, *records: Any, **named: Any) -> list[MixResult]:
        self._mixes = _MIXES + digest_of((records, named))
        for key, entry in self.keeper.fresh(self._mixes).items():
            self.entries[key] = entry
            mixes, self._workloads = pickle.loads(entry.content)
            return mixes  # type: ignore[no-any-return]
        return judged_mixes(*records, **named)

    def workloads(self, bench: Bench, mixes: Sequence[MixResult]) -> Sequence[WorkloadResult]:
        """What these runs, which are all, come to side by side."""
        if self._workloads is None:
            looks: set[Look] = set()
            watched: Any = Observed(self._inventory, looks, path=BENCH)
            self._workloads = workload_results(watched, mixes)
            content = pickle.dumps((mixes, self._workloads))
            self.entries[self._mixes] = self.keeper.entry(self._mixes, content, looks)
        return self._workloads

    def _packed(self, cells: Sequence[Cell], device: str) -> bytes:
        """Cells in plain values, their runs by place, and the digest of each."""
        place = {number: at for at, number in enumerate(self._runs[device])}
        groups: dict[Group, int] = {}
        rows = []
        for cell in cells:
            row = list(_values(cell))
            row[_GROUP] = groups.setdefault(cell.group, len(groups))
            row[_RUN_IDS] = [place[number] for number in cell.run_ids]
            rows.append((row, digest_of(cell)))
        return pickle.dumps((list(groups), rows))

    def _unpacked(self, content: bytes, numbers: Sequence[int]) -> list[Cell]:
        groups, rows = pickle.loads(content)
        groups = [self._groups.setdefault(group, group) for group in groups]
        cells = []
        for row, digest in rows:
            row[_GROUP] = groups[row[_GROUP]]
            row[_RUN_IDS] = tuple(numbers[place] for place in row[_RUN_IDS])
            cells.append(Cell(*row))
            self._inventory.know(cells[-1], digest)
        return cells


def _order(runs: Mapping[int, Run]) -> list[int]:
    """The order of their numbers: of runs at one instant the smaller number was entered earlier."""
    numbers = list(runs)
    return sorted(range(len(numbers)), key=numbers.__getitem__)
