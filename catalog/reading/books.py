"""One workbook as a batch: its sheets found by name, in any order and case."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import PurePosixPath

from catalog.errors import Problem
from catalog.reading.opendocument import opendocument_sheets
from catalog.reading.rawtable import RawTable, problem_in
from catalog.reading.sources import SourcePath
from catalog.reading.thing_sheets import ANSWERS, BATCH, LISTS, TABLE_SHEETS, THING_SHEETS, folded, sheet_called
from catalog.reading.workbooks import SourceOf, workbook_sheets

Sheets = list[tuple[RawTable, bool]]
_READERS: dict[str, Callable[[str, bytes, SourceOf], Sheets | Problem]] = {
    ".xlsx": workbook_sheets,
    ".ods": opendocument_sheets,
}
BOOK_SUFFIXES = tuple(_READERS)


@dataclass(frozen=True)
class Book:
    """The sheets of a workbook that is a batch. A hidden one is the `hidden_sheet` of an empty table.

    things   Batch, Answers and the sheets of things; `stem` is the sheet's name
    tables   the tables; `stem` is the table
    notices  sheets that nobody knows
    """

    things: Sequence[RawTable] = ()
    tables: Sequence[RawTable] = ()
    notices: Sequence[Problem] = ()
    problems: Sequence[Problem] = field(default_factory=list)


# What programs and people call one more sheet of a kind: "Runs (2)", "Runs 2024", "Runs copy".
_COPIED = re.compile(r"(.+?)[ _(-]+(?:copy|\d[\d ./-]*)\)?$", re.IGNORECASE)


def read_book(file: str, content: bytes) -> Book:
    """Every sheet of the workbook *file*. What cannot be read is among its problems."""

    def source_of(title: str) -> str | None:
        name = sheet_called(title)
        return None if name is None else SourcePath(file, name, sheet=title)

    sheets = _READERS[PurePosixPath(file).suffix.casefold()](file, content, source_of)
    if isinstance(sheets, Problem):
        return Book(problems=[sheets])
    known: dict[str, RawTable] = {}
    notices: list[Problem] = []
    problems: list[Problem] = []
    unknown: Counter[str] = Counter()
    for sheet, shows in sheets:
        name = sheet_called(sheet.sheet)
        if [problem.code for problem in sheet.problems] == ["no-header"]:
            continue
        if name is None:
            ours = not shows and folded(sheet.sheet) == folded(LISTS)
            if sheet.headers and not ours and not unknown[sheet.sheet]:
                unknown[sheet.sheet] += 1
                copied = _COPIED.match(sheet.sheet)
                if copied is not None and sheet_called(copied[1]) is not None:
                    problems.append(_further(file, sheet.sheet, copied[1]))
                else:
                    notices.append(_unknown(file, sheet.sheet))
        elif name in known:
            problems.append(_twice(known[name], sheet))
        elif shows:
            known[name] = replace(sheet, stem=name)
        else:
            hidden = replace(sheet, stem=name)
            known[name] = RawTable(sheet.file, name, hidden_sheet=hidden)
    if BATCH not in known and not problems:
        missing = f"{file} has no sheet {BATCH}, which names the batch."
        remedy = "Add one with the columns name and value, or let `likeloss new BOOK.xlsx` write a workbook to fill."
        problems.append(problem_in(file, 1, missing, remedy, "no-batch-sheet"))
    return Book(
        things=[known[title] for title in (BATCH, ANSWERS, *THING_SHEETS) if title in known],
        tables=[known[stem] for stem in TABLE_SHEETS if stem in known and _holds_something(known[stem])],
        notices=notices,
        problems=problems,
    )


def batch_sheet(file: str, content: bytes) -> RawTable | None:
    """The sheet Batch alone; None where the workbook has none that can be read."""

    def source_of(title: str) -> str | None:
        return SourcePath(file, BATCH, sheet=title) if sheet_called(title) == BATCH else None

    sheets = _READERS[PurePosixPath(file).suffix.casefold()](file, content, source_of)
    if isinstance(sheets, Problem):
        return None
    return next((replace(sheet, stem=BATCH) for sheet, _ in sheets if sheet_called(sheet.sheet) == BATCH), None)


def _holds_something(table: RawTable) -> bool:
    """A sheet with a heading and nothing below it says nothing."""
    return bool(table.rows or table.problems or table.hidden_sheet)


def _unknown(file: str, title: str) -> Problem:
    names = [BATCH, *THING_SHEETS, *TABLE_SHEETS.values(), ANSWERS]
    sentence = f"Nothing is known of a sheet {title!r}, so it is left alone."
    return problem_in(file, 1, sentence, f"Sheets are {', '.join(names)}.", "unknown-sheet", value=title)


def _further(file: str, title: str, like: str) -> Problem:
    sentence = f'The sheet "{title}" goes by the name of "{like}" with something behind it, and would be left out.'
    remedy = f'Put its rows under those of "{like}", or give it a name that begins otherwise to leave it out.'
    return problem_in(file, 1, sentence, remedy, "further-sheet", value=title)


def _twice(first: RawTable, second: RawTable) -> Problem:
    title = (first.hidden_sheet or first).sheet
    sentence = f'The sheets "{title}" and "{second.sheet}" go by one name.'
    return problem_in(second.file, 1, sentence, "Put the rows of both into one.", "two-sources")
