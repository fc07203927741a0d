"""What is noted at the desk: new lines behind what its files hold, and writing them.

A file of the desk keeps its header, separator, line ends and byte order mark. What would be written is read back before
it is shown: the rows that were there have to come out as they were, and the new ones as they were meant.
"""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import tomllib
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from catalog.checking.headers import read_headings
from catalog.errors import InputRefused, WriteRefused
from catalog.reading.batch import ANSWERS_FILE
from catalog.reading.delimited import decode, mark_of, read_delimited, separator_of
from catalog.reading.folder import MAX_TABLE_BYTES, MAX_TEXT_BYTES, Folder
from catalog.reading.format import TABLES
from catalog.reading.rawtable import RawTable
from catalog.whole_files import lock, whole_file

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Noted:
    """A file of the desk as it would be.

    path     in the batch
    before   its bytes now; None where it is not there
    after    its bytes with the new lines
    lines    the new ones
    numbers  of a table: the rows that the new ones would be
    """

    path: str
    before: bytes | None
    after: bytes
    lines: tuple[str, ...]
    numbers: tuple[int, ...] = ()

    @property
    def text(self) -> str:
        """The whole text, without a byte order mark."""
        mark, encoding = mark_of(self.after)
        return self.after[len(mark) :].decode(encoding)


def desk_table(folder: Folder, desk: str, stem: str) -> str:
    """The path of a table of the desk; that of a new one where it has none.

    desk    its folder in the batch
    Raises  InputRefused where its rows are kept in a file that no line can be put behind.
    """
    place = folder.root / desk
    names = [name for name in Folder(place).names() if Path(name).stem.casefold() == stem] if place.is_dir() else []
    tables = [name for name in names if Path(name).suffix.casefold() in (".csv", ".tsv", ".xlsx", ".ods")]
    if len(tables) > 1:
        raise InputRefused(f"{desk}/ has {' and '.join(tables)}: one table is one file. Put their rows into one.")
    if tables and Path(tables[0]).suffix.casefold() not in (".csv", ".tsv"):
        raise InputRefused(
            f"{desk}/{tables[0]} is a workbook, and only text is added to. Save it as {desk}/{stem}.csv, or note the "
            "rows in it."
        )
    return f"{desk}/{tables[0] if tables else f'{stem}.csv'}"


def with_rows(folder: Folder, path: str, stem: str, rows: Sequence[Row], header: Mapping[str, str]) -> Noted:
    """A table of the desk with *rows* behind what it holds.

    rows    texts by column; one that is blank need not have a place
    header  columns of a new file, in their order -> what stands above them
    Raises  InputRefused where the file cannot be read as a table, or has no place for a text.
    """
    table = TABLES[stem]
    before = _bytes(folder, path, MAX_TABLE_BYTES)
    if before is None or not before.strip():
        used = {name for row in rows for name, text in row.items() if text}
        more = [column.name for column in table.columns if column.name in used and column.name not in header]
        header = {**header, **{name: name for name in more}}
        places: Mapping[str, int] = {name: place for place, name in enumerate(header)}
        lines = _lines([list(header.values()), *_cells(rows, places, len(header), path)], ",", "\n")
        after = "".join(lines).encode()
        return _read_back(Noted(path, before, after, tuple(lines[1:])), None, places, rows)
    there = read_delimited(path, before)
    if there.problems:
        first = there.problems[0]
        raise InputRefused(
            f"Nothing can be added to {path}, line {first.row}: {first.expected} {first.remedy}".rstrip()
        )
    text = decode(path, before, Counter())
    assert isinstance(text, str)
    mark, encoding = mark_of(before)
    places = {name: heading.place for name, heading in read_headings(there, table).known.items()}
    end = "\r\n" if "\r\n" in text else "\n" if "\n" in text else "\r" if "\r" in text else "\n"
    separator = text[4:5] if text[:4].casefold() == "sep=" else separator_of(text)
    lines = _lines(_cells(rows, places, len(there.headers), path), separator, end)
    gap = "" if text.endswith(("\n", "\r")) else end
    after = mark + (text + gap + "".join(lines)).encode(encoding)
    return _read_back(Noted(path, before, after, tuple(lines)), there, places, rows)


def _cells(rows: Sequence[Row], places: Mapping[str, int], width: int, path: str) -> Iterator[list[str]]:
    for row in rows:
        cells = [""] * width
        for name, text in row.items():
            if not text:
                continue
            if name not in places:
                raise InputRefused(f"{path} has no column {name}, where {text} would stand. Add it to its first line.")
            cells[places[name]] = text
        yield cells


