"""A spot that is named without reference readings is a place by itself, from its day or from ever."""

from __future__ import annotations

import io
import sqlite3
from contextlib import closing

import pytest

from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused
from catalog.exporting import dump, load, verify
from catalog.problems import causes_of
from catalog.visibility import public_copy
from tests.catalog.conftest import NOW

NAMED = "house,spot,band\nhouse-a,Kitchen,5\nhouse-a,Attic,5\n"
RUNS = "when,spot,repeat,throughput_mbit_s\n" + "".join(
    f"2025-05-12 1{place}:0{repeat},{spot},{repeat},{700 - 200 * place + repeat}\n"
    for place, spot in enumerate(("Kitchen", "Attic"))
    for repeat in (1, 2, 3)
)
PLACES = "SELECT DISTINCT spot, spot_since, epoch_id FROM run ORDER BY spot, spot_since"


@pytest.fixture
def catalog(tmp_path):
    return tmp_path / "catalog.db"


def rows(path, statement=PLACES):
    with closing(sqlite3.connect(path)) as db:
        return db.execute(statement).fetchall()


def test_its_results_stand_at_the_spot_and_one_sentence_says_what_a_reading_would_add(write_batch, catalog):
    folder = write_batch(spots_csv=NAMED, runs_csv=RUNS)
    report = check_batch(folder, catalog=None)
    assert report.problems == ()
    (cause,) = (cause for cause in causes_of(report.warnings) if cause.first.code == "spot-only-named")
    assert [problem.row for problem in cause.problems] == [2, 3]
    assert "A reading would say which loss it stands for" in cause.remedy
    enter_batch(folder, into=catalog, now=NOW)
    assert rows(catalog) == [("Attic", None, None), ("Kitchen", None, None)]
    assert rows(catalog, "SELECT count(*) FROM epoch") == [(0,)]


def test_from_its_day_on_and_not_before(write_batch, catalog):
    spots = "house,spot,band,valid_from\nhouse-a,Kitchen,5,2025-05-01\nhouse-a,Attic,5,2025-06-01\n"
    (cause,) = causes_of(check_batch(write_batch(spots_csv=spots, runs_csv=RUNS), catalog=None).problems)
    assert (cause.first.code, len(cause.problems)) == ("spot-not-read-then", 3)
    early = RUNS.replace("Attic", "Kitchen").replace("11:0", "12:0").replace(",3,", ",4,")
    folder = write_batch(spots_csv=spots, runs_csv="\n".join(early.splitlines()[:4]) + "\n")
    enter_batch(folder, into=catalog, now=NOW)
    assert rows(catalog) == [("Kitchen", "2025-05-01", None)]


def test_a_reading_later_begins_the_next_epoch(write_batch, catalog):
    enter_batch(write_batch(spots_csv=NAMED, runs_csv=RUNS), into=catalog, now=NOW)
    read = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "house-a,Kitchen,5,2025-05-20,20,-45\n" * 5
    more = write_batch("more", spots_csv=read, runs_csv=RUNS.replace("2025-05-12", "2025-06-12"))
    text = (more / "batch.toml").read_text().replace('id = "first"', 'id = "second"').replace("day-1", "day-9")
    (more / "batch.toml").write_text(text.replace("2025-05-12", "2025-06-12"))
    enter_batch(more, into=catalog, now=NOW)
    assert [place[:2] for place in rows(catalog)] == [("Attic", None), ("Kitchen", None), ("Kitchen", "2025-05-20")]
    early = write_batch("early", spots_csv=read.replace("Kitchen", "Attic").replace("05-20", "05-01"))
    (early / "batch.toml").write_text((early / "batch.toml").read_text().replace('id = "first"', 'id = "third"'))
    with closing(open_catalog(catalog, readonly=True)) as db:
        assert {one.code for one in check_batch(early, catalog=db).problems} == {"epoch-in-the-past"}


def test_half_a_reading_is_no_naming(write_batch):
    half = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\nhouse-a,Kitchen,5,2025-05-01,20,\n"
    (problem,) = check_batch(write_batch(spots_csv=half), catalog=None).problems
    assert (problem.code, problem.column) == ("missing", "reading_dbm")
    both = half.replace("20,", "20,-40") + "house-a,Kitchen,5,2025-05-01,,\n"
    (problem,) = check_batch(write_batch(spots_csv=both), catalog=None).problems
    assert problem.expected == "Kitchen has a 5 GHz reading from 2025-05-01 and a row without one."
    assert check_batch(write_batch(spots_csv=half.replace(",2025-05-01,20,", ",,,")), catalog=None).problems == ()


