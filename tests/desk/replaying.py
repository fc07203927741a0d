"""A replayed day as a watch sees it: after each log a look at all that has landed, with rows of the desk for it."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

from builder.bench.bench import Bench, load_bench
from builder.bench.cells import cells
from builder.watching.states import Measured, Sense
from catalog import queries
from catalog.checking.batches import Checked, check
from catalog.connection import open_catalog
from catalog.digesting.digests import throughput_digest
from catalog.digesting.logs import Log
from catalog.entering import as_if_entered
from catalog.reading.batch import read_batch
from catalog.reading.plainlogs import read_plain_log
from catalog.records import Run
from catalog.visibility import full_copy
from tests.desk.bench_days import Landing, note_at_desk, write_logs

NOW = datetime(2026, 11, 30, tzinfo=UTC)


@dataclass(frozen=True)
class Look:
    """What a watch hands to its senses at one moment."""

    now: datetime
    landings: tuple[Landing, ...]
    measured: tuple[Measured, ...]
    after: Bench
    of_check: tuple[Sense, ...]


@dataclass(frozen=True)
class Desk:
    """A planned batch, which is written into, beside its catalogue, which is not."""

    folder: Path
    catalog: Path

    @cached_property
    def before(self) -> Bench:
        """The bench of the catalogue alone."""
        return load_bench(self._copy)

    @cached_property
    def _copy(self) -> Any:
        return full_copy(self.catalog, as_of=NOW)

    @cached_property
    def document(self) -> Mapping[str, Any]:
        """batch.toml."""
        return tomllib.loads((self.folder / "batch.toml").read_text(encoding="utf-8"))

    def checked(self, landings: Sequence[Landing]) -> Checked:
        """What `check` says with rows of the desk for these logs."""
        for stem in ("runs", "stations"):
            (self.folder / "desk" / f"{stem}.csv").unlink(missing_ok=True)
        for old in (self.folder / "logs").glob("*"):
            old.unlink()
        write_logs(self.folder, landings)
        note_at_desk(self.folder, landings)
        db = open_catalog(self.catalog, readonly=True)
        try:
            return check(read_batch(self.folder), db)
        finally:
            db.close()

    def entered(self, checked: Checked) -> list[Run]:
        """Runs of the day that are good, as the builder sees them."""
        db = open_catalog(self.catalog, readonly=True)
        try:
            copy = full_copy(as_if_entered(checked, db, now=NOW), as_of=NOW)
        finally:
            db.close()
        of_batch = str(self.document["id"])
        return [run for run in queries.runs(copy) if run.batch_id == of_batch]

    def look(self, landings: Sequence[Landing]) -> Look:
        """The last of `looks`: everything that has landed."""
        *_, last = self.looks(landings, begin=len(landings))
        return last

    def looks(self, landings: Sequence[Landing], *, begin: int = 1) -> Iterator[Look]:
        """A look after each log from the one numbered *begin* on.

        Checked once: what `check` says of a row that only its later neighbours cause is said a little early.
        """
        whole = self.checked(landings)
        runs = {run.source_row: run for run in self.entered(whole)}
        places = _desk_places(landings)
        logs = {one.path: _log(one) for one in landings}
        rows = {
            (row["source_file"], row["source_row"]): row
            for name in ("run", "station")
            for row in whole.rows.get(name, ())
        }
        digests = {(log.owner, log.owner_id): log.digest for log in whole.logs}
        said = [*(("problem", one) for one in whole.problems), *(("warning", one) for one in whole.warnings)]
        order = {(one.table, one.row): number for number, one in enumerate(sorted(landings, key=_in_plan), start=1)}
        measured = {}
        for one in landings:
            file, number = places[one.path]
            row = rows.get((f"{file}/desk-{one.table}", number), {})
            key = ("run", row.get("run_id")) if one.table == "runs" else ("station", row.get("station_id"))
            log = logs[one.path]
            digest = digests.get(key, {})
            if not digest and log.kind == "throughput":
                digest = throughput_digest(log)
            assert log.started is not None
            measured[one.path] = Measured(
                place=(f"{one.table}.csv", one.table, one.row),
                order=order[one.table, one.row],
                values=row or {**one.texts, **one.typed},
                digest=digest,
                log=one.path,
                started=log.started,
                ended=log.started
                + timedelta(microseconds=int(log.t_us[-1] + (log.spans_us[-1] if log.kind == "throughput" else 0))),
                arrived=one.at,
            )
        back = {place: path for path, place in places.items()}
        senses = [
            Sense(one.code, one.expected, one.remedy, kind == "problem", measured[path].place, path)
            for kind, one in said
            if (path := back.get((one.table, one.row))) is not None
        ]
        for count in range(begin, len(landings) + 1):
            landed = landings[:count]
            known = {places[one.path][1] for one in landed if one.table == "runs"}
            today = [run for number, run in runs.items() if number in known]
            yield Look(
                now=landed[-1].at + timedelta(seconds=3),
                landings=tuple(landed),
                measured=tuple(sorted((measured[one.path] for one in landed), key=lambda one: one.order)),
                after=with_runs(self.before, today),
                of_check=tuple(one for one in senses if one.log in {landing.path for landing in landed}),
            )


def with_runs(bench: Bench, runs: Sequence[Run]) -> Bench:
    """A bench with runs of a session that it does not hold yet."""
    more = cells(runs, bench.limits, series={})
    cells_of = dict(bench.cells_of)
    for cell in more:
        cells_of[cell.device] = [*cells_of.get(cell.device, ()), cell]
    return replace(bench, cells=[*bench.cells, *more], cells_of=cells_of)


def _in_plan(one: Landing) -> tuple[bool, int]:
    return one.table != "runs", one.row


def _desk_places(landings: Sequence[Landing]) -> dict[str, tuple[str, int]]:
    """Path of each log -> file and row of its row in the desk."""
    counts = {"runs": 1, "stations": 1}
    places = {}
    for one in landings:
        counts[one.table] += 1
        places[one.path] = (f"desk/{one.table}.csv", counts[one.table])
    return places


def _log(one: Landing) -> Log:
    log = read_plain_log(one.path, one.content, instant=datetime.fromisoformat)
    assert isinstance(log, Log), log
    return log