def _lines(rows: Iterable[Sequence[str]], separator: str, end: str) -> list[str]:
    lines = []
    for row in rows:
        out = io.StringIO()
        csv.writer(out, delimiter=separator, lineterminator=end).writerow(row)
        lines.append(out.getvalue())
    return lines


def _read_back(noted: Noted, there: RawTable | None, places: Mapping[str, int], rows: Sequence[Row]) -> Noted:
    """The same with the numbers of its new rows. Raises InputRefused where they would not be read as they are meant."""
    again = read_delimited(noted.path, noted.after)
    known = () if there is None else tuple(there.rows)
    new = again.rows[len(known) :]
    meant = [{name: text.strip() for name, text in row.items() if text.strip()} for row in rows]
    read = [{name: row.cells[place] for name, place in places.items() if row.cells[place]} for row in new]
    if again.problems or tuple(again.rows[: len(known)]) != known or read != meant:
        raise InputRefused(f"Lines behind those of {noted.path} would not be read as they are meant. Is it one table?")
    return Noted(noted.path, noted.before, noted.after, noted.lines, tuple(int(row.number) for row in new))


def with_answers(folder: Folder, desk: str, answers: Sequence[Mapping[str, object]]) -> Noted:
    """The answers of the desk with new ones behind them.

    Raises  InputRefused where the file is no TOML, or holds its answers in one list.
    """
    path = f"{desk}/{ANSWERS_FILE}"
    before = _bytes(folder, path, MAX_TEXT_BYTES)
    try:
        text = (before or b"").decode("utf-8-sig")
        there = tomllib.loads(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        raise InputRefused(f"Nothing can be added to {path}: it is no TOML ({failure}).") from failure
    end = "\r\n" if "\r\n" in text else "\n"
    entries = [_entry(answer, end) for answer in answers]
    gap = "" if not text else end if text.endswith("\n") else end + end
    after = (before or b"") + (gap + end.join(entries)).encode()
    try:
        again = tomllib.loads(after.decode("utf-8-sig"))
    except tomllib.TOMLDecodeError as failure:
        raise InputRefused(f"{path} holds its answers in one list. Write each as [[answer]].") from failure
    if again.get("answer", [])[: len(there.get("answer", []))] != there.get("answer", []):
        raise InputRefused(f"Answers behind those of {path} would not be read as they are meant.")
    return Noted(path, before, after, tuple(entries))


def _entry(answer: Mapping[str, object], end: str) -> str:
    """One [[answer]]; the escapes of a JSON text are those of TOML."""
    keys = (f"{key} = {json.dumps(value, ensure_ascii=False)}{end}" for key, value in answer.items())
    return f"[[answer]]{end}{''.join(keys)}"


def write(folder: Folder, files: Sequence[Noted]) -> list[str]:
    """Write them, each whole or not at all, as long as each is still what it was when it was shown.

    Returns  why one was not written, in sentences; those before it are.
    """
    try:
        with _alone(folder):
            for noted in files:
                if _bytes(folder, noted.path, MAX_TABLE_BYTES) != noted.before:
                    return [f"{noted.path} has changed since it was shown. Look at what would be written now."]
            for noted in files:
                place = folder.root / noted.path
                if not place.parent.resolve().is_relative_to(folder.root):
                    return [f"{noted.path} leads out of the batch folder. Put the folder itself there."]
                with whole_file(place, new=noted.before is None) as file:
                    file.write(noted.after)
    except (InputRefused, WriteRefused) as refusal:
        return [str(refusal)]
    return []


@contextmanager
def _alone(folder: Folder) -> Iterator[None]:
    """Only one watch of a batch writes at a time. Raises WriteRefused."""
    try:
        descriptor = os.open(folder.root, os.O_RDONLY)
    except OSError as failure:
        raise WriteRefused(f"{folder.root} cannot be opened: {failure.strerror}.") from failure
    try:
        if lock(descriptor) is False:
            raise WriteRefused("Another watch of this batch is writing. Click again.")
        yield
    finally:
        os.close(descriptor)


def key_of(parts: Iterable[object]) -> str:
    """What tells one writing from another."""
    return hashlib.sha256(repr(list(parts)).encode()).hexdigest()[:24]


def _bytes(folder: Folder, path: str, limit: int) -> bytes | None:
    """What a file holds; None where it is not there. Raises InputRefused where it may not be read."""
    place = folder.root / path
    if not os.path.lexists(place):
        return None
    if (sentence := folder.refusal(path)) is not None:
        raise InputRefused(sentence)
    return folder.read(path, limit=limit)
