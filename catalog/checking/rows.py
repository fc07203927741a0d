"""The rows of a table file with typed values: headers matched, defaults filled in, answers applied."""

from __future__ import annotations

import string
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from catalog.checking import day_order
from catalog.checking.answers import Answers
from catalog.checking.cells import NOTHING_HEARD, Attempt, Instant, blank, read_cell
from catalog.checking.characters import scripts_trouble
from catalog.checking.defaults import defaults_of
from catalog.checking.headers import Heading, in_map, names_of, read_headings
from catalog.checking.hidden import capital, unreadable_text
from catalog.checking.numbers import is_unit
from catalog.checking.times import zone_called
from catalog.checking.troubles import AS_TYPED, Trouble
from catalog.errors import Problem
from catalog.reading.columns import Column
from catalog.reading.decimal_marks import plain, settle_marks, unit_text
from catalog.reading.documents import TomlFile
from catalog.reading.format import Table
from catalog.reading.progress import Progress, silent, told
from catalog.reading.rawtable import Exact, Formula, RawTable, table_stem
from catalog.reading.sources import answered_as, file_of
from catalog.row_numbers import place_text

# Columns that are required only where a row has a reading: without one it names a spot, and no more.
_OF_A_READING: Mapping[str, tuple[str, ...]] = {"spots": ("reference_eirp_dbm", "reading_dbm", "valid_from")}
READING = ("reference_eirp_dbm", "reading_dbm")
_NUMERIC = frozenset({"count", "number", "level", "throughput"})


@dataclass(slots=True)
class TypedRow:
    """One row of a table.

    values   by column name; None where nothing stands and no default is given
    typed    the text behind a value, as it stood in the file or the defaults
    sure     columns whose text a person confirmed in answers.toml
    held     something is wrong with it, so it is not entered
    left_out a person answered that it holds nothing, so it is not entered either
    """

    file: str
    number: int
    values: dict[str, Any]
    typed: dict[str, str]
    sure: frozenset[str]
    held: bool = False
    left_out: bool = False


