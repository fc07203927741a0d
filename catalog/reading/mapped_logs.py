"""Foreign logs read through a reading map (maps.py)."""

from __future__ import annotations

import csv
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

from catalog.digesting.logs import Log
from catalog.errors import InputRefused, Problem
from catalog.reading.delimited import decode, lines, separator_of, too_wide
from catalog.reading.logs import MAX_SAMPLES, InstantReader, LogColumns, assemble, words_of
from catalog.reading.maps import TARGETS, MapColumn, ReadingMap, Where, find
from catalog.reading.rawtable import MAX_COLUMNS, problem_in
from catalog.units import SECONDS, Unit, ratio

_SIMPLE_PATH = re.compile(r"\$(?:\.([A-Za-z_]\w*))+")

Getter = Callable[[Any], Any]


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
    columns_read = LogColumns(plan.kind, lambda index: numbers[index] if index < len(numbers) else 1, **columns)
    return assemble(file, columns_read, instant=instant, skip_first_s=plan.skip_first_s)


def _rows(file: str, text: str, plan: ReadingMap) -> tuple[list[int], list[Any]]:
    """Line or element numbers, and the rows."""
    if plan.format == "json":
        rows = find(plan.rows or "$[*]", json.loads(text))
        numbers = list(range(1, len(rows) + 1))
    else:
        pairs = list(_lines(text) if plan.format == "jsonl" else _records(text))
        numbers, rows = [number for number, _ in pairs], [row for _, row in pairs]
    if len(rows) > MAX_SAMPLES:
        raise InputRefused(f"A log has at most {MAX_SAMPLES:,} rows; this one is longer.")
    return numbers, rows


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
        matches = find(source, row)
        return matches[0] if len(matches) == 1 else None

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
        target, unit = TARGETS[name]
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
    if "end" in columns:  # as long as from its begin to its end
        begin = columns["t_s"] if "t_s" in columns else columns["unix_s"]
        length, factor = ("seconds", 1.0) if plan.kind == "throughput" else ("ms", 1e3)
        columns[length] = (columns.pop("end") - begin) * factor
    return columns


def _scaled(column: MapColumn, unit: Unit | None) -> float:
    if unit is None or column.unit is None:
        return 1.0
    factor = ratio(column.unit, unit)
    return factor.numerator / factor.denominator


def _text(value: Any) -> str:
    return "" if value is None else value if isinstance(value, str) else json.dumps(value)


def _number(value: Any, missing: frozenset[str]) -> float | None:
    """NaN for what means "not measured", None for what is not a number."""
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
