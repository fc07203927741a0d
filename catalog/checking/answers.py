"""Decisions a person made once: `[[answer]] table, row, column, typed, means` in answers.toml of the batch.

An answer replaces the text of its cell while that text is still what was typed. One without a row
holds for every row. An answer that repeats what was typed confirms it. Who answered may stand in `by`.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.batch import TomlFile

_KEYS = frozenset({"table", "row", "column", "typed", "means", "by"})


@dataclass(frozen=True)
class Answer:
    """One decision. *line* is its place in answers.toml."""

    table: str
    row: int | None
    column: str
    typed: str
    means: str
    line: int


class Answers:
    """All decisions of a batch, found by cell."""

    def __init__(self, answers: Iterable[Answer] = ()) -> None:
        self._answers: dict[tuple[str, str], list[Answer]] = {}
        self._used: set[Answer] = set()
        self._all = list(answers)
        for answer in self._all:
            self._answers.setdefault((_name(answer.table), _name(answer.column)), []).append(answer)

    def __bool__(self) -> bool:
        return bool(self._all)

    def for_column(self, tables: Iterable[str], columns: Iterable[str]) -> list[Answer]:
        """Decisions for a column, under any name of its table and any of its own."""
        names = list({_name(column) for column in columns})
        return [
            answer
            for table in {_name(table) for table in tables}
            for name in names
            for answer in self._answers.get((table, name), ())
        ]

    def use(self, answer: Answer) -> str:
        """The text to read instead; the answer counts as used."""
        self._used.add(answer)
        return answer.means

    def unused(self) -> list[Problem]:
        """Answers that met no such cell: the sheet has changed since, or they are misspelt."""
        stale = Trouble(
            "No such cell was found, so this answer changed nothing.", "Correct or remove it.", "stale-answer"
        )
        return [
            stale.at("answers.toml", answer.line, answer.column, answer.typed)
            for answer in self._all
            if answer not in self._used
        ]


def read_answers(document: TomlFile | None) -> tuple[Answers, list[Problem]]:
    """The decisions in answers.toml, and what is wrong with that file."""
    if document is None:
        return Answers(), []
    problems: list[Problem] = []
    answers: list[Answer] = []
    for key in document.values:
        if key != "answer":
            line = document.lines.of(key)
            other = Trouble(f"{key!r} is not known here.", "Only [[answer]] stands in answers.toml.", "unknown-key")
            problems.append(other.at("answers.toml", line, key, key))
    entries = document.values.get("answer", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        shape = Trouble(
            "Answers are written as [[answer]] tables.", "See the example in the README, under Answers.", "wrong-shape"
        )
        return Answers(), [*problems, shape.at("answers.toml", document.lines.of("answer"), "answer", "")]
    for place, entry in enumerate(entries):
        line = document.lines.of("answer", place)
        if (trouble := _trouble(entry)) is not None:
            problems.append(trouble.at("answers.toml", line, "", ""))
            continue
        answers.append(
            Answer(
                table=str(entry["table"]),
                row=entry.get("row"),
                column=str(entry["column"]),
                typed=str(entry["typed"]),
                means=str(entry["means"]),
                line=line,
            )
        )
    return Answers(answers), problems


def _trouble(entry: dict[str, Any]) -> Trouble | None:
    if missing := [key for key in ("table", "column", "typed", "means") if key not in entry]:
        return Trouble(f"The answer has no {missing[0]}.", "It needs table, column, typed and means.", "missing")
    if unknown := sorted(set(entry) - _KEYS):
        return Trouble(f"{unknown[0]!r} is not known in an answer.", "Remove it.", "unknown-key")
    row = entry.get("row")
    if row is not None and (not isinstance(row, int) or isinstance(row, bool)):
        return Trouble("The row of an answer is a whole number.", "Count as the spreadsheet does.", "not-a-number")
    return None


def _name(text: str) -> str:
    folded = text.casefold().strip()
    return re.sub(r"[\s_]+", " ", re.sub(r"\.(csv|tsv|xlsx|ods)$", "", folded))
