"""The worked stories about entering, with the exact answers of the job analysis: a dirty sheet, time zones."""

import datetime as dt
import shutil
from pathlib import Path
from zoneinfo import ZoneInfo

import openpyxl
import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.errors import BatchRefused

STORIES = Path(__file__).parent
NOW = dt.datetime(2025, 8, 1, tzinfo=dt.UTC)

ANSWERS = """
[[answer]]
table = "march.csv"
row = 4
column = "Mbit/s"
typed = "101,5"
means = "MB/s"

[[answer]]
table = "march.csv"
row = 5
column = "level"
typed = "54"
means = "-54"

[[answer]]
table = "march.csv"
row = 7
column = "Mbit/s"
typed = "0"
means = "DNF"

[[answer]]
table = "march.csv"
row = 8
column = "firmware"
typed = "7.1"
means = "7.10"
by = "the bench"
"""


@pytest.fixture
def sheet(tmp_path):
    """A copy of the dirty sheet, and one that is answered."""
    folder = tmp_path / "sheet"
    shutil.copytree(STORIES / "06-dirty-sheet", folder)
    return folder


@pytest.fixture
def answered(sheet):
    (sheet / "answers.toml").write_text(ANSWERS)
    return sheet


def runs_of(catalog):
    db = open_catalog(catalog, readonly=True)
    rows = db.execute("SELECT repeat, throughput_mbit_s, outcome, level_dbm, throughput_typed FROM run ORDER BY repeat")
    return rows.fetchall()


def test_story_6_every_question_in_one_pass(sheet):
    report = check_batch(sheet, catalog=None)
    assert (report.rows_read, report.rows_new) == (7, 3)
    assert [(p.table, p.row, p.column, p.value) for p in report.problems] == [
        ("march.csv", 4, "Mbit/s", "101,5"),
        ("march.csv", 5, "level", "54"),
        ("march.csv", 7, "Mbit/s", "0"),
        ("march.csv", 8, "firmware", "7.1"),
    ]
    factor, level, zero, firmware = map(str, report.problems)
    assert (
        "8.0 times below the other repeats (their median is 812.5 Mbit/s). 101,5 MB/s would be 812.0 Mbit/s" in factor
    )
    assert "54 is positive. A received level is below 0 dBm. Did you mean -54?" in level
    assert "did the run fail (write DNF), or was zero really measured" in zero
    assert "the nearest is 7.10. Spreadsheets drop the last zero" in firmware
    (odd,) = report.warnings
    assert (odd.row, odd.value) == (3, "1.024,0")
    assert "27.0 % above 806" in str(odd)
    assert report.repairs == {"minus sign": 1, "byte order mark": 1}


def test_story_6_nothing_is_entered_while_a_row_is_held(sheet, tmp_path):
    with pytest.raises(BatchRefused) as refusal:
        enter_batch(sheet, into=tmp_path / "catalog.db", now=NOW)
    assert len(refusal.value.problems) == 4
    assert [path.name for path in tmp_path.iterdir()] == ["sheet"]


def test_story_6_answered(answered, tmp_path):
    catalog = tmp_path / "catalog.db"
    report = enter_batch(answered, into=catalog, now=NOW)
    assert report.rows_new == 7
    runs = runs_of(catalog)
    assert [run[:3] for run in runs] == [
        (1, 812.5, "finished"),
        (2, 1024.0, "finished"),
        (3, 812.0, "finished"),
        (4, 806.0, "finished"),
        (5, None, "did not finish"),
        (6, None, "did not finish"),
        (7, 809.0, "finished"),
    ]
    values = [run[1] for run in runs if run[1] is not None]
    assert sum(values) / len(values) == pytest.approx(852.7)
    assert [run[3] for run in runs] == [-54, -55, -54, -54, None, -54, -54]
    assert [run[4] for run in runs] == ["812,5", "1.024,0", "101,5", "806,0", "DNF", "0", "809,0"]


