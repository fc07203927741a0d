"""Columns that nobody knows and that may be conditions of a test: rows of one cell that differ in one are held."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from catalog.checking.idempotence import IDENTITIES, run_cell
from catalog.checking.keys import IGNORE_COLUMNS
from catalog.checking.names import fold
from catalog.checking.results import Pairs
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.documents import TomlFile

_MOST_VALUES = 3  # that a message names


def hold_varying_columns(
    tables: Iterable[tuple[TypedTable, Pairs]], there: Collection[object], ignored: Collection[str]
) -> None:
    """Hold runs of one cell between which a column that nobody knows differs: it may be a condition, and pooling hides it.

    A column with another problem waits until that is settled. A blank is another value than any word, for where one row says "low" the blank ones were something else.

    there    rows in the catalogue by key: what was entered once needs no second question
    ignored  columns that the batch calls no condition, folded
    """
    key = IDENTITIES["run"].key
    for table, pairs in tables:
        asked = {problem.column for problem in table.problems}
        notes: dict[str, dict[int, str]] = {}
        for number, header, text in table.notes:
            if fold(header) not in ignored and header not in asked:
                notes.setdefault(header, {})[number] = text
        if not notes or any(problem.code == "hidden-columns" for problem in table.problems):
            continue
        cells: dict[object, list[TypedRow]] = {}
        for typed, row in pairs:
            if not typed.held and key(row) not in there:
                cells.setdefault(run_cell(row), []).append(typed)
        for header, texts in notes.items():
            varying = [
                rows for rows in cells.values() if len({fold(texts.get(typed.number, "")) for typed in rows}) > 1
            ]
            if varying:
                _hold_varying(table, header, varying, texts)


def _hold_varying(
    table: TypedTable, header: str, cells: Sequence[Sequence[TypedRow]], texts: Mapping[int, str]
) -> None:
    """One problem for all cells in which a column differs, with the rows and words of the first."""
    first = cells[0]
    spelt: dict[str, str] = {}
    for typed in first:
        text = texts.get(typed.number, "")
        spelt.setdefault(fold(text), text or "blank")
    values = list(spelt.values())
    shown = [*values[:_MOST_VALUES], "more"] if len(values) > _MOST_VALUES else values
    words = f"{', '.join(shown[:-1])} and {shown[-1]}"
    others = len(cells) - 1
    more = "" if not others else f", and it differs in {others} more {'cell' if others == 1 else 'cells'}"
    varies = Trouble(
        f"{words} in one cell (rows {spans([typed.number for typed in first])}){more}.",
        f"Name the difference as settings, or list the column in {IGNORE_COLUMNS}.",
        "condition-varies",
        if_entered=True,
    )
    if table.as_entered(first[0].number, header, varies):
        return
    table.problems.append(varies.at(table.file, first[0].number, header, texts.get(first[0].number, "")))
    for cell in cells:
        for typed in cell:
            typed.held = True


def spans(numbers: Sequence[int]) -> str:
    """Numbers as they follow each other: "5–10, 14"."""
    ordered = sorted(set(numbers))
    runs: list[list[int]] = []
    for number in ordered:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs)


def unused_ignored(tables: Iterable[TypedTable], ignored: Collection[str], file: TomlFile) -> list[Problem]:
    """Warnings about columns that the batch calls no condition and that no table has as a note."""
    there = {fold(header) for table in tables for _, header, _ in table.notes}
    place = file.place(IGNORE_COLUMNS)
    return [
        Trouble(
            f"No table has an unknown column {name!r} with anything in it.", "Correct or remove it.", "unused-name"
        ).at(*place, IGNORE_COLUMNS, name)
        for name in sorted(set(ignored) - there)
    ]


def is_ignored(warning: Problem, ignored: Collection[str]) -> bool:
    """Whether a warning only says that a column is not known, of one that the batch calls no condition."""
    return warning.code == "unknown-column" and fold(warning.column) in ignored
