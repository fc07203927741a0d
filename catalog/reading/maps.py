"""Reading maps: how to read a foreign log, written as `maps/NAME.toml` in the batch.

JSONPath after RFC 9535. Values that mean "not measured" are listed in the map, never guessed.
"""

from __future__ import annotations

import csv
import json
import re
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from catalog.errors import InputRefused, Problem
from catalog.reading.characters import odd_character, texts_in
from catalog.reading.delimited import decode, lines, separator_of, too_wide
from catalog.reading.logs import MAX_SAMPLES, InstantReader, Kind, Log, LogColumns, assemble, words_of
from catalog.reading.rawtable import MAX_COLUMNS, problem_in
from catalog.reading.toml_lines import parse_toml
from catalog.units import BYTES, MBIT_S, MILLISECONDS, SECONDS, Unit, parse_unit, ratio

# Column of a map -> (column of a log, unit it is turned into).
_TARGETS: Mapping[str, tuple[str, Unit | None]] = {
    "t_s": ("t_s", SECONDS),
    "start": ("start", None),
    "seconds": ("seconds", SECONDS),
    "bytes": ("bytes", BYTES),
    "rate": ("mbit_s", MBIT_S),
    "ms": ("ms", MILLISECONDS),
    "outcome": ("outcome", None),
    "width_mhz": ("width_mhz", None),
    "band": ("band", None),
    "channel": ("channel", None),
}
_SIMPLE_PATH = re.compile(r"\$(?:\.([A-Za-z_]\w*))+")
_CONDITIONS = ("is", "not", "above", "below")

Getter = Callable[[Any], Any]


@dataclass(frozen=True)
class MapColumn:
    """Where a column comes from: a header or path with its unit, or one value for all rows."""

    source: str | None
    constant: float | None
    unit: Unit | None
    missing: frozenset[str]
    words: Mapping[str, str]


@dataclass(frozen=True)
class Where:
    """Keep only rows in which *column* fulfils a condition."""

    column: str
    condition: str
    value: Any


@dataclass(frozen=True)
class ReadingMap:
    """How one kind of foreign log is read."""

    name: str
    kind: Kind
    format: str
    rows: str | None
    skip_first_s: float
    columns: Mapping[str, MapColumn]
    where: Sequence[Where] = field(default_factory=tuple)


