"""An export of rows that were entered before today's checks enters again, with answers that nobody had to give."""

from __future__ import annotations

import hashlib
import sqlite3
import tomllib
import zlib
from contextlib import closing
from datetime import UTC, datetime

import openpyxl
import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch
from catalog.errors import BatchRefused
from catalog.exporting import export_batches
from tests.catalog.checking.test_mistakes import MISTAKES, RUNS, clean, runs
from tests.catalog.conftest import NOW
from tests.earlier.unpacking import version_1

RESULTS = "SELECT source_file, source_row, throughput_mbit_s, outcome, channel FROM run ORDER BY 1, 2"
LATER = datetime(2026, 11, 30, tzinfo=UTC)


def answer(cause, means, *, table="runs", column=""):
    named = f'column = "{column}"\n' if column else ""
    return f'[[answer]]\ncause = "{cause}"\ntable = "{table}"\n{named}means = "{means}"\nby = "entered before"\n'


def asked(code):
    return next(mistake for mistake in MISTAKES if mistake.code == code).parts


def without_answers(path):
    """A catalogue as it was when nobody had to answer: its answers are gone, the rows stay."""
    with closing(sqlite3.connect(path)) as db:
        db.execute("DELETE FROM raw_file WHERE path = 'answers.toml'")
        db.commit()


def rows(path, statement=RESULTS):
    with closing(sqlite3.connect(path)) as db:
        return db.execute(statement).fetchall()


# What was entered before -> the answers that its export needs. The first option of a question is not always how it was.
CASES = {
    "condition-varies": (
        {"runs_csv": runs({2: {"mood": "full"}, 3: {"mood": "low"}}, header=f"{RUNS},mood")},
        answer("condition-varies", "as entered", column="mood"),
    ),
    "channel-not-in-band": (
        {"runs_csv": runs({3: {"channel": "6"}}, header=f"{RUNS},channel")},
        answer("channel-not-in-band", "as entered", column="channel"),
    ),
    "above-phy": (asked("above-phy"), answer("above-phy", "as entered", column="throughput_mbit_s")),
    "odd-characters": (
        {"runs_csv": runs({3: {"note": "door\u200bopen"}}, header=f"{RUNS},note")},
        answer("odd-characters", "as entered", column="note"),
    ),
    "copied-block": (asked("copied-block"), answer("copied-block", "as typed", column="throughput_mbit_s")),
    "log-not-covered": (asked("log-not-covered"), answer("log-not-covered", "not logged", column="log")),
    "log-used-twice": (asked("log-used-twice"), answer("log-used-twice", "both", column="log")),
    "rate-stopped": (asked("rate-stopped"), answer("rate-stopped", "finished", column="log")),
    "sum-row": (  # a mean with the sum in it is more than radios carry
        asked("sum-row"),
        answer("sum-row", "measured", column="log") + answer("above-phy", "as entered", column="log"),
    ),
    "counter-not-amount": (asked("counter-not-amount"), answer("counter-not-amount", "amounts", column="log")),
}


@pytest.mark.parametrize("code", CASES)
def test_an_export_answers_what_was_not_asked_then(code, write_batch, tmp_path):
    parts, needed = CASES[code]
    folder, before = write_batch(**clean(**parts)), tmp_path / "before.db"
    with pytest.raises(BatchRefused):
        enter_batch(folder, into=before, now=NOW)
    (folder / "answers.toml").write_text(needed)
    enter_batch(folder, into=before, now=NOW)
    without_answers(before)
    heard: list[str] = []
    (name,) = export_batches(open_catalog(before, readonly=True), tmp_path / "out", refused=heard.append)
    assert heard == []
    written = (tmp_path / "out" / name / "answers.toml").read_text()
    assert tomllib.loads(written) == tomllib.loads(needed)
    enter_batch(tmp_path / "out" / name, into=tmp_path / "again.db", now=NOW)
    assert rows(tmp_path / "again.db") == rows(before)
    assert check_batch(tmp_path / "out" / name, catalog=open_catalog(before, readonly=True)).problems == ()


def test_only_an_export_may_say_that_something_was_entered_before(write_batch):
    parts, needed = CASES["channel-not-in-band"]
    folder = write_batch(**clean(**parts))
    (folder / "answers.toml").write_text(needed.replace("entered before", "the bench desk"))
    assert [problem.code for problem in check_batch(folder, catalog=None).problems] == ["channel-not-in-band"]


def test_an_unknown_device_never_was_in_the_catalogue(write_batch):
    folder = write_batch(**clean(runs_csv=runs({3: {"device": "none"}}, header=f"{RUNS},device")))
    (folder / "answers.toml").write_text(answer("unknown-device", "as entered", column="device"))
    assert "unknown-device" in {problem.code for problem in check_batch(folder, catalog=None).problems}