def test_a_table_of_readings_without_a_day_is_still_refused(write_batch):
    spots = "house,spot,band,reference_eirp_dbm,reading_dbm\nhouse-a,Kitchen,5,20,-40\n"
    (problem,) = check_batch(write_batch(spots_csv=spots), catalog=None).problems
    assert (problem.code, problem.column) == ("missing-column", "valid_from")


@pytest.mark.parametrize(("written", "settled"), [("0", "level-zero"), ("12", "level-positive")])
def test_what_a_receiver_writes_for_nothing_heard_is_settled_once_for_the_column(written, settled, write_batch):
    readings = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "".join(
        f"house-a,S{spot},5,2025-05-01,20,{value}\n" for spot in (1, 2, 3) for value in (-50, written, -51)
    )
    folder = write_batch(spots_csv=readings)
    (cause,) = causes_of(check_batch(folder, catalog=None).problems)
    assert (cause.first.code, len(cause.problems)) == (settled, 3)
    assert cause.answer == f'cause = "{settled}", table = "spots", column = "reading_dbm", means = "nothing heard"'
    (folder / "answers.toml").write_text(f'[[answer]]\ncause = "{settled}"\ntable = "spots"\nmeans = "nothing heard"\n')
    report = check_batch(folder, catalog=None)
    assert (report.problems, report.rows_new) == ((), 6)


def test_the_catalogue_keeps_gives_and_forgets_them(write_batch, catalog, tmp_path):
    folder = write_batch(spots_csv=NAMED, runs_csv=RUNS)
    enter_batch(folder, into=catalog, now=NOW)
    with closing(open_catalog(catalog, readonly=False)) as db:
        assert check_batch(folder, catalog=db).already_entered == "first"
        assert verify(db) == []
        out = io.BytesIO()
        dump(db, out)
        load(io.BytesIO(out.getvalue()), tmp_path / "again.db")
        copy = public_copy(catalog, as_of=NOW)
        assert copy.execute("SELECT spot FROM spot_reading ORDER BY spot").fetchall() == [("Attic",), ("Kitchen",)]
        undo_batch("first", catalog=db)
    assert rows(tmp_path / "again.db") == [("Attic", None, None), ("Kitchen", None, None)]
    assert rows(catalog, "SELECT count(*) FROM spot_reading") == [(0,)]


def test_one_that_only_a_hidden_device_uses_is_in_no_public_copy(write_batch, catalog):
    folder = write_batch(spots_csv=NAMED, runs_csv=RUNS)
    text = (folder / "batch.toml").read_text()
    hidden = '\n[device.embargo]\nuntil = "2026-01-01T00:00:00Z"\ncovers = "existence"\n'
    first, second, rest = text.partition("[[client]]")
    (folder / "batch.toml").write_text(f"{first}{hidden}{second}{rest}")
    enter_batch(folder, into=catalog, now=NOW)
    assert public_copy(catalog, as_of=NOW).execute("SELECT count(*) FROM spot_reading").fetchone() == (0,)


@pytest.mark.parametrize(
    ("line", "refused"),
    [
        ("spots,batch=first; file=spots.csv; row=2,obstacles,,one wall,forgotten,bench,2025-06-01", False),
        ("spots,batch=first; file=spots.csv; row=2,valid_from,0001-01-01,2025-05-01,looked up,bench,2025-06-01", False),
        ("spots,batch=first; file=spots.csv; row=2,reading_dbm,,-45,found,bench,2025-06-01", True),
    ],
)
def test_a_correction_moves_a_named_spot_and_reads_none(line, refused, write_batch, catalog, tmp_path):
    enter_batch(write_batch(spots_csv=NAMED, runs_csv=RUNS), into=catalog, now=NOW)
    file = tmp_path / "corrections.csv"
    file.write_text(f"table,key,column,was,now,reason,noticed_by,date\n{line}\n")
    with closing(open_catalog(catalog, readonly=False)) as db:
        if refused:
            with pytest.raises(BatchRefused):
                correct_file(file, catalog=db, now=NOW)
        else:
            correct_file(file, catalog=db, now=NOW)
            assert verify(db) == []
    since = "2025-05-01" if "valid_from" in line else None
    assert rows(catalog) == [("Attic", None, None), ("Kitchen", since, None)]
