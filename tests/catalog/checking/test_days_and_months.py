"""Of old results only the day or the month is known: it is kept as such, and nothing is made of the missing clock time."""

from __future__ import annotations

from contextlib import closing
from datetime import date

import pytest

from builder import wording
from catalog import queries
from catalog.checking.batches import check
from catalog.checking.cells import Instant, read_cell
from catalog.checking.keys import day_or_month
from catalog.checking.troubles import Trouble
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.dates import earliest_instant, last_day
from catalog.entering import enter_batch
from catalog.exporting.soundness import require_sound
from catalog.reading.batch import read_batch
from catalog.reading.decimal_marks import Marks
from catalog.reading.format import TABLES
from tests.catalog.conftest import NOW

RUNS = "when,session,spot,attenuation_db,repeat,throughput_mbit_s\n"
SPOTS = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n"
SESSIONS = """
[[session]]
id = "march"
house = "house-a"
date = "2019-03"
[[session]]
id = "fourth"
house = "house-a"
date = 2019-03-04
"""


def readings(spot, since):
    return "".join(f"house-a,{spot},5,{since},20,{-40 - step}\n" for step in range(5))


@pytest.fixture
def checked(write_batch):
    def check_rows(*rows, spots="", **files):
        lines = RUNS + "".join(f"{row}\n" for row in rows)
        more = {"spots_csv": SPOTS + spots} if spots else {}
        return check(read_batch(write_batch(more=SESSIONS, runs_csv=lines, **more, **files)), None)

    return check_rows


def read_when(text, zone="Europe/Berlin"):
    return read_cell(text, TABLES["runs"].column("when"), marks=Marks("."), header=None, zone=zone, sure=False)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("2019-03-04", "2019-03-04"),
        ("2019-3-4", "2019-03-04"),
        ("13.03.2019", "2019-03-13"),
        ("2019-03", "2019-03"),
        ("2019-3", "2019-03"),
    ],
)
@pytest.mark.parametrize("zone", ["Europe/Berlin", None])
def test_a_day_or_month_is_kept_as_such_and_needs_no_zone(typed, kept, zone):
    assert read_when(typed, zone) == Instant(kept, typed, kept)


@pytest.mark.parametrize(
    ("typed", "code", "sentence"),
    [
        ("2019-13", "not-a-date", "'2019-13' is not a month of this calendar."),
        ("2019-00", "not-a-date", "'2019-00' is not a month of this calendar."),
        ("0000-03", "not-a-date", "'0000-03' is not a month of this calendar."),
        ("2019-02-30", "not-a-date", "'2019-02-30' is not a date of this calendar."),
        ("03/04/2019", "two-dates", "'03/04/2019' can be 3 April or 4 March."),
        ("March 2019", "not-a-time", "'March 2019' is not a time."),
        ("2019", "not-a-time", "'2019' is not a time."),
        ("2019-03-04 25:00", "not-a-time", "'2019-03-04 25:00' is not a time of this calendar."),
    ],
)
def test_what_no_calendar_has_is_refused(typed, code, sentence):
    trouble = read_when(typed)
    assert isinstance(trouble, Trouble)
    assert (trouble.code, trouble.expected) == (code, sentence)
    assert trouble.remedy


def test_the_date_of_a_session_is_a_day_or_a_month():
    assert [day_or_month(value) for value in (date(2019, 3, 4), "2019-03-04", "2019-03")] == [
        "2019-03-04",
        "2019-03-04",
        "2019-03",
    ]
    assert [day_or_month(value).code for value in (2019, "2019-13")] == ["not-a-date", "not-a-date"]


def test_days_and_months_in_words_and_in_order():
    assert [wording.date(text) for text in ("2019-03", "2019-03-04", "2019-03-04T10:00:00Z")] == [
        "March 2019",
        "4 March 2019",
        "4 March 2019",
    ]
    assert wording.date_range("2019-03", "2019-05-12") == "March 2019 to 12 May 2019"
    assert wording.date_range("2019-03", "2019-03") == "March 2019"
    assert [last_day(text) for text in ("2019-03", "2019-03-04")] == ["2019-03-31", "2019-03-04"]
    assert [earliest_instant(text).isoformat()[:16] for text in ("2019-03", "2019-03-04", "2019-03-04T10:20:00Z")] == [
        "2019-03-01T00:00",
        "2019-03-04T00:00",
        "2019-03-04T10:20",
    ]


def test_runs_of_one_day_without_a_clock_are_no_finding(checked):
    same = ("fourth", "", "55", "{}", "800")
    report = checked(*(",".join(["2019-03-04", *same]).format(repeat) for repeat in (1, 2, 3)))
    assert (report.problems, report.warnings) == ([], [])
    assert [row["at_utc"] for row in report.rows["run"]] == ["2019-03-04"] * 3
    timed = checked(*(",".join(["2019-03-04 10:00", *same]).format(repeat) for repeat in (1, 2, 3)))
    assert {problem.code for problem in timed.problems} == {"copied-row"}


def test_a_month_is_a_session_of_its_own(checked):
    (problem,) = checked("2019-03,fourth,,55,1,800").problems
    assert (problem.code, problem.row, problem.column) == ("month-in-a-day", 2, "when")
    assert str(problem).endswith(
        "Only the month of this row is known, 2019-03, but its session is of one day, 2019-03-04. Give it a session of "
        'its own with date = "2019-03", or write the day.'
    )
    report = checked("2019-03,march,,55,1,800", "2019-03,march,,60,1,800")
    assert (report.problems, report.warnings) == ([], [])


