"""A batch folder as it was typed: batch.toml with line numbers, answers, and tables as raw rows."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from catalog.errors import BatchRefused, InputRefused, Problem
from catalog.reading.delimited import read_delimited
from catalog.reading.first_look import refused_unread
from catalog.reading.folder import MAX_TABLE_BYTES, MAX_TEXT_BYTES, Folder, file_problem, open_folder
from catalog.reading.format import TABLES
from catalog.reading.opendocument import read_opendocument
from catalog.reading.progress import Progress, silent, told
from catalog.reading.rawtable import RawTable, problem_in, table_stem
from catalog.reading.toml_lines import TomlLines, index_lines, parse_toml
from catalog.reading.workbooks import read_workbook

TABLE_SUFFIXES = (".csv", ".tsv", ".xlsx", ".ods")
READERS = {
    ".csv": read_delimited,
    ".tsv": read_delimited,
    ".xlsx": read_workbook,
    ".ods": read_opendocument,
}


@dataclass(frozen=True)
class TomlFile:
    """A TOML document with the line of every key."""

    values: Mapping[str, Any]
    lines: TomlLines


@dataclass(frozen=True)
class RawBatch:
    """Everything the folder says, nothing of it judged yet.

    answers  the document answers.toml, None where there is none
    tables   files that are named like a table of the format
    strays   other files that could be tables, or logs; read by `read_table` if they turn out to be needed
    hashes   SHA-256 of every file read so far, by name
    """

    folder: Folder
    document: TomlFile
    answers: TomlFile | None
    tables: Sequence[RawTable]
    strays: Sequence[str]
    hashes: dict[str, str]


def read_batch(path: Path, *, progress: Progress = silent) -> RawBatch:
    """Read the batch folder at *path*.

    Raises  InputRefused when there is no batch, BatchRefused when batch.toml cannot be read at all.
    """
    folder = open_folder(path)
    hashes: dict[str, str] = {}
    document = _read_toml(folder, "batch.toml", hashes)
    answers = None
    if (folder.root / "answers.toml").exists():
        answers = _read_toml(folder, "answers.toml", hashes)
    names = [name for name in folder.names() if Path(name).suffix.casefold() in TABLE_SUFFIXES]
    raw = RawBatch(folder, document, answers, [], [name for name in names if table_stem(name) not in TABLES], hashes)
    tables = [name for name in names if table_stem(name) in TABLES]
    return replace(raw, tables=[read_table(raw, name) for name in told(tables, progress, "Reading tables")])


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
    twin = next((other for other, known in raw.hashes.items() if known == digest), None)
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
    return TomlFile(values, index_lines(text))


def _broken(name: str, line: int, expected: str, remedy: str) -> Problem:
    return problem_in(name, line, expected, remedy, "toml")


def _where(message: str, text: str) -> tuple[int, str]:
    """Line and reason of the reader's message, "reason (at line 3, column 5)" or "(at end of document)"."""
    reason, _, place = message.partition(" (at ")
    digits = place.removeprefix("line ").partition(",")[0]
    line = int(digits) if digits.isdigit() else text.count("\n") + 1
    return line, reason[:1].lower() + reason[1:]
