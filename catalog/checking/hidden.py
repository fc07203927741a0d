"""What a file does not show: hidden sheets, rows and columns, formulas without a value, characters of no width.

None of it is read without an answer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from catalog.checking.answers import Answers
from catalog.checking.characters import odd_trouble
from catalog.checking.troubles import Trouble
from catalog.reading.batch import RawBatch, with_things
from catalog.reading.rawtable import Formula, RawRow, RawTable
from catalog.reading.sources import answered_as

READ, LEAVE_OUT = "read", "leave out"


def settled(raw: RawTable, answers: Answers) -> RawTable:
    """*raw* with what is hidden read or left out, as a person answered; each open question is among its problems."""
    if (hidden := raw.hidden_sheet) is not None:
        shown = f'read instead of "{raw.sheet}"' if raw.sheet else "read"
        asked = Trouble(
            f'The sheet "{hidden.sheet}" is hidden, and would be {shown} if it showed.',
            "Unhide it, or delete it.",
            "hidden-sheet",
        )
        match _answer(raw, answers, asked, row=1):
            case None:
                return _asking(raw, asked, row=1)
            case "read":
                return settled(hidden, answers)
    if raw.hidden_rows:
        first, count = min(raw.hidden_rows), len(raw.hidden_rows)
        rows = "1 row" if count == 1 else f"{count:,} rows"
        asked = Trouble(
            f'{rows} of the sheet "{raw.sheet}" {"is" if count == 1 else "are"} hidden or filtered out.',
            "Meant to be read, or left out?",
            "hidden-rows",
        )
        match _answer(raw, answers, asked, row=first):
            case None:
                raw = _asking(raw, asked, row=first)
            case "leave out":
                kept = [row for row in raw.rows if row.number not in raw.hidden_rows]
                raw = replace(raw, rows=kept, repairs=raw.repairs + Counter({"hidden row": count}))
    if raw.hidden_columns:
        names = [raw.headers[place] or f"column {place + 1}" for place in sorted(raw.hidden_columns)]
        asked = Trouble(
            f'{"Columns are" if len(names) > 1 else "A column is"} hidden in the sheet "{raw.sheet}": '
            f"{', '.join(names[:5])}.",
            "Meant to be read, or left out?",
            "hidden-columns",
        )
        match _answer(raw, answers, asked, row=raw.header_row):
            case None:
                raw = _asking(raw, asked, row=raw.header_row)
            case "leave out":
                raw = _without_columns(raw)
    return raw


def settled_things(raw: RawBatch, answers: Answers) -> RawBatch:
    """A batch that is a workbook, with what its sheets of things hide read or left out, as a person answered."""
    if not any(sheet.hidden_rows or sheet.hidden_columns or sheet.hidden_sheet for sheet in raw.things):
        return raw
    return with_things(raw, [settled(sheet, answers) for sheet in raw.things])


def _answer(raw: RawTable, answers: Answers, asked: Trouble, *, row: int) -> str | None:
    names = (raw.file, answered_as(raw.file, raw.stem))
    return answers.to_cause(asked.code, names, row=row, options=(READ, LEAVE_OUT), among=raw.stem)


def _asking(raw: RawTable, asked: Trouble, *, row: int) -> RawTable:
    question = asked.with_answers(answered_as(raw.file, raw.stem), row, (READ, LEAVE_OUT)).at(raw.file, row, "", "")
    return replace(raw, problems=[*raw.problems, question])


def _without_columns(raw: RawTable) -> RawTable:
    places = [place for place in range(len(raw.headers)) if place not in raw.hidden_columns]

    def kept(cells: Iterable[str]) -> list[str]:
        row = list(cells)
        return [row[place] for place in places if place < len(row)]

    return replace(
        raw,
        headers=kept(raw.headers),
        lower_headers=kept(raw.lower_headers),
        rows=[RawRow(row.number, kept(row.cells)) for row in raw.rows],
        repairs=raw.repairs + Counter({"hidden column": len(raw.hidden_columns)}),
        hidden_columns=frozenset(),
    )


def unreadable_text(raw: RawTable, number: int, place: int, text: str) -> Trouble | None:
    """Why the text of a cell is not taken whatever its column means: a formula without its value, odd characters."""
    if type(text) is Formula:
        return Trouble(
            f"{capital(raw.cell(number, place))} holds a formula without a stored value.",
            "Open the file in the program it was made with and save it again, or type the value.",
            "no-stored-value",
            if_entered=True,
        )
    return odd_trouble(text)


def capital(text: str) -> str:
    """A sentence begins with a capital letter."""
    return text[:1].upper() + text[1:]