def test_story_6_again_renamed_resaved_and_changed(answered, tmp_path):
    catalog = tmp_path / "catalog.db"
    enter_batch(answered, into=catalog, now=NOW)
    before = catalog.read_bytes()

    # The same bytes under another name, in a batch that has no answers.
    (answered / "answers.toml").unlink()
    (answered / "march.csv").rename(answered / "march (1).csv")
    renamed = enter_batch(answered, into=catalog, now=NOW)
    assert (renamed.already_entered, renamed.rows_new, renamed.rows_read) == ("story-6", 0, 7)

    # Re-saved as a workbook: other bytes, numbers as numbers, text as text.
    (answered / "march (1).csv").unlink()
    (answered / "answers.toml").write_text(ANSWERS.replace("march.csv", "runs"))
    save_workbook(answered / "march.xlsx", second_value=1024)
    resaved = enter_batch(answered, into=catalog, now=NOW)
    assert (resaved.already_entered, resaved.rows_new, resaved.rows_read) == ("story-6", 0, 7)
    assert catalog.read_bytes() == before

    save_workbook(answered / "march.xlsx", second_value=824)
    with pytest.raises(BatchRefused) as refusal:
        enter_batch(answered, into=catalog, now=NOW)
    (conflict,) = refusal.value.problems
    assert conflict.row == 3
    assert "rep 2 is 1024 in the catalogue; use a correction" in str(conflict)


def save_workbook(path, *, second_value):
    """The sheet as a spreadsheet program saves it, the firmware column formatted as text."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in [
        ["rep", "Mbit/s", "level", "firmware"],
        [1, 812.5, -54, "7.10"],
        [2, second_value, -55, "7.10"],
        [3, "101,5", -54, "7.10"],
        [4, 806, 54, "7.10"],
        [5, "DNF", None, "7.10"],
        [6, 0, -54, "7.10"],
        [7, 809, -54, "7.1"],
    ]:
        sheet.append(row)
    book.save(path)


def test_story_6_a_lone_number_with_two_readings(sheet):
    (sheet / "march.csv").write_text("rep;Mbit/s;level;firmware\n1;1.024;-54;7.10\n")
    report = check_batch(sheet, catalog=None)
    (problem,) = report.problems
    assert "1024 or 1.024?" in str(problem)


def test_story_7_times_that_are_refused():
    never, twice, ambiguous = check_batch(STORIES / "07-refused-times", catalog=None).problems
    # Source: the IANA database through zoneinfo; on these days Berlin changes between +01:00 and +02:00.
    berlin = ZoneInfo("Europe/Berlin")
    gap = dt.datetime(2025, 3, 30, 2, 30, tzinfo=berlin)
    assert gap.astimezone(dt.UTC).astimezone(berlin).replace(tzinfo=None) != gap.replace(tzinfo=None)
    assert "this local time did not exist" in str(never)
    assert "clocks went 02:00→03:00" in str(never)

    fold = dt.datetime(2025, 10, 26, 2, 30, tzinfo=berlin)
    both = [fold.replace(fold=number).astimezone(dt.UTC).strftime("%H:%MZ") for number in (0, 1)]
    assert both == ["00:30Z", "01:30Z"]
    assert "happened twice" in str(twice)
    assert " or ".join(both) in str(twice)
    assert "Add +02:00 or +01:00" in str(twice)

    assert "3 April or 4 March" in str(ambiguous)
    assert [problem.row for problem in (never, twice, ambiguous)] == [2, 3, 4]


def test_story_7_the_same_instant_in_two_zones_is_one_run(tmp_path):
    catalog = tmp_path / "catalog.db"
    assert enter_batch(STORIES / "07-in-utc", into=catalog, now=NOW).rows_new == 1
    local = enter_batch(STORIES / "07-in-local-time", into=catalog, now=NOW)
    assert (local.rows_new, local.already_entered) == (0, "story-7-utc")


def test_story_7_logs_on_common_time(tmp_path):
    catalog = tmp_path / "catalog.db"
    report = enter_batch(STORIES / "07-mix", into=catalog, now=NOW)
    assert report.warnings == ()
    rows = open_catalog(catalog, readonly=True).execute("SELECT value FROM digest WHERE figure = 'common_s'").fetchall()
    assert rows == [(600.0,), (600.0,)]


def test_story_7_local_times_taken_for_utc_do_not_overlap():
    (problem,) = check_batch(STORIES / "07-mix-read-as-utc", catalog=None).problems
    assert "do not overlap: is a time zone missing?" in str(problem)
