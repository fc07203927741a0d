"""What is wrong with a batch: single problems, and the causes that they share.

A list of ten thousand rows helps nobody who mistyped one heading. So problems are grouped: what a person does about
them, and what answer settles them, is the same for all of a cause. What only follows from another problem is counted
there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

LINED = (".toml", ".md")  # files whose places are lines
PLACES = 3  # of a cause that are named
LONGEST_CHAIN = 10  # house, session and run, with room; more would be a ring


@dataclass(frozen=True, kw_only=True)
class Question:
    """A problem that an answer in answers.toml can settle.

    table    how an answer names the table
    options  what `means` may be; none where it is for the person to say
    remedy   what else can be done, without the answer
    by_text  the answer names the text that was typed, not the cause
    where    what holds the answers of its batch
    """

    table: str
    options: tuple[str, ...]
    remedy: str
    by_text: bool = False
    where: str = "answers.toml"


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong with one value: where, what, what we wanted, what to do.

    table     file name of the table ("runs.csv"), or "batch.toml", or an article's
    row       row as a spreadsheet counts it (the header is row 1), or the line of a .toml file or an article
    column    column or key, as typed where it was typed
    value     the text as typed
    code      a stable word for scripts, never shown alone
    file      the file it stands in; sheet and cell ("C5") where it has such, else ""
    by_cell   a value read through a map, which people find by its cell and not by its row
    question  what an answer may say, where one can settle it
    if_entered  what was entered before this was asked may keep it
    follows   table and row of the problem without which this one would not be
    """

    table: str
    row: int
    column: str
    value: str
    expected: str
    remedy: str
    code: str
    file: str = ""
    sheet: str = ""
    cell: str = ""
    by_cell: bool = False
    question: Question | None = None
    if_entered: bool = False
    follows: tuple[str, int] | None = None

    def __str__(self) -> str:
        return f"{self.place}: {self.expected} {self.remedy}".rstrip()

    @property
    def place(self) -> str:
        """Where it stands: table, row and column."""
        return _place(self, self.spot)

    @property
    def spot(self) -> str:
        """The row, or the cell where that is what says where to look."""
        return self.cell if self.by_cell and self.cell else f"{self.row}"

    def to_json(self) -> dict[str, Any]:
        """What scripts may rely on."""
        names = ("table", "row", "column", "value", "expected", "remedy", "code")
        return {name: getattr(self, name) for name in names} | {
            "file": self.file or self.table,
            "sheet": self.sheet or None,
            "cell": self.cell or None,
        }


@dataclass(frozen=True, kw_only=True)
class Cause:
    """Problems that one thing to do settles.

    problems   in the order in which they were noticed; never empty
    following  how many others only follow from them
    """

    problems: Sequence[Problem]
    following: int

    @property
    def first(self) -> Problem:
        """The problem that speaks for all."""
        return self.problems[0]

    @property
    def remedy(self) -> str:
        """What to do, without an answer."""
        question = self.first.question
        return self.first.remedy if question is None else question.remedy

    @property
    def answer(self) -> str | None:
        """What an answer has to say that settles all of them; None where an answer cannot."""
        first, question = self.first, self.first.question
        if question is None:
            return None
        options = dict.fromkeys(option for one in self.problems if one.question for option in one.question.options)
        means = " or ".join(map(_quoted, options)) or '"…"'
        column = f", column = {_quoted(first.column)}" if first.column else ""
        if question.by_text:
            return f"table = {_quoted(question.table)}{column}, typed = {_quoted(first.value)}, means = {means}"
        return f"cause = {_quoted(first.code)}, table = {_quoted(question.table)}{column}, means = {means}"

    def lines(self) -> list[str]:
        """The same for a person to read."""
        if len(self.problems) == 1:
            said = [_on_one_line(str(self.first))]
        else:
            said = [_on_one_line(f"{self.place}: {self.sentence} {self.remedy}".rstrip())]
            if self.answer is not None and self.first.question is not None:
                where = self.first.question.where
                said.append(f"    One answer in {where} settles all: {_on_one_line(self.answer)}.")
        if self.following:
            only = "1 more problem only follows" if self.following == 1 else f"{self.following:,} more only follow"
            said.append(f"    {only} from this.")
        return said

    @property
    def place(self) -> str:
        """Where they stand: the first three places, and how many more there are."""
        if len(self.problems) == 1:
            return self.first.place
        rows = list(dict.fromkeys(problem.spot for problem in self.problems))
        shown, more = rows[:PLACES], len(rows) - PLACES
        listed = f"{', '.join(shown)} and {more:,} more" if more > 0 else _joined(shown)
        return _place(self.first, listed, several=len(rows) > 1)

    @property
    def sentence(self) -> str:
        """What is wrong: of all of them, or of the first where each has its own."""
        if all(problem.expected == self.first.expected for problem in self.problems):
            return self.first.expected
        kind = "" if self.first.spot == self.first.cell else f"{_kind_of_place(self.first.table)} "
        return f"({kind}{self.first.spot}) {self.first.expected}"

    def to_json(self) -> dict[str, Any]:
        """What scripts may rely on."""
        names = ("table", "row", "column", "value", "file", "sheet", "cell")
        places = [problem.to_json() for problem in self.problems[:PLACES]]
        return {
            "code": self.first.code,
            "count": len(self.problems),
            "following": self.following,
            "places": [{name: place[name] for name in names} for place in places],
            "sentence": self.sentence,
            "remedy": self.remedy,
            "answer": self.answer,
        }


