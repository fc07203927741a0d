"""Answers by cause: which one counts, and what is said about those that settle nothing."""

from __future__ import annotations

from catalog.checking.answers import Answers, read_answers
from catalog.checking.troubles import Trouble
from catalog.reading.batch import TomlFile
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