@dataclass
class TypedTable:
    """All rows of one table file, with the problems and warnings from reading them.

    file_columns  columns that stand in the file itself, not only in the defaults
    entered_in    the batch that held this very table; its rows are known, whatever was corrected since
    answers       what a person decided about this batch
    deliberate    a correction, with a reason and a name: what is typed is meant, and nothing is asked back
    map_file      the reading map it was read through, "" for none
    cells_of      of such a table: in which cell the value at a row's number and a column's place stands
    """

    table: Table
    file: str
    header_row: int = 1
    rows: list[TypedRow] = field(default_factory=list)
    headings: Mapping[str, Heading] = field(default_factory=dict)
    file_columns: frozenset[str] = frozenset()
    notes: list[tuple[int, str, str]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    repairs: Counter[str] = field(default_factory=Counter)
    rows_read: int = 0
    entered_in: str | None = None
    answers: Answers = field(default_factory=Answers)
    deliberate: bool = False
    map_file: str = ""
    cells_of: Callable[[int, int], str] | None = None

    def hold(self, row: TypedRow, column: str, trouble: Trouble, *, value: str | None = None) -> None:
        """Hold *row* for a trouble with one of its columns, unless a person answered that what stands there is meant."""
        if self.confirmed(row, column, trouble):
            return
        row.held = True
        self.problems.append(self._place(row, column, trouble.in_table(self.table.stem), value))

    def warn(self, row: TypedRow, column: str, trouble: Trouble, *, value: str | None = None) -> None:
        """List something odd about *row*; it is entered all the same."""
        self.warnings.append(self._place(row, column, trouble, value))

    def ask(
        self, row: TypedRow, column: str, question: Trouble, *, options: Sequence[str], value: str | None = None
    ) -> str | None:
        """The answer to *question* by its cause, one of *options*. Without one the row is held, and says how to answer.

        options  what `means` may be, in the words of answers.toml; what stands there as it is first
        """
        means = options[0] if self.deliberate else self.answered(row, column, question, options=options)
        if means is None:
            asked = question.with_answers(answered_as(self.file, self.table.stem), row.number, options)
            self.hold(row, column, asked, value=value)
        return means

    def answered(self, row: TypedRow, column: str, question: Trouble, *, options: Sequence[str]) -> str | None:
        """As `ask`, but a missing answer does not hold the row."""
        return self.answers.to_cause(
            question.code,
            (self.file, answered_as(self.file, self.table.stem)),
            among=self.table.stem,
            row=row.number,
            columns=names_of(column, self.headings, self.map_file),
            options=options,
        )

    def confirmed(self, row: TypedRow, column: str, trouble: Trouble) -> bool:
        """Whether what stands there is meant, by an answer to the question itself, or was entered before it was asked."""
        if trouble.askable and self.answered(row, column, trouble, options=[AS_TYPED]) is not None:
            return True
        return self.as_entered(row.number, column, trouble)

    def as_entered(self, number: int, column: str, trouble: Trouble) -> bool:
        """Whether an export says that a row was entered before anybody asked."""
        names = names_of(column, self.headings, self.map_file)
        tables = (self.file, table_stem(file_of(self.file)), self.table.stem)
        return self.answers.as_entered(trouble, tables, row=number, columns=names)

    def settle(self, row: TypedRow, column: str, trouble: Trouble) -> str | None:
        """The answer to a trouble that has options; any other holds the row."""
        if trouble.options:
            return self.ask(row, column, trouble, options=trouble.options)
        self.hold(row, column, trouble)
        return None

    def _place(self, row: TypedRow, column: str, trouble: Trouble, value: str | None) -> Problem:
        header = self.headings[column].text if column in self.headings else column
        problem = trouble.at(self.file, row.number, header, row.typed.get(column, "") if value is None else value)
        if self.cells_of is None or column not in self.headings:
            return problem
        cell = self.cells_of(row.number, self.headings[column].place)
        if not cell:
            return replace(problem, column=in_map(header, self.map_file))
        return replace(problem, cell=cell, row=int(cell.lstrip(string.ascii_uppercase)))


def read_rows(
    raw: RawTable,
    table: Table,
    *,
    document: TomlFile,
    answers: Answers,
    zone: str | None,
    progress: Progress = silent,
) -> TypedTable:
    """Read every cell of *raw* as the column it belongs to."""
    headings = read_headings(raw, table)
    typed = TypedTable(
        table=table,
        file=raw.file,
        header_row=raw.header_row,
        headings=headings.known,
        file_columns=frozenset(headings.known),
        problems=[*raw.problems, *headings.problems],
        warnings=[*raw.notices, *headings.warnings],
        repairs=Counter(raw.repairs),
        rows_read=len(raw.rows),
        answers=answers,
        map_file=raw.map_file,
        cells_of=raw.cells_of,
    )
    for place, text in enumerate(raw.headers):
        trouble = unreadable_text(raw, raw.header_row, place, text)
        if trouble is not None and not typed.as_entered(raw.header_row, "", trouble):
            typed.problems.append(trouble.at(raw.file, raw.header_row, "", ascii(text)))
    reader = _Reader(raw, typed, answers, zone, defaults_of(table, document, typed.problems))
    if raw.headers:
        reader.require_columns()
    typed.rows = [TypedRow(raw.file, row.number, {}, {}, frozenset()) for row in raw.rows]
    zones = reader.zones()
    for column in told(table.columns, progress, f"Reading the columns of {raw.file}"):
        reader.fill(column, zones)
    if left_out := sum(row.left_out for row in typed.rows):
        typed.rows = [row for row in typed.rows if not row.left_out]
        typed.repairs["row without a reading"] += left_out
    for heading in headings.notes:
        for raw_row in raw.rows:
            if text := raw_row.cells[heading.place]:
                trouble = unreadable_text(raw, raw_row.number, heading.place, text)
                if type(text) is not Formula:
                    typed.notes.append((raw_row.number, heading.text, text))
                if trouble is not None and not typed.as_entered(raw_row.number, heading.text, trouble):
                    typed.problems.append(trouble.at(raw.file, raw_row.number, heading.text, ascii(text)))
    return typed


class _Reader:
    """Fills the typed rows column by column; equal texts are read once."""

    def __init__(
        self, raw: RawTable, typed: TypedTable, answers: Answers, zone: str | None, defaults: dict[str, str]
    ) -> None:
        self._raw = raw
        self._typed = typed
        self._answers = answers
        self._zone = zone
        self._defaults = defaults
        self._texts = {column.name: self._column_texts(column) for column in typed.table.columns}
        self._marks = settle_marks(self._numeric_texts())

    def require_columns(self) -> None:
        """A required column that is neither in the file nor in the defaults is one problem, not one per row."""
        for column in self._typed.table.columns:
            if self._spared(column) and not any(self._has(name) for name in READING):
                continue
            if column.required and not self._has(column.name) and not self._has(column.unless):
                where = f"Write [column.{column.name}] in {self._raw.map_file}" if self._raw.map_file else "Add it"
                missing = Trouble(
                    f"The column {column.name} is missing.",
                    f"{where}, or give it once under [defaults.{self._typed.table.stem}] in batch.toml.",
                    "missing-column",
                )
                self._typed.problems.append(missing.at(self._typed.file, self._raw.header_row, column.name, ""))

    def _spared(self, column: Column) -> bool:
        """Whether a column is required only of rows with a reading."""
        return column.name in _OF_A_READING.get(self._typed.table.stem, ())

    def _has(self, name: str) -> bool:
        """Whether a column is in the file or in the defaults."""
        return name in self._typed.file_columns or name in self._defaults

    def zones(self) -> list[str | None]:
        """The zone of every row: its own, the table's default, else the batch's."""
        texts = self._texts.get("timezone")
        if texts is None:
            return [self._zone] * len(self._typed.rows)
        zones: list[str | None] = []
        for row, (text, _) in zip(self._typed.rows, texts, strict=True):
            if text and isinstance(zone := zone_called(text), Trouble):
                self._typed.hold(row, "timezone", zone, value=text)
                zones.append(self._zone)
            else:
                zones.append(text or self._zone)
        return zones

    def fill(self, column: Column, zones: Sequence[str | None]) -> None:
        """Read one column of all rows."""
        typed, name = self._typed, column.name
        heading = typed.headings.get(name)
        unit = heading.unit if heading else None
        if unit is None and column.unit_of in typed.headings:
            unit = typed.headings[column.unit_of].unit
        missing_column = not self._has(name) and not self._has(column.unless)
        cache: dict[Any, Any] = {}
        needs_unit = (column.kind == "throughput" or column.unit_of != "") and heading is not None and unit is None
        instead = self._texts[column.unless] if column.unless else ()
        spared = self._spared(column)
        order = self._day_order(column) if column.kind in ("when", "date") else None
        for place, (row, zone, (text, sure)) in enumerate(zip(typed.rows, zones, self._texts[name], strict=True)):
            if not text:
                row.values[name] = None
                if instead and instead[place][0]:
                    continue
                if spared and not any(self._texts[other][place][0] for other in READING):
                    continue
                if column.required and missing_column:
                    row.held = True
                elif column.required:
                    self._refuse(row, column, blank(column, typed.table.stem))
                continue
            row.typed[name] = self._original(row, name, text)
            unfit = None if heading is None else self._unfit(row, heading, text, sure)
            if unfit is not None:
                sure = typed.confirmed(row, name, unfit)
                if not sure or type(text) is Formula:
                    row.values[name] = None
                    typed.hold(row, name, unfit)
                    continue
            if heading is not None and column.as_number != "any" and not self._of_one_alphabet(row, name, text):
                row.values[name] = None
                continue
            key = (text, zone, sure, type(text) is Exact)
            if key not in cache:
                ordered = day_order.in_order(text, order)
                value = read_cell(ordered, column, marks=self._marks, header=unit, zone=zone, sure=sure)
                cache[key] = replace(value, typed=text) if isinstance(value, Instant) else value
            value = cache[key]
            if isinstance(value, Trouble) and value.code == day_order.CODE:
                value = day_order.asked_of_column(value, answered_as(typed.file, typed.table.stem), name)
            stated = value.mbit_s if isinstance(value, Attempt) else value if isinstance(value, float) else None
            if needs_unit and stated is not None and not unit_text(text):
                value = Trouble("No unit is given.", f"Write it in the header, such as {name} (Mbit/s).", "no-unit")
            if isinstance(value, Trouble) and not sure and (sure := typed.confirmed(row, name, value)):
                value = read_cell(text, column, marks=self._marks, header=unit, zone=zone, sure=True)
            if sure:
                row.sure = row.sure | {name}
            if isinstance(value, Trouble):
                row.values[name] = None
                self._refuse(row, column, value)
            else:
                row.values[name] = value

    def _day_order(self, column: Column) -> str | None:
        typed = self._typed
        return day_order.settled_order(
            [text for text, _ in self._texts[column.name] if text],
            self._answers,
            (typed.file, answered_as(typed.file, typed.table.stem)),
            among=typed.table.stem,
            columns=names_of(column.name, typed.headings, typed.map_file),
        )

    def _refuse(self, row: TypedRow, column: Column, trouble: Trouble) -> None:
        """Hold the row, or leave it out where a person answered that it was never there."""
        if self._typed.settle(row, column.name, trouble) == NOTHING_HEARD:
            row.left_out = row.left_out or column.required

    def _of_one_alphabet(self, row: TypedRow, name: str, text: str) -> bool:
        """Whether a name is of one alphabet, or answered; else its row is held."""
        mixed = scripts_trouble(text)
        return mixed is None or self._typed.settle(row, name, mixed) is not None

    def _unfit(self, row: TypedRow, heading: Heading, text: str, sure: bool) -> Trouble | None:
        """Why a cell is not read as its column: by what the sheet holds, not by what the text says."""
        column = heading.column
        assert column is not None
        if type(text) is not Exact or sure or column.kind != "text" or column.as_number == "any":
            read = type(text) is not Formula and column.kind not in ("text", "file")
            return None if read else unreadable_text(self._raw, row.number, heading.place, text)
        if column.as_number == "whole" and text.isdigit():
            return None
        if not self._raw_cells[row.number][heading.place]:  # a default, which no spreadsheet has changed
            return None
        longer = f"{text}0" if "." in text else f"{text}.0"
        return Trouble(
            f"{capital(self._raw.cell(row.number, heading.place))} holds the number {text}; typed {longer}?",
            "Format the column as text and type it again, or answer it once in answers.toml; repeat it there to "
            "confirm.",
            "number-for-text",
            askable=True,
        )

    def _original(self, row: TypedRow, name: str, text: str) -> str:
        heading = self._typed.headings.get(name)
        if heading is None:
            return str(text)
        return str(self._raw_cells[row.number][heading.place]) or str(text)

    @property
    def _raw_cells(self) -> Mapping[int, Sequence[str]]:
        if not hasattr(self, "_cells"):
            self._cells = {row.number: row.cells for row in self._raw.rows}
        return self._cells

    def _column_texts(self, column: Column) -> list[tuple[str, bool]]:
        """Text of every row for *column*, after defaults and answers, and whether a person confirmed it."""
        heading = self._typed.headings.get(column.name)
        default = self._defaults.get(column.name, "")
        numeric = column.kind in _NUMERIC
        texts: list[tuple[str, bool]]
        if heading is None:
            texts = [(default, False)] * len(self._raw.rows)
        else:
            place, repairs = heading.place, self._typed.repairs
            texts = []
            for raw in self._raw.rows:
                cell = raw.cells[place]
                if numeric and type(cell) is str and not cell.isascii():
                    cell = plain(cell, repairs)
                texts.append((cell or default, False))
        if self._answers:
            self._answer(column, heading, texts)
        return texts

    def _answer(self, column: Column, heading: Heading | None, texts: list[tuple[str, bool]]) -> None:
        names = names_of(column.name, self._typed.headings, self._raw.map_file)
        stem = self._typed.table.stem
        answers = self._answers.for_column({self._raw.file, answered_as(self._raw.file, stem)}, names, among=stem)
        for answer in answers:
            for place, raw in enumerate(self._raw.rows):
                original = raw.cells[heading.place] if heading else texts[place][0]
                if plain(original) != plain(answer.typed.strip()):
                    continue
                if answer.row not in (None, place_text(raw.number)):
                    self._answers.moved(answer, raw.number)
                    continue
                means = self._answers.use(answer).strip()
                if column.unit is not None and is_unit(means, column.unit) and original:
                    means = f"{original} {means}"
                texts[place] = (means, plain(means) == plain(original))

    def _numeric_texts(self) -> Iterator[str]:
        for column in self._typed.table.columns:
            if column.kind in _NUMERIC and column.name in self._typed.file_columns:
                yield from (text for text, _ in self._texts[column.name] if text)
