"""Tables and logs as comma-, semicolon- or tab-separated text (RFC 4180, with what spreadsheets make of it)."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter
from collections.abc import Iterator, Sequence

from catalog.errors import Problem
from catalog.reading.rawtable import (
    LAST_ROW,
    MAX_CELL,
    MAX_COLUMNS,
    RawTable,
    problem_in,
    table_from_rows,
    table_stem,
    too_long,
)

SEPARATORS = (",", ";", "\t")
# Bytes that no text has and every packed or binary file soon shows.
_CONTROL = bytes(set(range(32)) - {9, 10, 12, 13, 27})
MAX_LINES = 5_000_000  # blank ones too
_PIECE = 2**16  # what fits into a processor's cache is looked through twice as fast
_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))


def decode(file: str, content: bytes, repairs: Counter[str]) -> str | Problem:
    """The text of a file: UTF-8, or UTF-16 where a byte order mark says so.

    Anything else is a problem, never a guess: a wrongly guessed code page turns names into other names.
    """
    mark, encoding = mark_of(content)
    repairs["byte order mark"] += bool(mark)
    content = content[len(mark) :]
    if encoding == "utf-8" and (line := _line_of_control(content)):
        return problem_in(
            file, line, "The file holds bytes that no text file has.", "Save the table as CSV text.", "not-text"
        )
    try:
        return content.decode(encoding)
    except UnicodeDecodeError as failure:
        line = content.count(b"\n", 0, failure.start) + 1
        bad = content[failure.start : failure.start + 1].hex()
        return problem_in(
            file, line, f"The byte {bad} on line {line} is not UTF-8.", "Save the file as UTF-8.", "not-utf-8"
        )


def utf_8(file: str, content: bytes) -> bytes | Problem:
    """`decode` for files of a hundred megabytes: the text as UTF-8, without a copy where it is that already."""
    if not mark_of(content)[0] and content.isascii() and not _line_of_control(content):
        return content
    text = decode(file, content, Counter())
    return text if isinstance(text, Problem) else text.encode()


def mark_of(content: bytes) -> tuple[bytes, str]:
    """The byte order mark a file begins with, and its encoding."""
    return next(((mark, name) for mark, name in _MARKS if content.startswith(mark)), (b"", "utf-8"))


def _line_of_control(content: bytes) -> int:
    """Line of the first byte that no text has; 0 for none."""
    for start in range(0, len(content), _PIECE):
        piece = content[start : start + _PIECE]
        if len(piece.translate(None, _CONTROL)) < len(piece):
            first = next(place for place, byte in enumerate(piece) if byte in _CONTROL)
            return content.count(b"\n", 0, start + first) + 1
    return 0


def read_delimited(file: str, content: bytes) -> RawTable:
    """A .csv or .tsv file as a table. What cannot be read is among its problems."""
    repairs: Counter[str] = Counter()
    problems: list[Problem] = []
    rows = delimited_rows(file, content, repairs, problems)
    if problems:
        return RawTable(file, table_stem(file), problems=problems)
    table = table_from_rows(file, rows, repairs)
    if not problems:
        return table
    return RawTable(file, table.stem, problems=[*table.problems, *problems])


def delimited_rows(
    file: str, content: bytes, repairs: Counter[str], problems: list[Problem]
) -> Iterator[tuple[int, Sequence[str]]]:
    """Rows with their numbers. What cannot be read is among the *problems*: at once, or while the rows are read."""
    if (long := _overlong(file, content)) is not None:
        problems.append(long)
        return iter(())
    text = decode(file, content, repairs)
    if isinstance(text, Problem):
        problems.append(text)
        return iter(())
    if "\r\n" in text:
        repairs["CRLF line ends"] += 1
    separator = ""
    if text[:4].casefold() == "sep=":  # a line some spreadsheets write before the header
        separator = text[4:5] if text[4:5] in SEPARATORS else ""
        text = "\n" + text.partition("\n")[2]
    return _records(file, text, separator or separator_of(text), problems)


def _overlong(file: str, content: bytes) -> Problem | None:
    """More rows with text than a table may have, counted before any of them is kept.

    Lines are counted first: only where there are more of them than rows may be, quoted line ends can tell.
    """
    if content.count(b"\n") <= LAST_ROW and content.count(b"\r") <= LAST_ROW:
        return None
    mark, encoding = mark_of(content)
    typed = io.TextIOWrapper(io.BytesIO(content), encoding, errors="replace", newline="")
    typed.read(len(mark) > 0)  # the byte order mark is one character
    rows = 0
    try:
        for number, record in enumerate(csv.reader(typed), start=1):
            rows += any(record)
            if rows > LAST_ROW or number > MAX_LINES:
                return too_long(file, number)
    except csv.Error:
        return None  # said in its own words when the table is read
    return None


def lines(text: str) -> io.StringIO:
    """Lines with their ends. Only CR and LF end one, not the further characters that Python takes for line ends."""
    return io.StringIO(text, newline="")


def too_wide(columns: int) -> str:
    """Why a file of so many columns is refused."""
    return f"A file has at most {MAX_COLUMNS} columns; this one has {columns:,}."


def separator_of(text: str) -> str:
    """The separator by the header line: the mark that stands in it most often outside quotes."""
    header = next((line for line in lines(text) if line.strip(" \t,;\r\n")), "")
    unquoted = "".join(header.split('"')[::2])
    return max(SEPARATORS, key=unquoted.count)


def _records(file: str, text: str, separator: str, problems: list[Problem]) -> Iterator[tuple[int, Sequence[str]]]:
    reader = csv.reader(lines(text), delimiter=separator, strict=True)
    number = 0
    try:
        for number, record in enumerate(reader, start=1):
            if any(len(cell) > MAX_CELL for cell in record):
                problems.append(cell_too_long(file, number))
                return
            yield number, record
    except csv.Error as failure:
        if "field larger" in str(failure):
            problems.append(cell_too_long(file, number + 1))
            return
        problems.append(
            problem_in(
                file,
                number + 1,
                "A quotation mark in this row does not match the one that opened it.",
                "Close it, or double a quotation mark that belongs to the text.",
                "quotes",
            )
        )


def cell_too_long(file: str, number: int) -> Problem:
    """Why a file with a cell of so many characters is refused."""
    limit = f"A cell holds more than {MAX_CELL:,} characters."
    return problem_in(file, number, limit, "Is a quotation mark left open?", "cell-too-long")