def test_a_day_in_the_session_of_its_month_is_listed_once(checked):
    report = checked("2019-03-04,march,,55,1,800", "2019-03-05,march,,60,1,800")
    assert report.problems == []
    assert [warning.code for warning in report.warnings] == ["day-in-a-month"]
    assert [w.code for w in checked("2019-04-04,march,,55,1,800").warnings] == ["day-in-a-month", "other-day"]


@pytest.mark.parametrize(
    ("since", "code"),
    [
        ("2019-03-15", "epoch-in-month"),
        ("2019-03-01", None),
        ("2019-04-01", "spot-not-read-then"),
        ("2018-12-24", None),
    ],
)
def test_a_month_in_which_its_spots_epoch_began_is_held(checked, since, code):
    report = checked("2019-03,march,S1,,1,800", spots=readings("S1", since))
    assert [problem.code for problem in report.problems] == ([code] if code else [])
    if code == "epoch-in-month":
        assert "begin on 2019-03-15, within 2019-03, the month of the session" in str(report.problems[0])
    if code is None:
        assert report.rows["run"][0]["spot_since"] == since


def test_a_second_epoch_within_the_month_is_held_too(checked):
    report = checked("2019-03,march,S1,,1,800", spots=readings("S1", "2018-01-01") + readings("S1", "2019-03-15"))
    assert [problem.code for problem in report.problems] == ["epoch-in-month"]


def test_no_later_epoch_may_begin_within_a_month_that_has_results(write_batch, tmp_path, batch_folder):
    catalog = tmp_path / "catalog.db"
    first = write_batch(
        more=SESSIONS, spots_csv=SPOTS + readings("S1", "2018-01-01"), runs_csv=RUNS + "2019-03,march,S1,,1,800\n"
    )
    enter_batch(first, into=catalog, now=NOW)
    with closing(open_catalog(catalog, readonly=True)) as db:
        for since, codes in (("2019-03-15", {"epoch-in-the-past"}), ("2019-04-01", set())):
            later = batch_folder("later", "", {"spots.csv": SPOTS + readings("S1", since)})
            assert {problem.code for problem in check(read_batch(later), db).problems} == codes


def test_a_bridge_test_needs_its_day(write_batch):
    bridges = "old_client,new_client,device,band,width_mhz,direction,spot,when,side,repeat,throughput_mbit_s\n"
    row = "wrenlet-u2,skarn-r2,tessarik-shale-2,5,80,down,S1,{},old,1,800\n"
    client = '\n[[client]]\nid = "skarn-r2"\nname = "Skarn"\namendment = "802.11ax"\n  [[client.radio]]\n  band = "5"\n  streams = 2\n  max_width_mhz = 160\n'
    spots = SPOTS + readings("S1", "2018-01-01")
    for when, codes in (("2019-03", ["month-of-a-bridge"]), ("2019-03-04", [])):
        folder = write_batch(more=client, spots_csv=spots, bridges_csv=bridges + row.format(when))
        assert [problem.code for problem in check(read_batch(folder), None).problems] == codes


LOG = "start,mbit_s\n" + "".join(f"2019-03-{{day}}T10:00:{second:02}Z,500\n" for second in range(30))


@pytest.mark.parametrize(("day", "codes"), [("04", []), ("05", []), ("06", ["log-of-another-row"])])
def test_a_log_of_another_day_is_held_and_one_of_the_day_is_not(write_batch, day, codes):
    # 10:00 UTC on the 5th is still the 4th nowhere but within 14 hours of midnight: a day's end is given that much.
    runs = "when,session,attenuation_db,repeat,log\n2019-03-04,fourth,55,1,logs/one.csv\n"
    folder = write_batch(more=SESSIONS, runs_csv=runs, logs__one_csv=LOG.format(day=day))
    assert [problem.code for problem in check(read_batch(folder), None).problems] == codes


def test_months_are_entered_verified_corrected_and_read_back(write_batch, tmp_path):
    catalog = tmp_path / "catalog.db"
    runs = RUNS + "2019-03,march,S1,,1,800\n2019-03-04,fourth,,60,1,700\n"
    enter_batch(
        write_batch(more=SESSIONS, spots_csv=SPOTS + readings("S1", "2018-01-01"), runs_csv=runs), into=catalog, now=NOW
    )
    with closing(open_catalog(catalog, readonly=False)) as db:
        require_sound(db)
        assert [(run.at_utc, run.at_typed, run.date, run.clocked) for run in queries.runs(db)] == [
            ("2019-03-04", "2019-03-04", "2019-03-04", False),
            ("2019-03", "2019-03", "2019-03", False),
        ]
        lines = tmp_path / "corrections.csv"
        lines.write_text(
            "table,key,column,was,now,reason,noticed_by,date\n"
            "runs,spot=S1,when,2019-03,2019-03-20,noted in the diary,bench,2025-06-01\n"
        )
        correct_file(lines, catalog=db, now=NOW)
        assert [run.at_utc for run in queries.runs(db)] == ["2019-03-04", "2019-03-20"]
