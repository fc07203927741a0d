"""What today's checks ask of rows that were entered before there were such checks, answered in the batches of an export.

The batches are entered once more, one after the other, into a catalogue that is thrown away: what a check asks depends
on all that was entered before. A row of the catalogue was taken once as it stands, so the answer is always the one
that leaves it as it is, and says in `by` that nobody was asked.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath

from sqlite_utils import Database

from catalog.checking.answers import ENTERED_BEFORE
from catalog.checking.hidden import LEAVE_OUT, READ
from catalog.checking.settled_logs import AMOUNTS, MEASURED, NOT_LOGGED
from catalog.checking.troubles import AS_ENTERED
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from catalog.errors import BatchRefused, InputRefused, Problem
from catalog.problems import LINED
from catalog.queries.origins import is_row_of
from catalog.reading.books import BOOK_SUFFIXES
from catalog.reading.sources import DESK

FILE = "answers.toml"
_LATEST = datetime(9000, 1, 1, tzinfo=UTC)  # no correction is from a later day
_PASSES = 20  # one question may wait for another to be settled
# The first option of a question is how it was read before, but for these.
_AS_READ_BEFORE = {"log-not-covered": NOT_LOGGED, "sum-row": MEASURED, "counter-not-amount": AMOUNTS}
_Answer = Mapping[str, str]


@dataclass(frozen=True)
class Step:
    """One folder of an export: the batch of an id, or a file of corrections by its name."""

    folder: Path
    batch_id: str | None
    corrections: str | None

    @property
    def batch(self) -> Path:
        """What is entered: the folder, or the workbook in it."""
        if (self.folder / "batch.toml").exists():
            return self.folder
        books = sorted(path for path in self.folder.iterdir() if path.suffix.casefold() in BOOK_SUFFIXES)
        return next((path for path in books if path.stem == self.batch_id), books[0] if books else self.folder)

    @property
    def answers(self) -> Path:
        """Where answers are added; a workbook stays as it came."""
        batch = self.batch
        return (batch if batch == self.folder else self.folder / f"{batch.stem}.{DESK}") / FILE


def answer_again(db: Database, steps: Iterable[Step], trial: Path) -> str | None:
    """Write the answers that the batches of an export need to enter again.

    steps    in the order of entry
    trial    path of the catalogue that is thrown away; nothing is there yet
    Returns  why the first batch that no answer lets through is refused; what comes after it is left as it was.
    """
    for step in steps:
        try:
            if step.batch_id is not None:
                _enter(db, step, into=trial)
            else:
                assert step.corrections is not None
                _correct(step.folder / step.corrections, trial)
        except InputRefused as refusal:
            reason = str(refusal).split("\n")[0]
            return f"{step.folder.name} does not enter again as it is: {reason}"
    return None


def _enter(db: Database, step: Step, *, into: Path) -> None:
    assert step.batch_id is not None
    for _ in range(_PASSES):
        try:
            enter_batch(step.batch, into=into, now=_LATEST)
            return
        except BatchRefused as refusal:
            if not (answers := _answers(db, step.batch_id, refusal.problems)) or not _added(step.answers, answers):
                raise
    enter_batch(step.batch, into=into, now=_LATEST)


def _correct(file: Path, catalog: Path) -> None:
    target = open_catalog(catalog, readonly=False)
    try:
        correct_file(file, catalog=target, now=_LATEST)
    finally:
        target.close()


def _answers(db: Database, batch_id: str, problems: Iterable[Problem]) -> list[_Answer]:
    """The answers that leave everything as it was entered, one for a cause in a column."""
    answers: dict[tuple[str, ...], _Answer] = {}
    for problem in problems:
        if problem.if_entered:
            lined = problem.table.endswith(LINED)
            table, means = problem.table if lined else PurePosixPath(problem.table).stem, AS_ENTERED
        elif problem.question is not None and not problem.question.by_text and problem.question.options:
            table, means = problem.question.table, _as_before(db, batch_id, problem)
        else:
            continue
        answer = {"cause": problem.code, "table": table, "column": problem.column, "means": means}
        answers[tuple(answer.values())] = {key: text for key, text in answer.items() if text}
    return list(answers.values())


def _as_before(db: Database, batch_id: str, problem: Problem) -> str:
    assert problem.question is not None
    if problem.code == "hidden-rows":
        sheet = problem.file not in ("", problem.table)
        source = f"{problem.file}/{problem.table}" if sheet else problem.table
        return READ if is_row_of(db, batch_id, source, problem.row) else LEAVE_OUT
    return _AS_READ_BEFORE.get(problem.code, problem.question.options[0])


def _added(file: Path, answers: Iterable[_Answer]) -> bool:
    """Add answers to a file; False where they all stand there, so that they do not help."""
    before = file.read_text(encoding="utf-8-sig") if file.exists() else ""
    there = tomllib.loads(before).get("answer", []) if before else []
    by = {"by": ENTERED_BEFORE}
    new = [{**answer, **by} for answer in answers if {**answer, **by} not in there]
    if not new:
        return False
    added = "".join(map(_as_toml, new))
    text = f"{before.rstrip()}\n\n{added}" if before.strip() else added
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:  # they stood in one list, which takes no [[answer]] behind it
        text = "".join(map(_as_toml, [*there, *new]))
    file.parent.mkdir(exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return True


def _as_toml(answer: Mapping[str, object]) -> str:
    """One [[answer]]; the escapes of a JSON text are those of TOML."""
    lines = (f"{key} = {json.dumps(value, ensure_ascii=False)}\n" for key, value in answer.items())
    return f"[[answer]]\n{''.join(lines)}"
