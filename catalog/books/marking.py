"""The marked copy of a workbook: what was read, with every problem where it stands and the causes on a first sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.comments import Comment
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.utils.cell import column_index_from_string, coordinate_from_string

from catalog.books.looks import Look, Page
from catalog.books.pages import pages_of
from catalog.errors import Problem
from catalog.problems import Cause, causes_of
from catalog.reading.sources import CHECKED
from catalog.whole_files import whole_file

TO_SETTLE = PatternFill("solid", fgColor="FFB84D")
FOLLOWS = PatternFill("solid", fgColor="FFE9C7")  # of what needs nothing done there
LONGEST_CELL = 32_767  # characters; ISO/IEC 29500-1, 18.3.1.96 and the programs that read it
_NOTE_WIDTH, _NOTE_LINE, _NOTE_CHARACTERS = 360, 18, 55  # pixels, and what fits into a line
_HEADINGS = (("What", 90), ("Where", 34), ("How many", 10), ("To do", 50), ("One answer for all", 60))


def write_marked(
    folder: Path, file: str, titles: Sequence[str], *, problems: Sequence[Problem], warnings: Sequence[Problem]
) -> Path:
    """Write `STEM.checked.xlsx` beside the workbook *file* of a batch folder; an earlier one is replaced.

    titles    of the sheets that were read
    problems  of the whole batch: those of other files stand on the first sheet only
    Raises    WriteRefused where it cannot be written.
    """
    target = (folder / file).with_name(f"{PurePosixPath(file).stem}{CHECKED}")
    book = Workbook(write_only=True)
    _list_causes(book.create_sheet(_free_title(titles)), problems, warnings)
    marks = _by_cell(one for one in problems if one.file == file)
    for page in pages_of(file, (folder / file).read_bytes(), titles):
        _copy(book.create_sheet(page.title), page, marks.get(page.title, {}))
    with whole_file(target) as out:
        book.save(out)
    return target


def _free_title(titles: Sequence[str]) -> str:
    taken = {title.casefold() for title in titles}
    names = ("Problems", *(f"Problems {number}" for number in range(2, len(titles) + 3)))
    return next(name for name in names if name.casefold() not in taken)


def _by_cell(problems: Iterable[Problem]) -> dict[str, dict[int, dict[int, list[Problem]]]]:
    """Sheet -> row -> column -> problems; one that is about no single cell stands at the first of its row."""
    by_cell: dict[str, dict[int, dict[int, list[Problem]]]] = {}
    for problem in problems:
        column = column_index_from_string(coordinate_from_string(problem.cell)[0]) if problem.cell else 1
        by_cell.setdefault(problem.sheet, {}).setdefault(problem.row, {}).setdefault(column, []).append(problem)
    return by_cell


def _list_causes(sheet: Any, problems: Sequence[Problem], warnings: Sequence[Problem]) -> None:
    for place, (_, width) in enumerate(_HEADINGS, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.freeze_panes = "A2"
    sheet.append([_words(sheet, heading, bold=True) for heading, _ in _HEADINGS])
    for cause in causes_of(problems):
        sheet.append(
            [_words(sheet, text, fill=TO_SETTLE if place == 0 else None) for place, text in enumerate(_row(cause))]
        )
    if not problems:
        sheet.append([_words(sheet, "Nothing to settle.")])
    for cause in causes_of(warnings):
        what, *others = _row(cause)
        sheet.append([_words(sheet, text) for text in (f"Look at: {what}", *others)])


def _row(cause: Cause) -> tuple[str, ...]:
    more = f", and {cause.following:,} that only follow" if cause.following else ""
    return cause.sentence, cause.place, f"{len(cause.problems):,}{more}", cause.remedy, cause.answer or ""


def _copy(sheet: Any, page: Page, marks: Mapping[int, Mapping[int, Sequence[Problem]]]) -> None:
    """The values of a page, with its problems. Widths have to be set before the first row is written."""
    rows = _with_marked_rows(page.rows, sorted(marks))
    first = next(rows, None)
    for column, width in page.widths.items():
        sheet.column_dimensions[get_column_letter(column)].width = width
    last = 0
    while first is not None:
        number, cells = first
        for _ in range(number - last - 1):
            sheet.append(())
        last = number
        sheet.append(_cells(sheet, cells, marks.get(number, {})))
        first = next(rows, None)


def _with_marked_rows(
    rows: Iterator[tuple[int, list[tuple[int, Any, Look]]]], marked: Sequence[int]
) -> Iterator[tuple[int, list[tuple[int, Any, Look]]]]:
    """The rows, and an empty one for each marked row that holds nothing."""
    waiting = list(reversed(marked))
    for number, cells in rows:
        while waiting and waiting[-1] < number:
            yield waiting.pop(), []
        if waiting and waiting[-1] == number:
            waiting.pop()
        yield number, cells
    while waiting:
        yield waiting.pop(), []


def _cells(sheet: Any, cells: Sequence[tuple[int, Any, Look]], marks: Mapping[int, Sequence[Problem]]) -> list[Any]:
    width = max([0, *(column for column, _, _ in cells), *marks])
    row: list[Any] = [None] * width
    for column, value, look in cells:
        cell = _text(sheet, value) if isinstance(value, str) else WriteOnlyCell(sheet, value=value)
        cell.number_format = look.number_format
        for name, part in look.parts.items():
            setattr(cell, name, part)
        row[column - 1] = cell
    for column, problems in marks.items():
        cell = row[column - 1] = row[column - 1] or WriteOnlyCell(sheet)
        cell.fill = FOLLOWS if all(problem.follows for problem in problems) else TO_SETTLE
        cell.comment = _note(problems)
    return row


def _text(sheet: Any, text: str) -> Any:
    """A cell of text, also where it looks like a formula. What no workbook may hold is shown as a replacement mark."""
    cell = WriteOnlyCell(sheet, value=ILLEGAL_CHARACTERS_RE.sub("\ufffd", text)[:LONGEST_CELL])
    cell.data_type = "s"
    return cell


def _words(sheet: Any, text: str, *, bold: bool = False, fill: PatternFill | None = None) -> Any:
    """A cell of the first sheet."""
    cell = _text(sheet, text)
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    if bold:
        cell.font = Font(bold=True)
    if fill is not None:
        cell.fill = fill
    return cell


def _note(problems: Sequence[Problem]) -> Comment:
    parts = []
    for problem in problems:
        lines = [f"Read: {problem.value or 'nothing'}", f"Expected: {problem.expected}"]
        if problem.follows is not None:
            lines.append(f"It only follows from {problem.follows[0]}, {problem.follows[1]}.")
        elif problem.remedy:
            lines.append(f"To do: {problem.remedy}")
        parts.append("\n".join(lines))
    text = ILLEGAL_CHARACTERS_RE.sub("\ufffd", "\n\n".join(parts))[:LONGEST_CELL]
    lines_shown = sum(1 + len(line) // _NOTE_CHARACTERS for line in text.split("\n"))
    return Comment(text, "likeloss", height=_NOTE_LINE * (lines_shown + 1), width=_NOTE_WIDTH)
