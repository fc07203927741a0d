"""A batch as it was typed, a folder or a workbook: things with their places, answers, and tables as raw rows."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from catalog.errors import BatchRefused, InputRefused, Problem
from catalog.reading.books import BOOK_SUFFIXES, read_book
from catalog.reading.delimited import read_delimited
from catalog.reading.documents import TomlFile
from catalog.reading.first_look import refused_unread
from catalog.reading.folder import MAX_TABLE_BYTES, MAX_TEXT_BYTES, Folder, file_problem, open_folder, open_place
from catalog.reading.format import TABLES
from catalog.reading.grids import read_grids
from catalog.reading.listing import Source, desk_sources, listed_sources
from catalog.reading.mapped_tables import read_mapped_table
from catalog.reading.opendocument import read_opendocument
from catalog.reading.progress import Progress, silent, told
from catalog.reading.rawtable import RawTable, problem_in, table_stem
from catalog.reading.sheet_document import answers_of, document_of
from catalog.reading.sources import DESK, SourcePath, file_of, is_checked_copy, place_of
from catalog.reading.table_maps import read_table_map
from catalog.reading.thing_sheets import ANSWERS, BATCH
from catalog.reading.toml_lines import index_lines, parse_toml
from catalog.reading.workbooks import read_workbook

TABLE_SUFFIXES = (".csv", ".tsv", ".xlsx", ".ods")
READERS = {
    ".csv": read_delimited,
    ".tsv": read_delimited,
    ".xlsx": read_workbook,
    ".ods": read_opendocument,
}
ANSWERS_FILE = "answers.toml"


@dataclass(frozen=True)
class RawBatch:
    """Everything the batch says, nothing of it judged yet.

    document  batch.toml, or what the sheets of things say instead
    answers   every document with answers, the later counting first
    tables    tables of the format: files called like one, listed sources, sheets
    strays    other files that could be tables, or logs; read by `read_table` if they turn out to be needed
    hashes    SHA-256 of every file read so far, by name
    things    sheets that *document* and the first answers were made from; none for a folder
    listed    tables whose sources the batch lists
    problems, notices  what is wrong with the batch as a whole
    thing_problems     what is wrong with the cells of *things*
    """

    folder: Folder
    document: TomlFile
    answers: Sequence[TomlFile]
    tables: Sequence[RawTable]
    strays: Sequence[str]
    hashes: dict[str, str]
    things: Sequence[RawTable] = ()
    listed: frozenset[str] = frozenset()
    problems: Sequence[Problem] = field(default_factory=list)
    notices: Sequence[Problem] = field(default_factory=list)
    thing_problems: Sequence[Problem] = field(default_factory=list)


def read_batch(path: Path, *, progress: Progress = silent) -> RawBatch:
    """Read the batch at *path*: a folder, or one workbook with logs and pictures beside it.

    Raises  InputRefused when there is no batch, BatchRefused when its things cannot be read at all.
    """
    if (book := _book_at(path)) is not None:
        return _read_book(open_place(book.parent), book.name, progress)
    folder = open_folder(path)
    hashes: dict[str, str] = {}
    document = _read_toml(folder, "batch.toml", hashes)
    names = [name for name in folder.names() if _is_table_file(name)]
    own = [Source(stem, stem, name) for name in names if (stem := table_stem(name)) in TABLES]
    listed, problems = listed_sources(document, own)
    desk = desk_sources(folder, DESK)
    paths = {file_of(source.source) for sources in listed.values() for source in sources}
    raw = RawBatch(
        folder=folder,
        document=document,
        answers=[],
        tables=[],
        strays=[name for name in names if table_stem(name) not in TABLES and name not in paths],
        hashes=hashes,
        listed=frozenset(listed),
        problems=problems,
    )
    return replace(
        raw,
        answers=_answer_files(raw, ANSWERS_FILE, f"{DESK}/{ANSWERS_FILE}"),
        tables=[
            _read_source(raw, source) for source in told([*_sources(own, listed), *desk], progress, "Reading tables")
        ],
    )


def _read_book(folder: Folder, name: str, progress: Progress) -> RawBatch:
    hashes: dict[str, str] = {}
    if sentence := folder.refusal(name):
        raise InputRefused(sentence)
    content = folder.read(name, limit=MAX_TABLE_BYTES)
    hashes[name] = hashlib.sha256(content).hexdigest()
    book = read_book(name, content)
    if book.problems:
        raise BatchRefused(book.problems)
    empty = TomlFile({}, index_lines(""))
    raw = with_things(RawBatch(folder, empty, [], [], [], hashes, notices=book.notices), book.things)
    desk = f"{Path(name).stem}.{DESK}"
    own = [Source(table.stem, table.stem, table.file) for table in book.tables]
    listed, problems = listed_sources(raw.document, own)
    by_source = {table.file: table for table in book.tables}
    raw = replace(raw, listed=frozenset(listed), problems=problems)
    tables = [
        by_source[source.source] if source.source in by_source else _read_source(raw, source)
        for source in told([*_sources(own, listed), *desk_sources(folder, desk)], progress, "Reading tables")
    ]
    read = {place_of(table.file).sheet for table in tables if table.map_file and file_of(table.file) == name}
    return replace(
        raw,
        notices=[notice for notice in raw.notices if notice.value not in read],
        tables=tables,
        answers=[*raw.answers, *_answer_files(raw, f"{desk}/{ANSWERS_FILE}")],
    )


def with_things(raw: RawBatch, things: Sequence[RawTable]) -> RawBatch:
    """A workbook whose document is made from *things*, and its answers from the sheet of them."""
    name = next(file_of(sheet.file) for sheet in things)
    document, problems = document_of(name, [sheet for sheet in things if sheet.stem != ANSWERS])
    answers = list(raw.answers)
    if (sheet := next((sheet for sheet in things if sheet.stem == ANSWERS), None)) is not None:
        said, wrong = answers_of(name, sheet)
        answers, problems = [said, *answers[1:]], [*problems, *sheet.problems, *wrong]
    return replace(raw, document=document, answers=answers, thing_problems=problems, things=things)


def _book_at(path: Path) -> Path | None:
    """The workbook that is the batch: at *path*, or the only one in a folder without batch.toml."""
    if path.is_dir():
        if (path / "batch.toml").exists():
            return None
        books = [one for one in _files_in(path) if one.suffix.casefold() in BOOK_SUFFIXES and _names_a_batch(one)]
        if len(books) > 1:
            raise InputRefused(f"{path} holds {len(books)} workbooks, each a batch. Name one: {books[0]}.")
        return books[0] if books else None
    if not path.is_file() or path.suffix.casefold() not in BOOK_SUFFIXES:
        return None
    if is_checked_copy(path.name):
        raise InputRefused(f"{path} is the marked copy of a workbook. Correct the workbook itself, and check that.")
    return path


def _files_in(path: Path) -> Iterable[Path]:
    try:
        return sorted(
            one
            for one in path.iterdir()
            if one.is_file() and not one.name.startswith((".", "~$")) and not is_checked_copy(one.name)
        )
    except OSError:
        return []


def _names_a_batch(path: Path) -> bool:
    """Whether a workbook has a sheet Batch: else it is a table that lies in a folder without batch.toml."""
    try:
        book = read_book(path.name, path.read_bytes())
    except OSError:
        return False
    return any(sheet.stem == BATCH for sheet in book.things)


def _sources(own: Sequence[Source], listed: Mapping[str, Sequence[Source]]) -> list[Source]:
    """The sources of all tables: the listed ones, and the own file or sheet of each table that is not listed."""
    of_lists = [source for sources in listed.values() for source in sources]
    mapped = {file_of(source.source) for source in of_lists if source.map}
    return [*(one for one in own if one.stem not in listed and one.source not in mapped), *of_lists]


def _is_table_file(name: str) -> bool:
    return Path(name).suffix.casefold() in TABLE_SUFFIXES and not is_checked_copy(name)


def _answer_files(raw: RawBatch, *names: str) -> list[TomlFile]:
    return [_read_toml(raw.folder, name, raw.hashes) for name in names if (raw.folder.root / name).exists()]


def _read_source(raw: RawBatch, source: Source) -> RawTable:
    """The rows of a source, under its name."""
    if source.map:
        return _read_through_map(raw, source)
    table = read_table(raw, file_of(source.source))
    if not isinstance(source.source, SourcePath):
        return table
    return replace(table, file=source.source, stem=source.stem)


def _read_through_map(raw: RawBatch, source: Source) -> RawTable:
    """A table of a batch through its map; the hashes of both files join the others."""
    map_file, path = f"maps/{source.map}.toml", file_of(source.source)
    empty = RawTable(source.source, source.stem, map_file=map_file)
    contents = []
    for name, limit in ((map_file, MAX_TEXT_BYTES), (path, MAX_TABLE_BYTES)):
        if sentence := raw.folder.refusal(name):
            place = raw.document.place("tables", source.stem)
            return replace(empty, problems=[file_problem(*place, source.stem, name, sentence)])
        try:
            content = raw.folder.read(name, limit=limit)
        except InputRefused as refusal:
            return replace(empty, problems=[file_problem(name, 1, "", name, str(refusal), "too-large")])
        raw.hashes[name] = hashlib.sha256(content).hexdigest()
        contents.append(content)
    plan = read_table_map(map_file, contents[0])
    if isinstance(plan, list):
        return replace(empty, problems=plan)
    if plan.stem != source.stem:
        sentence = f"The map is for {plan.stem}, but [tables] reads {source.stem} through it."
        return replace(empty, problems=[problem_in(map_file, 1, sentence, "Correct kind, or [tables].", "map")])
    return read_mapped_table(read_grids(path, contents[1]), plan, name=source.name)


def read_table(raw: RawBatch, name: str) -> RawTable:
    """The table file *name* of a batch; its hash joins the others. What cannot be read is among its problems."""
    if sentence := raw.folder.refusal(name):
        return RawTable(name, table_stem(name), problems=[file_problem(name, 1, "", name, sentence)])
    suffix = Path(name).suffix.casefold()
    if READERS[suffix] is read_delimited and (refused := refused_unread(name, raw.folder.root / name)) is not None:
        return RawTable(name, table_stem(name), problems=[refused])
    try:
        content = raw.folder.read(name, limit=MAX_TABLE_BYTES)
    except InputRefused as refusal:
        return RawTable(name, table_stem(name), problems=[file_problem(name, 1, "", name, str(refusal), "too-large")])
    digest = hashlib.sha256(content).hexdigest()
    twin = next((other for other, known in raw.hashes.items() if known == digest and other != name), None)
    raw.hashes[name] = digest
    if twin is not None:
        same = problem_in(name, 1, f"The file has the same content as {twin}.", "It is left out.", "same-file")
        return RawTable(name, table_stem(name), notices=[same])
    return READERS[suffix](name, content)


def _read_toml(folder: Folder, name: str, hashes: dict[str, str]) -> TomlFile:
    """Raises BatchRefused with the line and the reason."""
    if sentence := folder.refusal(name):
        raise InputRefused(sentence)
    content = folder.read(name, limit=MAX_TEXT_BYTES)
    hashes[name] = hashlib.sha256(content).hexdigest()
    try:
        text = content.decode("utf-8-sig")
        values = parse_toml(text)
    except UnicodeDecodeError as failure:
        line = content.count(b"\n", 0, failure.start) + 1
        raise BatchRefused([_broken(name, line, "The file is not UTF-8 text.", "Save it as UTF-8.")]) from failure
    except tomllib.TOMLDecodeError as failure:
        line, reason = _where(str(failure), text)
        remedy = "Correct this line; the rest was not read."
        raise BatchRefused([_broken(name, line, f"This is not valid TOML: {reason}.", remedy)]) from failure
    return TomlFile(values, index_lines(text), name)


def _broken(name: str, line: int, expected: str, remedy: str) -> Problem:
    return problem_in(name, line, expected, remedy, "toml")


def _where(message: str, text: str) -> tuple[int, str]:
    """Line and reason of the reader's message, "reason (at line 3, column 5)" or "(at end of document)"."""
    reason, _, place = message.partition(" (at ")
    digits = place.removeprefix("line ").partition(",")[0]
    line = int(digits) if digits.isdigit() else text.count("\n") + 1
    return line, reason[:1].lower() + reason[1:]
