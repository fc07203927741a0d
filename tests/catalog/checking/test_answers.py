"""Answers by cause: which one counts, and what is said about those that settle nothing."""

from __future__ import annotations

import pytest

from catalog.checking.answers import Answers, read_answers
from catalog.checking.batches import check
from catalog.checking.troubles import Trouble
from catalog.entering import check_batch
from catalog.reading.batch import read_batch
from catalog.reading.documents import TomlFile
from catalog.reading.toml_lines import index_lines, parse_toml

OPTIONS = ("finished", "did not finish")


def answers(text):
    return read_answers(TomlFile(parse_toml(text), index_lines(text)))


def decided(document: Answers, row: int, *, tables=("runs.csv", "runs"), columns=()):
    return document.to_cause("rate-stopped", tables, row=row, columns=columns, options=OPTIONS)


def test_an_answer_without_a_row_settles_every_row():
    document, problems = answers('[[answer]]\ncause = "rate-stopped"\ntable = "runs"\nmeans = "finished"\n')
    assert problems == []
    assert [decided(document, row) for row in (2, 900)] == ["finished", "finished"]
    assert document.unused() == []


def test_the_answer_that_names_the_row_counts_before_the_one_for_all():
    document, _ = answers(
        '[[answer]]\ncause = "rate-stopped"\ntable = "runs.csv"\nrow = 7\nmeans = "Did not finish"\n'
        '[[answer]]\ncause = "rate-stopped"\ntable = "runs"\nmeans = "finished"\n'
    )
    assert decided(document, 7) == "did not finish"
    assert decided(document, 8) == "finished"


def test_an_answer_for_another_cause_table_or_column_settles_nothing_and_is_named():
    document, _ = answers(
        '[[answer]]\ncause = "sum-row"\ntable = "runs"\nmeans = "finished"\n'
        '[[answer]]\ncause = "rate-stopped"\ntable = "longruns"\nmeans = "finished"\n'
        '[[answer]]\ncause = "rate-stopped"\ntable = "runs"\ncolumn = "note"\nmeans = "finished"\n'
    )
    assert decided(document, 2, columns={"log"}) is None
    assert [(problem.row, problem.code) for problem in document.unused()] == [
        (1, "stale-answer"),
        (5, "stale-answer"),
        (9, "stale-answer"),
    ]


def test_a_meaning_that_is_none_of_the_options_settles_nothing():
    document, _ = answers('[[answer]]\ncause = "rate-stopped"\ntable = "runs"\nmeans = "perhaps"\n')
    assert decided(document, 2) is None
    assert "means is none of its answers" in document.unused()[0].expected


def test_an_answer_needs_a_text_or_a_cause():
    _, problems = answers('[[answer]]\ncause = "rate-stopped"\ntable = "runs"\n')
    assert problems[0].expected == "The answer has no means."
    assert problems[0].remedy == "It needs table, column, typed and means, or cause, table and means."
    _, problems = answers('[[answer]]\ncause = "a"\ntable = "runs"\nmeans = "x"\ntyped = "5"\n')
    assert problems[0].expected == "'typed' is not known in an answer."


def test_a_question_says_how_it_is_answered():
    question = Trouble("The rate is 0 from 95 s on.", "Did the device stop?", "rate-stopped")
    assert question.with_answers("runs", 14, OPTIONS).remedy == (
        "Did the device stop? Answer it in answers.toml: "
        'cause = "rate-stopped", table = "runs", row = 14, means = "finished" or "did not finish".'
    )


RUNS = "attenuation_db,repeat,throughput_mbit_s,level_dbm\n60,1,900,-50\n60,2,905,{}\n60,3,907,{}\n"
ANSWER = '[[answer]]\ntable = "runs"\nrow = 3\ncolumn = "level_dbm"\ntyped = "54"\nmeans = "-54"\n'


def test_an_answer_whose_row_moved_is_named_with_the_row_it_moved_to(write_batch):
    folder = write_batch(runs_csv=RUNS.format("54", "-52"), answers_toml=ANSWER)
    assert check_batch(folder, catalog=None).warnings == ()
    folder = write_batch(runs_csv=RUNS.format("-52", "54"), answers_toml=ANSWER)
    (stale,) = check_batch(folder, catalog=None).warnings
    assert str(stale) == (
        "answers.toml line 1, column \"level_dbm\": '54' stands in row 4 now, not in row 3, so this answer changed "
        "nothing. Have rows moved? Correct its row, or remove it."
    )
    folder = write_batch(runs_csv=RUNS.format("-52", "-53"), answers_toml=ANSWER)
    (stale,) = check_batch(folder, catalog=None).warnings
    assert stale.expected == "No such cell was found, so this answer changed nothing."


SPOTS = "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm\n" + "".join(
    f"house-a,S1,5,2025-01-01,20,{reading}\n" for reading in (-40, 0, -41, "", -40, 0, -42, -40)
)


def test_readings_of_nothing_are_settled_once_for_the_column(write_batch):
    problems = check_batch(write_batch(spots_csv=SPOTS), catalog=None).problems
    assert [(problem.row, problem.code) for problem in problems] == [
        (3, "level-zero"),
        (5, "missing"),
        (7, "level-zero"),
    ]
    assert str(problems[0]) == (
        'spots.csv row 3, column "reading_dbm": 0 dBm is not a received level; many programs write 0 for nothing heard. '
        'Correct the cell. Answer it in answers.toml: cause = "level-zero", table = "spots", row = 3, '
        'means = "nothing heard".'
    )
    answers = "".join(
        f'[[answer]]\ncause = "{cause}"\ntable = "spots"\ncolumn = "reading_dbm"\nmeans = "nothing heard"\n'
        for cause in ("level-zero", "missing")
    )
    report = check_batch(write_batch(spots_csv=SPOTS, answers_toml=answers), catalog=None)
    assert (report.problems, report.warnings, report.rows_new) == ((), (), 5)
    assert report.repairs == {"row without a reading": 3}


def test_a_level_of_zero_that_means_nothing_heard_leaves_the_run(write_batch):
    answers = '[[answer]]\ncause = "level-zero"\ntable = "runs"\nmeans = "nothing heard"\n'
    report = check_batch(write_batch(runs_csv=RUNS.format("0", "0 dBm"), answers_toml=answers), catalog=None)
    assert (report.problems, report.rows_new) == ((), 3)


@pytest.mark.parametrize(
    ("heading", "cells", "minutes"),
    [
        ("minutes", ["60", "90"], [60.0, 90.0]),
        ("min", ["60", "90"], [60.0, 90.0]),
        ("minutes\n,,,,,,min", ["60", "90"], [60.0, 90.0]),
        ("minutes", ["60 min", "1.5 h"], [60.0, 90.0]),
        ("hours", ["1", "1.5"], [60.0, 90.0]),
    ],
)
def test_minutes_may_be_headed_by_their_unit(write_batch, heading, cells, minutes):
    head, _, units = heading.partition("\n")
    text = f"device,face,material,reading_c,ambient_c,load,{head}\n" + (f"{units}\n" if units else "")
    text += "".join(f"tessarik-shale-2,{n},metal,41,23,idle,{cell}\n" for n, cell in enumerate(cells))
    checked = check(read_batch(write_batch(heat_csv=text)), None)
    assert checked.problems == []
    assert [row["minutes"] for row in checked.rows["heat"]] == minutes
