"""What is to be said of a day: by its check, by the senses, and of the results until now."""

from __future__ import annotations

from collections.abc import Container, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from typing import Any

from sqlite_utils import Database

from builder.bench.asking import clients_of, series_in
from builder.bench.bench import Bench
from builder.watching.benches import Before, Benches, WithDay, asked_of
from builder.watching.day_plan import DayPlan, PlanRow, day_plan
from builder.watching.day_rows import Row
from builder.watching.drafts import Draft
from builder.watching.jobs import KEEP, Asked, FileState, Job, Question
from builder.watching.judging import Judged
from builder.watching.landed import Landed, Reading, desk_texts
from builder.watching.senses import senses_of
from builder.watching.so_far import so_far_of
from builder.watching.states import Measured, Place, Sense, SoFar
from catalog.checking.batches import Checked
from catalog.checking.known import Row as Values
from catalog.checking.logfiles import map_and_path
from catalog.checking.planned import is_of_desk
from catalog.checking.results import BUILDERS
from catalog.reading.batch import RawBatch
from catalog.visibility import Asked as AskedOf

_TABLES = ("runs", "stations", "longruns")


@dataclass
class Known:
    """What is kept from look to look: benches, and what follows from the plan and the catalogue alone."""

    benches: Benches = field(default_factory=Benches)
    plan: tuple[Before, object, DayPlan | None] | None = None


@dataclass(frozen=True, slots=True)
class Said:
    """What was said, beside the sentences.

    sound    the rows that would be entered as they are
    models   device -> name of its model
    doubted  rows that are not to be noted unless somebody keeps them
    """

    sound: dict[Place, Measured]
    models: Mapping[str, str]
    so_far: SoFar
    doubted: set[Place]