@pytest.mark.parametrize("means", ["read", "leave out"])
def test_hidden_rows_are_read_again_if_they_were_entered(means, write_batch, tmp_path):
    folder, before = write_batch(), tmp_path / "before.db"
    book = openpyxl.Workbook()
    for row in (["attenuation_db", "repeat", "throughput (Mbit/s)"], [60, 1, 700], [60, 2, 702]):
        book.active.append(row)
    book.active.row_dimensions[3].hidden = True
    book.save(folder / "runs.xlsx")
    (folder / "answers.toml").write_text(answer("hidden-rows", means))
    enter_batch(folder, into=before, now=NOW)
    without_answers(before)
    (name,) = export_batches(open_catalog(before, readonly=True), tmp_path / "out")
    enter_batch(tmp_path / "out" / name, into=tmp_path / "again.db", now=NOW)
    assert rows(tmp_path / "again.db") == rows(before)
    assert len(rows(before)) == (2 if means == "read" else 1)


@pytest.mark.parametrize(
    ("toml", "wrong", "right"),
    [
        ('id = "first"', 'id = "first."', "batch_id"),
        ('title = "First bench"', 'title = "First\u200b bench"', "title"),
    ],
)
def test_what_batch_toml_held_then_enters_again(toml, wrong, right, write_batch, tmp_path):
    folder, before = write_batch(**clean()), tmp_path / "before.db"
    text = (folder / "batch.toml").read_text()
    assert toml in text
    (folder / "batch.toml").write_text(text.replace(toml, wrong))
    (problem,) = check_batch(folder, catalog=None).problems
    (folder / "answers.toml").write_text(answer(problem.code, "as entered", table="batch.toml", column=problem.column))
    enter_batch(folder, into=before, now=NOW)
    without_answers(before)
    (name,) = export_batches(open_catalog(before, readonly=True), tmp_path / "out")
    enter_batch(tmp_path / "out" / name, into=tmp_path / "again.db", now=NOW)
    assert rows(tmp_path / "again.db", f"SELECT {right} FROM batch") == rows(before, f"SELECT {right} FROM batch")


def test_answers_that_were_there_stay_in_whatever_form(write_batch, tmp_path):
    odd = {2: {"mood": "full", "note": "door\u200bopen"}, 3: {"mood": "low"}}
    parts = clean(runs_csv=runs(odd, header=f"{RUNS},mood,note"))
    folder, before = write_batch(**parts), tmp_path / "before.db"
    first = '{cause = "odd-characters", table = "runs", means = "as entered", by = "entered before"}'
    second = '{cause = "condition-varies", table = "runs", means = "as entered", by = "entered before"}'
    (folder / "answers.toml").write_text(f"answer = [{first}, {second}]\n")
    enter_batch(folder, into=before, now=NOW)
    then = f"answer = [{first}]\n".encode()
    with closing(sqlite3.connect(before)) as db:  # the second was not asked then
        sha256 = hashlib.sha256(then).hexdigest()
        db.execute("INSERT INTO raw_content VALUES (?, ?, ?)", [sha256, len(then), zlib.compress(then)])
        db.execute("UPDATE raw_file SET sha256 = ? WHERE path = 'answers.toml'", [sha256])
        db.commit()
    (name,) = export_batches(open_catalog(before, readonly=True), tmp_path / "out")
    answers = tomllib.loads((tmp_path / "out" / name / "answers.toml").read_text())["answer"]
    assert [one["cause"] for one in answers] == ["odd-characters", "condition-varies"]
    enter_batch(tmp_path / "out" / name, into=tmp_path / "again.db", now=NOW)


def test_a_batch_that_no_answer_lets_through_is_named(write_batch, tmp_path):
    before = tmp_path / "before.db"
    enter_batch(write_batch(**clean()), into=before, now=NOW)
    with closing(sqlite3.connect(before)) as db:
        db.execute("DELETE FROM raw_file WHERE path = 'spots.csv'")
        db.commit()
    result = CliRunner().invoke(main, ["export", str(tmp_path / "out"), "--catalog", str(before)])
    assert result.exit_code == 0
    assert result.stderr.startswith("001-first does not enter again as it is: runs.csv row")
    assert (tmp_path / "out" / "001-first" / "runs.csv").exists()


def test_the_demo_of_version_1_enters_again_without_an_answer(tmp_path):
    """The oldest catalogue that is kept, from before most checks: none of its rows needs an answer."""
    original = version_1(tmp_path / "catalog.db")
    names = export_batches(open_catalog(original, readonly=True), tmp_path / "out")
    assert not list((tmp_path / "out").rglob("answers.toml"))
    again = tmp_path / "again.db"
    for name in names:
        folder = tmp_path / "out" / name
        if (folder / "batch.toml").exists():
            enter_batch(folder, into=again, now=LATER)
        else:
            (file,) = folder.glob("*.csv")
            target = open_catalog(again, readonly=False)
            correct_file(file, catalog=target, now=LATER)
            target.close()
    count = "SELECT count(*), sum(throughput_mbit_s) FROM run"
    assert rows(again, count) == rows(original, count)
