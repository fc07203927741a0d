"""Decisions a person made once, in answers.toml of the batch.

`[[answer]] table, row, column, typed, means` replaces the text of its cell while that text is still what was typed.
An answer that repeats what was typed confirms it. `[[answer]] cause, table, row, column, means` settles a question
that is not about one text, by the code of the question. In both, leaving out the row means every row;
`by` may name the person who answered.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from catalog.checking.troubles import AS_ENTERED, Trouble
from catalog.errors import Problem
from catalog.reading.documents import TomlFile
from catalog.row_numbers import place_text, typed_place

ENTERED_BEFORE = "entered before"
"""Who answers for rows that were entered before a question was asked of them: an export."""

_KEYS = frozenset({"table", "row", "column", "typed", "means", "by"})
_CAUSE_KEYS = frozenset({"cause", "table", "row", "column", "means", "by"})


@dataclass(frozen=True)
class Answer:
    """One decision, and its place: file and line, or sheet and row. *row* is "14", or "14.F" for a cell of a cross table."""

    table: str
    row: str | None
    column: str
    typed: str
    means: str
    place: tuple[str, int]


@dataclass(frozen=True)
class CauseAnswer:
    """One decision about a cause. No column means any. *number* counts them as they were written."""

    cause: str
    table: str
    row: str | None
    column: str | None
    means: str
    place: tuple[str, int]
    number: int
    by: str = ""


class Answers:
    """All decisions of a batch, looked up by cell or by cause."""

    def __init__(self, answers: Iterable[Answer] = (), causes: Iterable[CauseAnswer] = ()) -> None:
        self._answers: dict[tuple[str, str], list[Answer]] = {}
        self._causes: dict[tuple[str, str], list[CauseAnswer]] = {}
        self._used: set[Answer | CauseAnswer] = set()
        self._elsewhere: dict[Answer, str] = {}
        self._all = list(answers)
        self._all_causes = list(causes)
        for answer in self._all:
            self._answers.setdefault((_name(answer.table), _name(answer.column)), []).append(answer)
        for decision in self._all_causes:
            self._causes.setdefault((decision.cause, _name(decision.table)), []).append(decision)

    def __bool__(self) -> bool:
        return bool(self._all)

    def to_cause(
        self,
        cause: str,
        tables: Iterable[str],
        *,
        row: int,
        columns: Iterable[str] = (),
        options: Iterable[str],
        by: str = "",
        among: str = "",
    ) -> str | None:
        """The option that answers the question *cause* about a row; None if no answer gives one of *options*.

        tables   all names of the table: "runs", "runs.csv"
        columns  all names of the column the question is about; an answer that names another one is not meant
        by       only what this one answered; "" for anybody
        among    the table that this is one source of: an answer to it is meant where it is for all rows
        """
        names = {_name(column) for column in columns}
        tables = list(tables)
        own, place = {_name(table) for table in tables}, place_text(row)
        choices = {_name(option): option for option in options}
        decisions = [
            decision
            for table in {_name(table) for table in (*tables, among)}
            for decision in self._causes.get((cause, table), ())
            if (decision.row is None or (decision.row == place and table in own))
            and by in ("", decision.by)
            and (decision.column is None or _name(decision.column) in names)
        ]
        # The answer that names the row counts before the one for all rows, and the later one before the earlier.
        for decision in sorted(decisions, key=lambda one: (one.row is None, -one.number)):
            if (choice := choices.get(_name(decision.means))) is not None:
                self._used.add(decision)
                return choice
        return None

    def as_entered(self, trouble: Trouble, tables: Iterable[str], *, row: int, columns: Iterable[str] = ()) -> bool:
        """Whether an export says that what *trouble* is about was entered before anybody asked."""
        if not trouble.if_entered or not self._all_causes:
            return False
        means = self.to_cause(trouble.code, tables, row=row, columns=columns, options=[AS_ENTERED], by=ENTERED_BEFORE)
        return means is not None

    def for_column(self, tables: Iterable[str], columns: Iterable[str], *, among: str = "") -> list[Answer]:
        """Decisions for a column, under any name of the table and of the column; *among* as in `to_cause`."""
        names = list({_name(column) for column in columns})
        own = {_name(table) for table in tables}
        return [
            answer
            for table in {*own, _name(among)}
            for name in names
            for answer in self._answers.get((table, name), ())
            if answer.row is None or table in own
        ]

    def use(self, answer: Answer) -> str:
        """The text to read instead; the answer counts as used."""
        self._used.add(answer)
        return answer.means

    def moved(self, answer: Answer, row: int) -> None:
        """What was typed stands in *row*, and no longer in the row that the answer names."""
        self._elsewhere.setdefault(answer, place_text(row))

    def unused(self) -> list[Problem]:
        """Answers that met no such cell: its row has moved, the sheet has changed since, or they are misspelt."""
        unasked = Trouble(
            "Nothing asks this any more, or means is none of its answers, so this changed nothing.",
            "Correct or remove it.",
            "stale-answer",
        )
        return [
            *(
                self._stale(answer).at(*answer.place, answer.column, answer.typed)
                for answer in self._all
                if answer not in self._used
            ),
            *(
                unasked.at(*decision.place, "cause", decision.cause)
                for decision in self._all_causes
                if decision not in self._used
            ),
        ]

    def _stale(self, answer: Answer) -> Trouble:
        row = self._elsewhere.get(answer)
        if row is None:
            return Trouble(
                "No such cell was found, so this answer changed nothing.", "Correct or remove it.", "stale-answer"
            )
        return Trouble(
            f"{answer.typed!r} stands in row {row} now, not in row {answer.row}, so this answer changed nothing.",
            "Have rows moved? Correct its row, or remove it.",
            "stale-answer",
        )


def read_answers(*documents: TomlFile) -> tuple[Answers, list[Problem]]:
    """The decisions in files of answers, in the order in which they count, and what is wrong with those."""
    problems: list[Problem] = []
    answers: list[Answer] = []
    causes: list[CauseAnswer] = []
    for document in documents:
        problems += _read(document, answers, causes)
    return Answers(answers, causes), problems


def _read(document: TomlFile, answers: list[Answer], causes: list[CauseAnswer]) -> list[Problem]:
    problems: list[Problem] = []
    for key in document.values:
        if key != "answer":
            other = Trouble(f"{key!r} is not known here.", "Only [[answer]] stands in answers.toml.", "unknown-key")
            problems.append(other.at(*document.place(key), key, key))
    entries = document.values.get("answer", [])
    if not isinstance(entries, list) or not all(isinstance(entry, dict) for entry in entries):
        shape = Trouble(
            "Answers are written as [[answer]] tables.", "See the example in the README, under Answers.", "wrong-shape"
        )
        return [*problems, shape.at(*document.place("answer"), "answer", "")]
    for number, entry in enumerate(entries):
        place = document.place("answer", number)
        if (trouble := _trouble(entry)) is not None:
            problems.append(trouble.at(*place, "", ""))
            continue
        if "cause" in entry:
            causes.append(
                CauseAnswer(
                    cause=str(entry["cause"]),
                    table=str(entry["table"]),
                    row=_row(entry),
                    column=entry.get("column") and str(entry["column"]),
                    means=str(entry["means"]),
                    place=place,
                    number=len(causes),
                    by=str(entry.get("by", "")),
                )
            )
            continue
        answers.append(
            Answer(
                table=str(entry["table"]),
                row=_row(entry),
                column=str(entry["column"]),
                typed=str(entry["typed"]),
                means=str(entry["means"]),
                place=place,
            )
        )
    return problems


def _trouble(entry: dict[str, Any]) -> Trouble | None:
    required = ("table", "means") if "cause" in entry else ("table", "column", "typed", "means")
    if missing := [key for key in required if key not in entry]:
        needs = "It needs table, column, typed and means, or cause, table and means."
        return Trouble(f"The answer has no {missing[0]}.", needs, "missing")
    if unknown := sorted(set(entry) - (_CAUSE_KEYS if "cause" in entry else _KEYS)):
        return Trouble(f"{unknown[0]!r} is not known in an answer.", "Remove it.", "unknown-key")
    if entry.get("row") is not None and _row(entry) is None:
        return Trouble("The row of an answer is a whole number.", "Count as the spreadsheet does.", "not-a-number")
    return None


def _row(entry: dict[str, Any]) -> str | None:
    """The row that an answer names, as `place_text` gives it: 14, or "14.F" for a cell of a cross table."""
    row = entry.get("row")
    if isinstance(row, str):
        return typed_place(row) if "." in row else None
    return str(row) if isinstance(row, int) and not isinstance(row, bool) else None


def _name(text: str) -> str:
    folded = text.casefold().strip()
    return re.sub(r"[\s_]+", "", re.sub(r"\.(csv|tsv|xlsx|ods)$", "", folded))