def read_map(file: str, content: bytes) -> ReadingMap | list[Problem]:
    """The map in a TOML file, or everything that is wrong with it."""
    try:
        values = parse_toml(content.decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        return [problem_in(file, 1, f"The map is not valid TOML: {failure}.", "Correct it.", "toml")]
    for _, text in texts_in(values):
        if (odd := odd_character(text)) is not None:
            shown = f"The text {text!r} holds the character {odd}."
            return [problem_in(file, 1, shown, "Type the text again.", "odd-characters")]
    problems: list[Problem] = []

    def refuse(sentence: str, remedy: str = "See the example of a reading map in the README, under Logs.") -> None:
        problems.append(problem_in(file, 1, sentence, remedy, "map"))

    kind, form, rows = values.get("kind"), values.get("format"), values.get("rows")
    if kind not in ("throughput", "requests"):
        refuse(f"kind is {_given(kind)}, but a map is for throughput or requests.")
    if form not in ("csv", "json", "jsonl"):
        refuse(f"format is {_given(form)}, but a map reads csv, json or jsonl.")
    if form == "json" and not isinstance(rows, str):
        refuse("A map for JSON says with rows where its rows are.")
    skip = values.get("skip_first_s", 0)
    if isinstance(skip, bool) or not isinstance(skip, int | float) or not 0 <= skip < 1e9:
        refuse(f"skip_first_s is {skip!r}, but it is a number of seconds.")
    unknown = sorted(set(values) - {"kind", "format", "rows", "skip_first_s", "column", "where"})
    if unknown:
        refuse(f"{unknown[0]!r} is not known in a map.")
    columns: dict[str, MapColumn] = {}
    given = values.get("column", {})
    for name, entry in given.items() if isinstance(given, dict) else ():
        column = _column(name, entry)
        if isinstance(column, str):
            refuse(column)
        else:
            columns[name] = column
    if not columns:
        refuse("The map names no column.")
    where = _where(values.get("where", []), refuse)
    paths = [rows, *(column.source for column in columns.values()), *(item.column for item in where)]
    if form in ("json", "jsonl"):
        for path in paths:
            if isinstance(path, str) and (wrong := _wrong_path(path)):
                refuse(f"{path!r} is no JSONPath: {wrong}.", "Write it after RFC 9535, such as $.samples[*].")
    if problems:
        return problems
    return ReadingMap(file, kind, form, rows, float(skip), columns, where)  # type: ignore[arg-type]


def read_mapped_log(file: str, content: bytes, plan: ReadingMap, *, instant: InstantReader) -> Log | list[Problem]:
    """A foreign log read through its map."""
    repairs: Counter[str] = Counter()
    text = decode(file, content, repairs)
    if isinstance(text, Problem):
        return [text]
    try:
        numbers, rows = _rows(file, text, plan)
    except InputRefused as refusal:
        return [problem_in(file, 1, str(refusal), "", "map")]
    except (ValueError, RecursionError) as failure:
        return [
            problem_in(
                file, 1, f"The file cannot be read as {plan.format}: {_reason(failure)}.", "Is it whole?", "unreadable"
            )
        ]
    try:
        columns = _read_columns(file, plan, numbers, rows)
    except InputRefused as refusal:
        return [problem_in(file, 1, str(refusal), "Correct the map or the file.", "map")]
    if isinstance(columns, Problem):
        return [columns]
    found = LogColumns(plan.kind, lambda index: numbers[index] if index < len(numbers) else 1, **columns)
    return assemble(file, found, instant=instant, skip_first_s=plan.skip_first_s)


def find(path: str, document: Any) -> list[Any]:
    """Values of every node that a JSONPath selects in *document*. Source: RFC 9535."""
    import jsonpath_rfc9535

    return [node.value for node in jsonpath_rfc9535.find(path, document)]


def _given(value: Any) -> str:
    return "missing" if value is None else repr(value)


def _column(name: str, entry: Any) -> MapColumn | str:
    if name not in _TARGETS:
        return f"A map has no column {name!r}; it has {', '.join(_TARGETS)}."
    if not isinstance(entry, dict):
        return f"The column {name} is written as [column.{name}]."
    if unknown := sorted(set(entry) - {"from", "unit", "constant", "missing", "words"}):
        return f"{unknown[0]!r} is not known in [column.{name}]."
    source, constant = entry.get("from"), entry.get("constant")
    if (source is None) == (constant is None):
        return f"[column.{name}] needs either from or constant."
    if source is not None and not isinstance(source, str):
        return f"from in [column.{name}] is text."
    if constant is not None and (isinstance(constant, bool) or not isinstance(constant, int | float)):
        return f"constant in [column.{name}] is a number."
    target = SECONDS if name == "start" and "unit" in entry else _TARGETS[name][1]  # a start in seconds is Unix time
    unit = target
    if "unit" in entry:
        unit = parse_unit(str(entry["unit"]))
        if unit is None or target is None or unit.quantity != target.quantity:
            wanted = target.name if target else "none"
            return f"The unit {entry['unit']!r} of {name} is unknown or of another quantity; it becomes {wanted}."
    elif name == "rate":
        return "[column.rate] needs a unit."
    missing = entry.get("missing", [])
    if not isinstance(missing, list):
        return f"missing in [column.{name}] is a list."
    words = entry.get("words", {})
    if not isinstance(words, dict):
        return f"words in [column.{name}] is a table, typed = meant."
    return MapColumn(
        source,
        None if constant is None else float(constant),
        unit,
        frozenset(str(item) for item in missing),
        {str(typed): str(meant) for typed, meant in words.items()},
    )


def _where(entries: Any, refuse: Callable[[str], None]) -> list[Where]:
    found: list[Where] = []
    if not isinstance(entries, list):
        refuse("Conditions are written as [[where]].")
        return found
    for entry in entries:
        conditions = [name for name in _CONDITIONS if isinstance(entry, dict) and name in entry]
        if len(conditions) != 1 or not isinstance(entry.get("column"), str) or len(entry) != 2:
            refuse("[[where]] has a column and one of is, not, above, below.")
            continue
        value = entry[conditions[0]]
        if conditions[0] in ("above", "below") and not isinstance(value, int | float):
            refuse(f"{conditions[0]} in [[where]] is a number.")
            continue
        found.append(Where(entry["column"], conditions[0], value))
    return found


def _wrong_path(path: str) -> str | None:
    import jsonpath_rfc9535

    try:
        jsonpath_rfc9535.compile(path)
    except Exception as failure:  # the library has a family of errors for one question
        return str(failure).splitlines()[0].rstrip(".")
    return None


def _rows(file: str, text: str, plan: ReadingMap) -> tuple[list[int], list[Any]]:
    """Line or element numbers, and the rows."""
    if plan.format == "json":
        found = find(plan.rows or "$[*]", json.loads(text))
        numbers = list(range(1, len(found) + 1))
    else:
        pairs = list(_lines(text) if plan.format == "jsonl" else _records(text))
        numbers, found = [number for number, _ in pairs], [row for _, row in pairs]
    if len(found) > MAX_SAMPLES:
        raise InputRefused(f"A log has at most {MAX_SAMPLES:,} rows; this one is longer.")
    return numbers, found


def _lines(text: str) -> Iterator[tuple[int, Any]]:
    for number, line in enumerate(lines(text), start=1):
        if line.strip():
            try:
                yield number, json.loads(line)
            except (ValueError, RecursionError) as failure:
                raise InputRefused(f"Line {number} is not JSON: {_reason(failure)}.") from failure


def _reason(failure: Exception) -> str:
    """Why JSON could not be read, with the character of a line or the line and column of a file."""
    if isinstance(failure, json.JSONDecodeError):
        place = f"character {failure.colno}" if failure.lineno == 1 else f"line {failure.lineno}"
        return f"{failure.msg[:1].lower()}{failure.msg[1:].rstrip(' ')} ({place})"
    return "it is nested too deeply" if isinstance(failure, RecursionError) else str(failure)


def _records(text: str) -> Iterator[tuple[int, dict[str, str]]]:
    separator = separator_of(text)
    reader = csv.reader(lines(text), delimiter=separator)
    try:
        headers = [header.strip() for header in next(reader, [])]
        if len(headers) > MAX_COLUMNS:
            raise InputRefused(too_wide(len(headers)))
        for record in reader:
            if record:
                yield reader.line_num, dict(zip(headers, record, strict=False))
    except csv.Error as failure:
        raise InputRefused(f"Line {reader.line_num} cannot be read: {failure}.") from failure


def _getter(source: str, form: str) -> Getter:
    """How a row gives the value at *source*; plain member paths are followed without the JSONPath engine."""
    if form == "csv":
        return lambda row: row.get(source)
    if _SIMPLE_PATH.fullmatch(source):
        members = source[2:].split(".")

        def follow(row: Any) -> Any:
            for member in members:
                if not isinstance(row, dict) or member not in row:
                    return None
                row = row[member]
            return row

        return follow

    def search(row: Any) -> Any:
        found = find(source, row)
        return found[0] if len(found) == 1 else None

    return search


def _read_columns(file: str, plan: ReadingMap, numbers: list[int], rows: list[Any]) -> dict[str, Any] | Problem:
    """Columns of the rows that fulfil every condition; *numbers* is cut down to the same rows."""
    if plan.format == "csv" and rows:
        for source in [column.source for column in plan.columns.values()] + [item.column for item in plan.where]:
            if source is not None and source not in rows[0]:
                raise InputRefused(f"The file has no column {source!r}.")
    tests = [(_getter(item.column, plan.format), item) for item in plan.where]
    if tests:
        kept = [index for index, row in enumerate(rows) if all(_fulfils(get(row), item) for get, item in tests)]
        rows[:], numbers[:] = [rows[index] for index in kept], [numbers[index] for index in kept]
    columns: dict[str, Any] = {}
    for name, column in plan.columns.items():
        target, unit = _TARGETS[name]
        if name == "start" and column.unit is not None:
            target, unit = "unix_s", SECONDS
        if column.source is None:
            columns[target] = np.full(len(rows), (column.constant or 0.0) * _scaled(column, unit))
            continue
        get = _getter(column.source, plan.format)
        if unit is None:
            texts = [_text(get(row)) for row in rows]
            meant = [column.words.get(text, text) for text in texts]
            columns[target] = meant if target == "start" else words_of(meant)
            continue
        values = np.empty(len(rows))
        for index, row in enumerate(rows):
            value = _number(get(row), column.missing)
            if value is None:
                sentence = f"{str(get(row))[:80]!r} is not a number for {name}."
                return problem_in(
                    file,
                    numbers[index],
                    sentence,
                    "List it as missing in the map if it means none.",
                    "not-a-number",
                )
            values[index] = value
        with np.errstate(over="ignore"):  # what becomes too large is refused with the rest
            columns[target] = values * _scaled(column, unit)
    return columns


def _scaled(column: MapColumn, unit: Unit | None) -> float:
    if unit is None or column.unit is None:
        return 1.0
    factor = ratio(column.unit, unit)
    return factor.numerator / factor.denominator


def _text(value: Any) -> str:
    return "" if value is None else value if isinstance(value, str) else json.dumps(value)


def _number(value: Any, missing: frozenset[str]) -> float | None:
    """NaN for what means "not measured", None for what is no number."""
    text = _text(value).strip()
    if not text or text in missing:
        return float("nan")
    try:
        number = float(text)
    except ValueError:
        return None
    if any(_equal(number, item) for item in missing):
        return float("nan")
    return number if np.isfinite(number) and "_" not in text else None


def _equal(number: float, text: str) -> bool:
    try:
        return float(text) == number
    except ValueError:
        return False


def _fulfils(value: Any, item: Where) -> bool:
    if item.condition in ("is", "not"):
        same = _same(value, item.value)
        return same if item.condition == "is" else not same
    number = _number(value, frozenset())
    if number is None or number != number:
        return False
    return bool(number > item.value if item.condition == "above" else number < item.value)


def _same(value: Any, wanted: Any) -> bool:
    if isinstance(wanted, int | float) and not isinstance(wanted, bool):
        return (number := _number(value, frozenset())) is not None and number == wanted
    return _text(value).strip() == (wanted if isinstance(wanted, str) else json.dumps(wanted))
