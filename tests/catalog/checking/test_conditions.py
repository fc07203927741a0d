"""Settings in batch.toml and in tables, and columns that may be conditions: held in words, never pooled unasked."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.errors import BatchRefused
from tests.catalog.conftest import BATCH_TOML, NOW, RUN_DEFAULTS

ONE = '[[settings]]\nid = "{id}"\n{more}\n'
RUNS = """when,attenuation_db,repeat,Mbit/s,settings
2025-05-12 10:00,55,1,812,
2025-05-12 10:02,55,2,798,
2025-05-12 10:04,55,1,410,low
2025-05-12 10:06,55,2,411,Low power
"""
LOW = ONE.format(id="low", more='title = "Low power"\npower = "low"')


def settings(more, identifier="low"):
    return ONE.format(id=identifier, more=more)


@pytest.fixture
def problems(write_batch):
    """What is wrong with a batch.toml that holds *more*."""
    return lambda more, **files: [
        str(one) for one in check_batch(write_batch(more=more, **files), catalog=None).problems
    ]


@pytest.mark.parametrize(
    "more",
    [
        'title = "Held to n"\nstandard = "n"',
        'multi_link = "on"\nlinks = ["6", "5"]',
        'links = "5+6"',
        'power = "two thirds"',
        "power_dbm = 17",
        'country = "DE"\nbackhaul = "wireless"\nhops = 2',
        'punctured_mhz = 40\nairtime = "fair"\nqueueing = "deep"',
        'punctured_mhz = "5230 to 5250"',
    ],
)
def test_known_settings_are_taken(problems, more):
    assert problems(settings(more)) == []


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ('multilink = "off"', "'multilink' is no setting that is known. Did you mean multi_link?"),
        ('tx = "low"', "Known are standard, multi_link, links, power, power_dbm, country, backhaul,"),
        ('multi_link = "of"', "multi_link takes on or off, not 'of'. Did you mean off?"),
        ("multi_link = true", "multi_link takes on or off, not True."),
        (
            'standard = "802.11ax"',
            "standard takes n, ac, ax or be, the one that the client was held to, not '802.11ax'.",
        ),
        ('links = ["5", "7"]', "links takes a list of bands"),
        ('links = "5 or 6"', "links takes a list of bands"),
        ('power_dbm = "17 dBm"', "power_dbm takes a number of dBm from -40 to 60, not '17 dBm'."),
        ('backhaul = "cable"', "backhaul takes wired or wireless, not 'cable'."),
        ("hops = 1.5", "hops takes a whole number from 0 to 100, not 1.5."),
        ("power = 5", "power takes full, low, or words of your own, not 5."),
        ('country = ""', "country takes text in quotes, not ''."),
        ('title = "Nothing"', "The settings low set nothing. Say what differs from how the bench always tests:"),
    ],
)
def test_unknown_settings_are_held_in_words(write_batch, more, sentence):
    report = check_batch(write_batch(more=settings(more)), catalog=None)
    assert [one.code for one in report.problems] == ["unknown-setting"]
    assert sentence in str(report.problems[0])
    assert report.problems[0].row > 1


def test_settings_need_an_id_of_their_own(problems):
    assert any("no id" in one for one in problems('[[settings]]\npower = "low"\n'))
    assert any("is no id" in one for one in problems(settings('power = "low"', "low power")))
    assert problems(LOW + LOW) == []
    assert any("Name it once" in one for one in problems(LOW + settings('power = "full"')))


def test_rows_under_settings_are_other_rows_and_names_are_taken_by_title(write_batch, tmp_path):
    path = tmp_path / "catalog.db"
    folder = write_batch(more=LOW, runs_csv=RUNS)
    assert check_batch(folder, catalog=None).problems == ()
    enter_batch(folder, into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        rows = db.execute("SELECT settings_id, repeat, throughput_mbit_s FROM run ORDER BY run_id").fetchall()
    assert rows == [(None, 1, 812.0), (None, 2, 798.0), ("low", 1, 410.0), ("low", 2, 411.0)]
    assert enter_batch(folder, into=path, now=NOW).rows_new == 0


def test_a_default_is_the_settings_of_every_row_without_any(write_batch, tmp_path):
    rows = "\n".join(line.rpartition(",")[0] for line in RUNS.splitlines()[:3]) + "\n"
    folder = write_batch(toml=BATCH_TOML + LOW + RUN_DEFAULTS + 'settings = "low"\n', runs_csv=rows)
    enter_batch(folder, into=tmp_path / "catalog.db", now=NOW)
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert db.execute("SELECT DISTINCT settings_id FROM run").fetchall() == [("low",)]


def test_settings_nobody_registered_hold_the_row(problems):
    said = problems(LOW, runs_csv=RUNS.replace(",low\n", ",lo\n"))
    assert said == [
        "runs.csv row 4, column \"settings\": The setting 'lo' is not known. Did you mean Low power or low? Register it in "
        "batch.toml, correct the cell, or answer it once in answers.toml."
    ]


def test_equal_settings_under_another_id_are_the_same_row(write_batch, tmp_path):
    path = tmp_path / "catalog.db"
    enter_batch(write_batch(more=LOW, runs_csv=RUNS), into=path, now=NOW)
    again = BATCH_TOML.replace('id = "first"', 'id = "second"') + settings('power = "low"', "quiet") + RUN_DEFAULTS
    changed = RUNS.replace(",low\n", ",quiet\n").replace(",Low power\n", ",quiet\n")
    report = enter_batch(write_batch("second", toml=again, runs_csv=changed), into=path, now=NOW)
    assert report.rows_new == 0
    other = changed.replace("411", "420")
    with pytest.raises(BatchRefused, match=r"rep 2 is 411 in the catalogue; use a correction"):
        enter_batch(write_batch("third", toml=again.replace('"second"', '"third"'), runs_csv=other), into=path, now=NOW)


# --- Columns that nobody knows ------------------------------------------------------------------------------------

POWER = """when,attenuation_db,repeat,Mbit/s,transmit power
2025-05-12 10:00,55,1,812,full
2025-05-12 10:02,55,2,798,Full
2025-05-12 10:04,55,3,805,full
2025-05-12 10:06,55,4,410,low
2025-05-12 10:08,55,5,411,low
2025-05-12 10:10,55,6,412,low
"""


def varying(write_batch, text, *, ignore="", **more):
    folder = write_batch(toml=ignore + BATCH_TOML + RUN_DEFAULTS, runs_csv=text, **more)
    report = check_batch(folder, catalog=None)
    return report, [str(one) for one in report.problems if one.code == "condition-varies"]


def test_a_column_that_differs_inside_a_cell_is_held(write_batch):
    report, said = varying(write_batch, POWER)
    assert said == [
        'runs.csv row 2, column "transmit power": full and low in one cell (rows 2–7). Name the difference as settings, '
        "or list the column in ignore_columns."
    ]
    assert report.rows_new == 0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (POWER.replace(",Full", ",").replace(",full", ","), "blank and low in one cell"),
        (POWER.replace("412,low", "412,half").replace("411,low", "411,quiet"), "full, low, quiet and more in one cell"),
    ],
)
def test_blanks_and_many_values_differ_too(write_batch, text, words):
    assert words in varying(write_batch, text)[1][0]


def test_cells_are_counted_and_rows_of_others_are_not_held(write_batch):
    other = POWER + "".join(
        f"2025-05-12 1{hour}:0{repeat},{loss},{repeat},{value + repeat},{power}\n"
        for hour, loss, powers in ((1, 65, ("low", "full")), (2, 75, ("low", "low")))
        for repeat, (value, power) in enumerate(zip((300, 310), powers, strict=True), start=1)
    )
    report, said = varying(write_batch, other)
    assert "(rows 2–7), and it differs in 1 more cell." in said[0]
    assert report.rows_new == 2


@pytest.mark.parametrize(
    "text",
    [
        POWER.replace(",low", ",full"),  # the same everywhere
        POWER.replace("55,4", "65,4").replace("55,5", "65,5").replace("55,6", "65,6"),  # by place
    ],
)
def test_what_does_not_differ_inside_a_cell_is_a_note(write_batch, text):
    report, said = varying(write_batch, text)
    assert said == []
    assert [one.code for one in report.warnings if one.column == "transmit power"] == ["unknown-column"]


def test_a_column_that_is_no_condition_is_listed_and_kept_as_a_note(write_batch, tmp_path):
    report, said = varying(write_batch, POWER, ignore='ignore_columns = ["Transmit  Power", "mood"]\n')
    assert said == []
    warned = [(one.code, one.value) for one in report.warnings if one.code != "odd-repeat"]
    assert warned == [("unused-name", "mood")]
    enter_batch(
        write_batch("again", toml='ignore_columns = ["transmit power"]\n' + BATCH_TOML + RUN_DEFAULTS, runs_csv=POWER),
        into=tmp_path / "catalog.db",
        now=NOW,
    )
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert db.execute("SELECT count(*), count(DISTINCT typed) FROM extra").fetchone() == (6, 3)


def test_where_ignore_columns_stands_and_what_it_holds_is_said(write_batch):
    below = write_batch(more=RUN_DEFAULTS + 'ignore_columns = ["transmit power"]\n', defaults="", runs_csv=POWER)
    said = [str(one) for one in check_batch(below, catalog=None).problems]
    assert any("stands at the top of batch.toml, before the first line with a bracket" in one for one in said)
    report, _ = varying(write_batch, POWER, ignore='ignore_columns = "mood"\n')
    assert any(one.column == "ignore_columns" and "not a list of texts" in one.expected for one in report.problems)


def test_a_batch_that_was_entered_is_not_asked_again(write_batch, tmp_path):
    path = tmp_path / "catalog.db"
    toml = 'ignore_columns = ["transmit power"]\n' + BATCH_TOML + RUN_DEFAULTS
    enter_batch(write_batch(toml=toml, runs_csv=POWER), into=path, now=NOW)
    later = BATCH_TOML.replace('id = "first"', 'id = "second"') + RUN_DEFAULTS
    with closing(open_catalog(path, readonly=True)) as db:
        report = check_batch(write_batch("second", toml=later, runs_csv=POWER), catalog=db)
    assert report.problems == ()
