"""One look at a day: everything that its page shows, of the files as they are now. Runs in a process of its own."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from sqlite_utils import Database

from builder.watching.child import IN_HAND
from builder.watching.day_rows import Row, day_rows
from builder.watching.drafts import Chosen, Draft, desk_of, draft_of
from builder.watching.jobs import KEEP, LONG_QUIET_S, QUIET_S, FileState, Job, Seen
from builder.watching.judging import judged
from builder.watching.kept_logs import LogsInFolder
from builder.watching.landed import (
    Heads,
    Landed,
    Reading,
    beside,
    files_in,
    log_folders,
    may_be_of,
    names_that_are_no_text,
    others_among,
    tied,
)
from builder.watching.noting import write
from builder.watching.repeated import ask_of_repeated
from builder.watching.saying import Known, Saying
from builder.watching.shown import Shown
from builder.watching.states import Place, Sense, State
from catalog.checking.batches import check
from catalog.checking.logfiles import map_and_path
from catalog.connection import open_catalog
from catalog.errors import BatchRefused, CatalogError
from catalog.reading.batch import RawBatch, read_batch

LARGEST = 32_000_000  # bytes of a log: reading takes up to four times as much, on the machine that measures
_ENDS = b"\n\r}] \x00"

_known = Known()
_heads: Heads = {}


def look(job: Job) -> Seen:
    """What there is to see now. Raises CatalogUnusable."""
    return _look(job, lambda *_: ())


def look_and_write(job: Job, key: str) -> Seen:
    """Write to the desk what a look showed by this key, and look again; or say why not. Raises CatalogUnusable."""
    seen = _look(job, partial(_write, key))
    if seen.state.trouble:
        return replace(seen, refused=seen.state.trouble)
    return seen if seen.refused else _look(job, lambda *_: ())


def _look(job: Job, then: Callable[[_Look, Draft, Chosen], Sequence[str]]) -> Seen:
    try:
        raw = read_batch(job.batch)
    except CatalogError as refusal:
        lines = tuple(str(refusal).splitlines())
        return Seen(State("", trouble=lines), no_batch=not isinstance(refusal, BatchRefused))
    except OSError as failure:  # a file that was there a moment ago
        return Seen(State("", trouble=(f"{failure.filename}: {failure.strerror or failure}.",)))
    try:
        with closing(open_catalog(job.catalog, readonly=True)) as db:
            return _Look(job, raw, db).run(then)
    finally:
        (job.kept / IN_HAND).unlink(missing_ok=True)


def _write(key: str, look: _Look, draft: Draft, chosen: Chosen) -> Sequence[str]:
    if draft.key != key:
        return ["What would be written is not what was shown any more. Look at it once more."]
    checked = check(draft.raw, look.db, kept_logs=look.kept)
    wrong = judged(checked, draft.rows, look.rows_by_log(chosen), landing=look.files)
    if held := [sense for row, _ in chosen for sense in wrong.of_rows.get(row.place, ()) if sense.grave]:
        return [f"{sense.text} {sense.remedy}".rstrip() for sense in held]
    return write(draft.raw.folder, draft.files) if draft.files else draft.refused


@dataclass
class _Look:
    """The steps of one look."""

    job: Job
    raw: RawBatch
    db: Database

    def __post_init__(self) -> None:
        document, folder = self.raw.document, self.raw.folder
        stated = document.values.get("timezone")
        self.kept = LogsInFolder(self.job.kept)
        self.reading = Reading(folder, stated if isinstance(stated, str) else None, self.kept, _heads)
        self.day = day_rows(self.raw)
        self.folders = log_folders(self.day)
        self.files = files_in(folder, self.folders)
        self.young: dict[Path, float] = {}

    def run(self, then: Callable[[_Look, Draft, Chosen], Sequence[str]]) -> Seen:
        """The whole of it; *then* is done with the draft that would be written."""
        landed, others = self._landed()
        guessed = {row.place: (row, log) for log, row in others if row is not None}
        came = [(row, landed[row.place]) for row in self.day if row.place in landed]
        sure = [(row, log) for row, log in came if not log.left_alone]
        chosen = [*sure, *guessed.values()]
        draft = self._draft(chosen)
        checked = check(draft.raw, self.db, kept_logs=self.kept)
        timeless = {row.place: log for row, log in chosen if log.started is None}
        wrong = judged(checked, draft.rows, self.rows_by_log(chosen), landing=self.files, timeless=timeless)
        wrong.of_batch += [Sense("not-noted", sentence, grave=True) for sentence in draft.refused]
        wrong.of_batch += self._names_that_are_no_text()
        ask_of_repeated(self.day, wrong, self._noted_log, self.reading.zone)
        for place, path in beside(self.day, self.files).items():
            sentence = f"{path} is there, and its row was noted without a log."
            remedy = "Name it in the row that was noted, if it is its own."
            wrong.say(Sense("noted-without", sentence, remedy, False, place, path))
        for row, log in (*came, *guessed.values()):
            for code, sentence, remedy in log.wrong:
                wrong.say(Sense(code, sentence, remedy, grave=True, place=row.place, log=log.path))
                wrong.held.add(row.place)
        logs = {row.place: (row, log) for row, log in chosen}
        saying = Saying(self.job, self.raw, self.db, self.day, self.reading, self.files, _known)
        said = saying.say(checked, draft, wrong, logs, sure={row.place for row, _ in sure})
        writable = [(row, log) for row, log in sure if row.place not in wrong.held | said.doubted]
        if writable != chosen:
            draft = self._draft(writable)
        refused = tuple(then(self, draft, writable))
        one_band = len({row.row.texts.get("band", "") for row in self.day if row.stem != "stations"}) == 1
        days = Shown(wrong, said.sound, said.models, self.job.typed, self.reading.zone, one_band=one_band)
        open_rows = [row for row in self.day if row.filled is None and row.place not in landed]
        logs_of_nobody = tuple(days.other(log, row, open_rows) for log, row in others)
        state = State(
            title=str(self.raw.document.values.get("title") or self.job.batch.name),
            rows=tuple(days.row(row, landed.get(row.place)) for row in self.day),
            others=logs_of_nobody,
            senses=tuple(wrong.of_batch),
            writing=draft.writing(writable),
            so_far=said.so_far,
        )
        root = self.raw.folder.root
        return Seen(
            state,
            files=self.files,
            folders=tuple(root / inside for inside in self.folders),
            young=self.young,
            questions=wrong.questions,
            refused=refused,
        )

    def _draft(self, chosen: Chosen) -> Draft:
        return draft_of(
            self.raw,
            desk_of(self.job.batch, self.raw),
            self.day,
            chosen,
            typed=self.job.typed,
            answers=[answer for answer in self.job.answers if answer.code != KEEP],
            zone=self.reading.zone,
        )

    # What came.

    def _landed(self) -> tuple[dict[Place, Landed], list[tuple[Landed, Row | None]]]:
        """The log of each planned row of which one has come whole, and the others with the row each is likely of."""
        rows = {row.place: row for row in self.day}
        ties = tied(self.day, self.files)
        given = {log: place for log, place in self.job.given.items() if log in self.files and place in rows}
        ties = {place: log for place, log in ties.items() if log not in given}
        ties |= {place: log for log, place in given.items() if rows[place].filled is None}
        landed: dict[Place, Landed] = {}
        for place, path in ties.items():
            name = map_and_path(rows[place].row.texts.get("log", ""))[0]
            if (log := self._log(path, name)) is not None:
                landed[place] = log
        open_rows = [row for row in self.day if row.filled is None and row.place not in ties]
        others: list[tuple[Landed, Row | None]] = []
        for path in others_among(self.day, self.files, ties.values()):
            if (log := self._log(path, None)) is None:
                continue
            likely = next(iter(may_be_of(log.kind, open_rows)), None) if log.kind else None
            others.append((log, likely))
            if likely is not None:
                open_rows.remove(likely)
        return landed, others

    def _log(self, path: str, map_name: str | None) -> Landed | None:
        """A log that is whole; None for one that may still be growing."""
        state = self.files[path]
        if (still_s := self._still_s(path, state)) > 0:
            self.young[self.raw.folder.root / path] = still_s
            return None
        if self.job.shunned.get(path) == state:
            ended = "The process that read this log ended over it, so it is left alone."
            wrong = ("ended-over-log", ended, "Repeat the run, or put a whole file there.")
            return Landed(path, path, wrong=(wrong,), left_alone=True)
        if state.size > LARGEST:
            text = (
                f"{path} has {state.size / 1e6:,.0f} MB. A watch reads logs up to {LARGEST / 1e6:.0f} MB, because it shares the "
                "machine that measures."
            )
            remedy = (
                "Repeat the run with fewer samples a second, or note its row by hand: entering takes logs up to 1 GB."
            )
            return Landed(path, path, wrong=(("too-large-to-watch", text, remedy),), left_alone=True)
        return self.reading.landed(path, map_name, state)

    def _noted_log(self, row: Row) -> Landed | None:
        """The log of a noted row as it is now; None where it is not there, or may be growing."""
        assert row.filled is not None
        name, path = map_and_path(row.filled.texts.get("log", ""))
        return self._log(path, name) if path in self.files else None

    def _names_that_are_no_text(self) -> list[Sense]:
        """No row can name a file whose name is no text, so nothing can be tied to it: it is said, for it may be a log."""
        remedy = "Rename it with plain letters and digits; then it is read."
        return [
            Sense("name-no-text", f"The name of {shown} is not UTF-8 text, so no row can have it.", remedy, grave=True)
            for shown in names_that_are_no_text(self.raw.folder, self.folders)
        ]

    def _still_s(self, path: str, state: FileState) -> float:
        """How much longer a file has to stay as it is, by its own times or by what was seen of it. [s]"""
        age_s = time.time() - max(state.written_ns, state.changed_ns) / 1e9
        before, since_s = self.job.seen.get(path, (state, 0.0))
        age_s = max(age_s, since_s if before == state else 0.0)
        return (QUIET_S if self._ends_well(path, state) else LONG_QUIET_S) - age_s

    def _ends_well(self, path: str, state: FileState) -> bool:
        if not state.size:
            return False
        try:
            with (self.raw.folder.root / path).open("rb") as file:
                file.seek(-1, os.SEEK_END)
                return file.read(1) in _ENDS
        except OSError:
            return False

    def rows_by_log(self, chosen: Chosen) -> Mapping[str, Sequence[Place]]:
        """Path of each log -> the rows that it is of."""
        logs: dict[str, list[Place]] = {}
        for row in self.day:
            if row.filled is not None and row.log:
                logs.setdefault(row.log, []).append(row.place)
        for row, log in chosen:
            logs.setdefault(log.path, []).append(row.place)
        return logs