@dataclass
class Saying:
    """Says it of one look."""

    job: Job
    raw: RawBatch
    db: Database
    day: Sequence[Row]
    reading: Reading
    files: dict[str, FileState]
    known: Known
    _doubted: set[Place] = field(default_factory=set)

    def say(
        self,
        checked: Checked,
        draft: Draft,
        wrong: Judged,
        logs: Mapping[Place, tuple[Row, Landed]],
        *,
        sure: Container[Place],
    ) -> Said:
        """What is to be said of a day by its check.

        draft  the batch that was checked
        wrong  what the check says, to which the senses are added
        logs   of rows that are not written yet
        sure   rows whose log is theirs beyond doubt
        """
        sound = self._measured(checked, draft, logs)
        shown = {one.place: one for one in sound}
        if not {"batch_id", "title", "licence"} <= checked.batch.keys():  # nothing of it can be entered
            return Said(shown, {}, SoFar(), set())
        before = self.known.benches.before(self.job.catalog, self.db, self._asked(checked), now=self.job.now)
        held = [
            self._measured_as(
                row, desk_texts(row, log, self.job.typed.get(place, {}), self.reading.zone), log.digest, log
            )
            for place, (row, log) in logs.items()
            if place not in shown and log.kind
        ]
        measured = sorted([*sound, *held], key=lambda one: one.order)
        still_open = self._still_open(shown.keys() | logs)
        if not sound:
            after = before.bench
            self._put_senses(measured, before.bench, after, wrong, sure, still_open=still_open)
        else:
            with closing(WithDay(before, self.db, checked, now=self.job.now)) as day:
                after = day.bench()
                self._put_senses(measured, before.bench, after, wrong, sure, still_open=still_open)
                if (
                    doubted := self._doubted & shown.keys()
                ):  # a plan is not behind because of runs that will be repeated
                    after = day.bench(without={at for at, place in draft.sources.items() if place in doubted})
                    measured = [one for one in measured if one.place not in doubted]
        models = {device: one.model for device, one in after.devices.items()}
        left_out = sum(place[1] == "runs" for place in self._doubted & shown.keys())
        return Said(shown, models, self._so_far(measured, before, after, left_out=left_out), self._doubted)

    def _put_senses(
        self,
        measured: Sequence[Measured],
        before: Bench,
        after: Bench,
        wrong: Judged,
        sure: Container[Place],
        *,
        still_open: Sequence[Measured],
    ) -> None:
        """Put what is to be said of the rows in the place of what `check` says of them."""
        of_check = [sense for senses in wrong.of_rows.values() for sense in senses]
        wrong.of_rows.clear()
        asking = {(one.place, one.column, one.asks): one.code for one in of_check if one.asks or one.free}
        document, now = self.raw.document.values, self.job.now
        senses = senses_of(
            measured,
            before=before,
            after=after,
            document=document,
            now=now,
            of_check=of_check,
            still_open=still_open,
        )
        logs = {one.place: one.log for one in measured}
        for sense in senses:
            place = sense.place
            if place is not None and place in sure and sense.grave and not sense.asks and place not in wrong.held:
                sense = self._in_question(sense, place, logs.get(place, ""), wrong)
            wrong.say(sense)
            if sense.place is not None and (code := asking.get((sense.place, sense.column, sense.asks))) is not None:
                asked = Asked(sense.place, code, sense.column)
                wrong.questions[asked._replace(code=sense.code)] = wrong.questions[asked]

    def _still_open(self, come: Container[Place]) -> list[Measured]:
        """Rows of the plan of which nothing has come."""
        rows = [row for row in self.day if row.filled is None and row.place not in come]
        return [Measured(row.place, row.order, row.row.texts, {}) for row in rows]

    def _in_question(self, sense: Sense, place: Place, log: str, wrong: Judged) -> Sense:
        """A run that is likely repeated is not noted until somebody says of this very log that it is to be kept."""
        asked, state = Asked(place, sense.code, ""), repr(self.files.get(log))
        if any(one.asked == asked and (one.code, one.typed) == (KEEP, state) for one in self.job.answers):
            return replace(sense, grave=False, remedy="It is kept as it is.")
        self._doubted.add(place)
        wrong.questions[asked] = Question(KEEP, (KEEP,), free=False, typed=state)
        return replace(sense, asks=(KEEP,))

    def _so_far(self, measured: Sequence[Measured], before: Before, after: Bench, *, left_out: int) -> SoFar:
        """The results until now; of the plan what follows from it and the catalogue alone is worked out once."""
        rows = [PlanRow(row.place, row.order, row.row.texts) for row in self.day if not is_of_desk(row.row.source)]
        document = self.raw.document.values
        key = [(row.place, sorted(row.texts.items())) for row in rows], repr(document.get("bench"))
        known = self.known
        if known.plan is None or known.plan[0] is not before or known.plan[1] != key:
            known.plan = before, key, day_plan(rows, before=before.bench, document=document)
        return so_far_of(
            measured,
            before=before.bench,
            after=after,
            document=document,
            plan=rows,
            costs=before.costs,
            left_out=left_out,
            made=known.plan[2],
        )

    def _asked(self, checked: Checked) -> AskedOf:
        rows = [row for stem in _TABLES for row in checked.rows.get(BUILDERS[stem][0], ())]
        planned = [row.row.texts for row in self.day]
        devices = {row["device_id"] for row in rows} | {texts.get("device", "") for texts in planned}
        clients = {row["client_id"] for row in rows} | {texts.get("client", "") for texts in planned}
        series = series_in(self.db)
        wanted = {name for (client, _), name in series.items() if client in clients}
        return asked_of(devices - {""}, clients_of(series, wanted) | (clients - {""}))

    def _measured(self, checked: Checked, draft: Draft, logs: Mapping[Place, tuple[Row, Landed]]) -> list[Measured]:
        """The rows of the day that are sound."""
        digests = {(one.owner, one.owner_id): one.digest for one in checked.logs}
        rows = {row.place: row for row in self.day}
        measured = []
        for stem in _TABLES:
            db_table, _, number = BUILDERS[stem]
            for values in checked.rows.get(db_table, ()):
                place = draft.sources.get(_source(values))
                if place is None:
                    continue
                log = logs[place][1] if place in logs else self._head(values)
                digest = digests.get((db_table, values[number or ""]), {})
                measured.append(self._measured_as(rows[place], values, digest, log))
        return measured

    def _measured_as(
        self, row: Row, values: Mapping[str, Any], digest: Mapping[str, float], log: Landed | None
    ) -> Measured:
        if log is None:
            return Measured(row.place, row.order, values, digest)
        arrived = self._arrived(log.path)
        return Measured(row.place, row.order, values, digest, log.path, log.started, log.ended, arrived)

    def _head(self, values: Values) -> Landed | None:
        """When the log of a row that was noted before began and ended."""
        if not values["log_path"]:
            return None
        name, path = map_and_path(values["log_path"])
        if path not in self.files:
            state = self.raw.folder.state(path)
            if state is None:
                return None
            self.files[path] = FileState(state.size, state.written_ns, state.changed_ns, state.inode)
        return self.reading.landed(path, name, self.files[path])

    def _arrived(self, path: str) -> datetime | None:
        """When its last byte came: as it was watched, else by the file's times, one of which a copy may not keep."""
        state = self.files.get(path)
        if state is None:
            return None
        by_its_times = datetime.fromtimestamp(min(state.written_ns, state.changed_ns) / 1e9, UTC)
        return self.job.came.get((state.inode, state.written_ns), by_its_times)


def _source(row: Values) -> tuple[str, int]:
    return str(row["source_file"]), int(row["source_row"])