def causes_of(problems: Iterable[Problem]) -> list[Cause]:
    """The causes of *problems*, in the order of their first ones."""
    listed = list(problems)
    there: dict[tuple[str, int], Problem] = {}
    for problem in sorted(listed, key=lambda one: one.follows is not None):
        there.setdefault((problem.table, problem.row), problem)
    groups: dict[tuple[str, ...], list[Problem]] = {}
    following: dict[tuple[str, ...], int] = {}
    for problem in listed:
        root = _root(problem, there)
        if root is None:
            groups.setdefault(_key(problem), []).append(problem)
        else:
            following[_key(root)] = following.get(_key(root), 0) + 1
    return [Cause(problems=tuple(group), following=following.get(key, 0)) for key, group in groups.items()]


def _root(problem: Problem, there: dict[tuple[str, int], Problem]) -> Problem | None:
    """The problem from which *problem* follows in the end; None where it stands for itself."""
    root = problem
    for _ in range(LONGEST_CHAIN):
        if root.follows is None or (earlier := there.get(root.follows)) is None:
            return None if root is problem else root
        root = earlier
    return None


def _key(problem: Problem) -> tuple[str, ...]:
    """What the problems of one cause share. An unknown name is a cause by itself; so is each sentence about a whole line."""
    remedy = problem.remedy if problem.question is None else problem.question.remedy
    by_text = problem.question is not None and problem.question.by_text
    alone = by_text or (problem.table.endswith(LINED) and not problem.column)
    return (problem.code, problem.file, problem.table, problem.column, remedy, problem.expected if alone else "")


def listing(problems: Iterable[Problem], *, most: int | None = None, prefix: str = "") -> list[str]:
    """The causes of *problems* in at most so many lines; the last one says what is left out."""
    causes = causes_of(problems)
    lines: list[str] = []
    for place, cause in enumerate(causes):
        said = cause.lines()
        said[0] = f"{prefix}{said[0]}"
        later = place + 1 < len(causes)
        if most is not None and len(lines) + len(said) + later > most:
            rest = causes[place:]
            rows = sum(len(one.problems) + one.following for one in rest)
            kinds = "1 more cause" if len(rest) == 1 else f"{len(rest):,} more causes"
            return [*lines, f"… and {kinds}, {rows:,} in all. `likeloss check --all` shows every row."]
        lines += said
    return lines


def located(problem: Problem, *, file: str, sheet: str, cell: str) -> Problem:
    """The same, with the place that a spreadsheet program shows."""
    return replace(problem, file=file, sheet=sheet, cell=cell)


def _place(problem: Problem, rows: str, *, several: bool = False) -> str:
    """Where it stands, with the sheet where the table is one of several in its file."""
    one_of_several = problem.sheet and (problem.by_cell or problem.file != problem.table)
    table = f"{problem.file}, sheet {problem.sheet}" if one_of_several else problem.table
    column = f', column "{problem.column}"' if problem.column else ""
    if problem.by_cell and problem.cell:
        return f"{table}, {rows}{column}"
    return f"{table} {_kind_of_place(problem.table)}{'s' * several} {rows}{column}"


def _kind_of_place(table: str) -> str:
    return "line" if table.endswith(LINED) else "row"


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _quoted(text: str) -> str:
    """A text of TOML; its escapes are those of JSON."""
    return json.dumps(text, ensure_ascii=False)


def _on_one_line(text: str) -> str:
    return " ".join(text.split("\n"))
