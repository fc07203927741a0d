"""Dates that end in the year: one day above 12 settles its column in its file; without one the column is asked once."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog.checking.day_order import DAY_FIRST, MONTH_FIRST, in_order, is_either, shown_order
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.problems import causes_of
from catalog.queries import runs
from tests.catalog.conftest import NOW


@pytest.mark.parametrize(
    ("texts", "order"),
    [
        (["03/04/2025 10:00", "13/04/2025 10:00"], DAY_FIRST),
        (["03/04/2025", "04/13/2025"], MONTH_FIRST),
        (["03.04.2025", "31.12.2025 23:59"], DAY_FIRST),
        (["03/04/2025", "2025-04-13"], None),
        (["13/04/2025", "04/13/2025"], None),
        (["13/13/2025", "May"], None),
        ([], None),
    ],
)
def test_the_order_that_days_above_12_show(texts, order):
    assert shown_order(texts) == order


@pytest.mark.parametrize(
    ("text", "order", "means"),
    [
        ("03/04/2025 10:00", DAY_FIRST, "2025-04-03 10:00"),
        ("3.4.2025", MONTH_FIRST, "2025-3-4"),
        ("03/04/2025, 10:00", DAY_FIRST, "2025-04-03  10:00"),
        ("03/04/2025", None, "03/04/2025"),
        ("04/13/2025", DAY_FIRST, "04/13/2025"),  # can be one date only
        ("04/04/2025", DAY_FIRST, "04/04/2025"),
    ],
)
def test_only_what_can_be_two_dates_is_put_in_order(text, order, means):
    assert in_order(text, order) == means
    assert is_either(text) == (text.split()[0].strip(",") not in ("04/13/2025", "04/04/2025"))


HEAD = "when,attenuation_db,repeat,throughput_mbit_s\n"


def batch(write_batch, *whens, answers=""):
    rows = "".join(f'"{when}",{60 + place},1,{700 - place}\n' for place, when in enumerate(whens))
    return write_batch(runs_csv=HEAD + rows, answers_toml=answers)


def test_one_day_above_12_settles_the_column(write_batch, tmp_path):
    folder = batch(write_batch, "12.05.2025 10:04", "12.05.2025 10:05", "13.05.2025 10:06")
    enter_batch(folder, into=tmp_path / "catalog.db", now=NOW)
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        # 10:04 in Berlin in May is 08:04 UTC.
        assert [(run.at_utc, run.at_typed) for run in runs(db)][:2] == [
            ("2025-05-12T08:04:00Z", "12.05.2025 10:04"),
            ("2025-05-12T08:05:00Z", "12.05.2025 10:05"),
        ]


def test_without_one_the_column_is_asked_once(write_batch):
    report = check_batch(batch(write_batch, "12.05.2025 10:04", "11.05.2025 10:04"), catalog=None)
    (cause,) = causes_of(report.problems)
    assert [problem.row for problem in cause.problems] == [2, 3]
    assert cause.answer == 'cause = "two-dates", table = "runs", column = "when", means = "day first" or "month first"'
    problem = cause.first
    assert str(problem) == (
        "runs.csv row 2, column \"when\": '12.05.2025 10:04' can be 12 May or 5 December. No other date of the column "
        'shows which. Answer it once in answers.toml: cause = "two-dates", table = "runs", column = "when", means = '
        '"day first" or "month first". Or write the year first.'
    )


@pytest.mark.parametrize(("means", "day"), [("day first", "2025-05-12"), ("month first", "2025-12-05")])
def test_one_answer_is_for_all_of_them(write_batch, tmp_path, means, day):
    answer = f'[[answer]]\ncause = "two-dates"\ntable = "runs"\ncolumn = "when"\nmeans = "{means}"\n'
    folder = batch(write_batch, "12.05.2025 10:04", "12.05.2025 10:05", answers=answer)
    assert enter_batch(folder, into=tmp_path / "catalog.db", now=NOW).rows_new == 2
    with closing(open_catalog(tmp_path / "catalog.db", readonly=True)) as db:
        assert {run.at_utc[:10] for run in runs(db)} == {day}


def test_both_orders_in_one_column_are_asked_and_the_clear_ones_stay(write_batch, tmp_path):
    whens = ("12.05.2025 10:04", "13.05.2025 10:05", "05.14.2025 10:06")
    (problem,) = check_batch(batch(write_batch, *whens), catalog=None).problems
    assert (problem.row, problem.code) == (2, "two-dates")


def test_an_order_that_nothing_asks_for_is_named(write_batch):
    answer = '[[answer]]\ncause = "two-dates"\ntable = "runs"\ncolumn = "when"\nmeans = "day first"\n'
    report = check_batch(batch(write_batch, "13.05.2025 10:04", answers=answer), catalog=None)
    assert [warning.code for warning in report.warnings if warning.table == "answers.toml"] == ["stale-answer"]


def test_one_answer_says_what_a_word_of_a_column_means(write_batch):
    sheet = "attenuation_db,repeat,throughput_mbit_s,level\n60,1,700,0\n70,1,600,0\n80,1,500,-60\n"
    answer = '[[answer]]\ntable = "runs"\ncolumn = "level"\ntyped = "0"\nmeans = ""\n'
    report = check_batch(write_batch(runs_csv=sheet, answers_toml=answer), catalog=None)
    assert (report.problems, report.rows_new) == ((), 3)
