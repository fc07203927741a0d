"""Problems by cause: what one thing settles is listed once, with one answer, and what follows from it is counted there."""

from __future__ import annotations

import tomllib

import pytest

from catalog.entering import check_batch
from catalog.errors import Problem
from catalog.problems import causes_of, listing
from tests.catalog.checking.test_mistakes import MISTAKES, SPOTS, clean, runs


@pytest.fixture
def checked(write_batch):
    def check(answers="", **parts):
        folder = write_batch(**clean(**parts))
        (folder / "answers.toml").write_text(answers)
        return check_batch(folder, catalog=None)

    return check


def as_toml(answer: str) -> str:
    """The answer that a listing proposes, with the first of its choices, as a person would write it."""
    lines = answer.split(" or ")[0].replace(", column", "\ncolumn").replace(", table", "\ntable")
    return "[[answer]]\n" + lines.replace(", typed", "\ntyped").replace(", means", "\nmeans") + "\n"


def test_levels_without_their_sign_are_one_cause_with_one_answer(checked):
    changes = {row: {"level_dbm": str(30 + row)} for row in range(2, 14)}
    report = checked(runs_csv=runs(changes))
    (cause,) = causes_of(report.problems)
    assert len(cause.problems) == len(report.problems) == 12
    assert cause.lines() == [
        'runs.csv rows 2, 3, 4 and 9 more, column "level_dbm": (row 2) 32 is positive. A received level is below '
        "0 dBm. Did you mean -32? Correct the cell.",
        '    One answer in answers.toml settles all: cause = "level-positive", table = "runs", '
        'column = "level_dbm", means = "nothing heard".',
    ]
    assert checked(as_toml(cause.answer), runs_csv=runs(changes)).problems == ()


def test_an_unknown_name_is_a_cause_by_itself_and_its_answer_settles_every_row(checked):
    header = "when,spot,direction,level_dbm,repeat,throughput_mbit_s,log,device"
    changes = {row: {"device": "tessarik-shale" if row % 2 else "Shale Two"} for row in range(2, 26)}
    parts = {"runs_csv": runs(changes, header=header)}
    first, second = causes_of(checked(**parts).problems)
    assert (len(first.problems), len(second.problems)) == (12, 12)
    answers = as_toml(first.answer) + as_toml(second.answer)
    assert tomllib.loads(answers)["answer"][1]["typed"] == "tessarik-shale"
    report = checked(answers.replace('means = "…"', 'means = "tessarik-shale-2"'), **parts)
    assert (report.problems, report.rows_new) == ((), report.rows_read)


def test_runs_at_a_spot_whose_readings_are_refused_are_counted_there(checked):
    report = checked(spots_csv=SPOTS.replace("2025-01-01", "2025-01-01 10:00"))
    (cause,) = causes_of(report.problems)
    assert (cause.first.table, len(cause.problems), cause.following) == ("spots.csv", 20, 24 + 1)
    assert cause.lines()[-1] == "    25 more only follow from this."
    assert len(report.to_json()["problems"]) == 45  # JSON keeps every one
    assert report.to_json()["causes"][0]["following"] == 25


def test_runs_at_a_spot_of_a_table_without_a_column_follow_from_its_heading(checked):
    report = checked(spots_csv=SPOTS.replace("valid_from", "since when").replace("2025-01-01", "x"))
    causes = causes_of(report.problems)
    assert [(cause.first.code, cause.following) for cause in causes] == [("missing-column", 25)]


def test_what_names_a_refused_house_or_session_follows_from_it(write_batch):
    folder = write_batch(**clean(spots_csv=SPOTS.replace("house-a", "a b")))
    text = (folder / "batch.toml").read_text()
    (folder / "batch.toml").write_text(text.replace('"house-a"', '"a b"'))
    causes = causes_of(check_batch(folder, catalog=None).problems)
    assert all(cause.first.table == "batch.toml" for cause in causes), [cause.lines() for cause in causes]
    assert sum(cause.following for cause in causes) >= 24 + 20


def test_a_missing_zone_is_one_cause(write_batch):
    folder = write_batch(**clean())
    text = (folder / "batch.toml").read_text()
    (folder / "batch.toml").write_text(text.replace('timezone = "Europe/Berlin"', 'timezone = "Berlin"', 1))
    causes = causes_of(check_batch(folder, catalog=None).problems)
    assert [cause.first.code for cause in causes] == ["unknown-zone"]
    assert causes[0].following > 24


@pytest.mark.parametrize("mistake", [one for one in MISTAKES if one.held], ids=lambda one: one.code)
def test_one_mistake_is_one_cause_and_where_a_listing_proposes_an_answer_it_settles_it(checked, mistake):
    report = checked(**mistake.parts)
    (cause,) = causes_of(report.problems)
    assert cause.lines()[0] == str(report.problems[0])
    if cause.answer is not None and '"…"' not in cause.answer:
        assert mistake.code not in {
            problem.code for problem in checked(as_toml(cause.answer), **mistake.parts).problems
        }


def problem(row, *, code="a", table="runs.csv", column="x", follows=None):
    sentence = f"{row} is wrong."
    return Problem(
        table=table, row=row, column=column, value="", expected=sentence, remedy="Mend it.", code=code, follows=follows
    )


def test_a_listing_has_as_many_lines_as_asked_for_and_says_what_it_leaves_out():
    problems = [problem(row, code=f"c{row % 50}") for row in range(1, 1001)]
    lines = listing(problems, most=40)
    assert len(lines) == 40
    assert lines[-1] == "… and 11 more causes, 220 in all. `likeloss check --all` shows every row."
    assert lines[0] == 'runs.csv rows 1, 51, 101 and 17 more, column "x": (row 1) 1 is wrong. Mend it.'
    assert len(listing(problems)) == 50


def test_what_follows_from_what_follows_is_counted_at_the_root():
    chain = [problem(3, follows=("runs.csv", 2)), problem(2, follows=("batch.toml", 9)), problem(9, table="batch.toml")]
    (cause,) = causes_of(chain)
    assert (cause.first.table, cause.following) == ("batch.toml", 2)


def test_problems_that_follow_from_each_other_are_not_lost():
    ring = [problem(2, follows=("runs.csv", 3)), problem(3, follows=("runs.csv", 2))]
    assert sum(len(cause.problems) for cause in causes_of(ring)) == 2


def test_a_problem_whose_root_is_gone_stands_for_itself():
    assert len(causes_of([problem(2, follows=("runs.csv", 7))])) == 1
