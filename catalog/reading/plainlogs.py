"""Logs written as CSV in one of the two forms that need no map.

The quick way is pandas' C reader on numeric columns; only a log that fails it is read line by line, to
name the bad line.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from catalog.digesting.logs import Floats, Kind, Log
from catalog.errors import Problem
from catalog.reading.delimited import lines, separator_of, too_wide, utf_8
from catalog.reading.logs import MAX_SAMPLES, InstantReader, LogColumns, Words, assemble, words_of
from catalog.reading.rawtable import MAX_COLUMNS, problem_in
from catalog.units import MBIT_S, parse_unit, ratio

_NAMES: Mapping[str, str] = {
    "t_s": "t_s",
    "t": "t_s",
    "time_s": "t_s",
    "seconds": "seconds",
    "bytes": "bytes",
    "start": "start",
    "ms": "ms",
    "latency_ms": "ms",
    "outcome": "outcome",
    "width_mhz": "width_mhz",
    "band": "band",
    "channel": "channel",
}
_WORDS = frozenset({"outcome", "width_mhz", "band", "channel"})
_TEXTS = _WORDS | {"start"}
_Column = Floats | list[str] | Words
_MOST_BAD_LINES = 20


def read_plain_log(file: str, content: bytes, *, instant: InstantReader) -> Log | list[Problem]:
    """A throughput or request log by its header."""
    body = utf_8(file, content)
    if isinstance(body, Problem):
        return [body]
    line_ends = body.count(b"\n")
    if line_ends > MAX_SAMPLES + 1:
        limit = f"A log has at most {MAX_SAMPLES:,} rows; this one is longer."
        return [problem_in(file, MAX_SAMPLES, limit, "Split the run.", "too-long")]
    end = body.find(b"\n") + 1 or len(body)
    header = body[:end].decode().rstrip("\r\n")
    separator = separator_of(header)
    if (count := header.count(separator) + 1) > MAX_COLUMNS:
        return [problem_in(file, 1, too_wide(count), "Is a line end missing?", "too-wide")]
    try:
        headers = [name.strip() for name in next(csv.reader([header], delimiter=separator), [])]
    except csv.Error as failure:
        return [problem_in(file, 1, f"The header cannot be read: {failure}.", "Write the log again.", "quotes")]
    places = columns_of(headers)
    names = [name for name, _ in places.values()]
    if twice := next((name for name in names if names.count(name) > 1), None):
        both = [f'"{headers[place]}"' for place, (name, _) in places.items() if name == twice]
        sentence = f"{' and '.join(both)} both mean {twice}."
        return [problem_in(file, 1, sentence, "Keep one of them, or choose one with a reading map.", "column-twice")]
    kind: Kind
    if "ms" in names:
        kind = "requests"
    elif "mbit_s" in names or "bytes" in names:
        kind = "throughput"
    else:
        return [
            problem_in(
                file,
                1,
                f"The header {header.strip()[:120]!r} is none of a throughput or a request log.",
                "Write t_s,mbit_s or t_s,seconds,bytes or t_s,ms,outcome, or add a reading map.",
                "unknown-log",
            )
        ]
    decimal = "," if separator == ";" and b"," in body[end : end + 4000] else "."
    rows = memoryview(body)[end:]
    columns = _quick(rows, separator, decimal, places)
    if columns is None:
        return _bad_lines(file, str(rows, "utf-8"), separator, decimal, places)
    count = max(len(column.place) if isinstance(column, Words) else len(column) for column in columns.values())
    whole = count == line_ends - body.endswith(b"\n")  # one line per row, after the header

    def line(index: int) -> int:
        return index + 2 if whole else _line_of(str(rows, "utf-8"), index)

    return assemble(file, LogColumns(kind, line, **columns), instant=instant)  # type: ignore[arg-type]


def columns_of(headers: Sequence[str]) -> dict[int, tuple[str, float]]:
    """Place -> (column, factor to its unit) of the headers that are known."""
    places: dict[int, tuple[str, float]] = {}
    for place, header in enumerate(headers):
        name = header.casefold().replace(" ", "_").replace("(", "").replace(")", "")
        if name in _NAMES:
            places[place] = (_NAMES[name], 1.0)
        elif (unit := parse_unit(header)) is not None and unit.quantity == "rate":
            factor = ratio(unit, MBIT_S)
            places[place] = ("mbit_s", factor.numerator / factor.denominator)
    return places


def _quick(
    rows: memoryview, separator: str, decimal: str, places: Mapping[int, tuple[str, float]]
) -> dict[str, _Column] | None:
    """The columns by the C reader; None when anything is not a number where one belongs."""
    import pandas as pd

    kinds: dict[int, Any] = {
        place: "category" if name in _WORDS else str if name in _TEXTS else np.float64
        for place, (name, _) in places.items()
    }
    try:
        frame = pd.read_csv(
            io.BytesIO(rows),
            header=None,
            sep=separator,
            decimal=decimal,
            usecols=sorted(places),
            dtype=kinds,
            na_values=[""],
            keep_default_na=False,
            engine="c",
        )
    except pd.errors.EmptyDataError:
        return {
            name: words_of([]) if name in _WORDS else [] if name in _TEXTS else np.empty(0)
            for name, _ in places.values()
        }
    except (ValueError, OverflowError, pd.errors.ParserError):
        return None
    columns: dict[str, _Column] = {}
    for place, (name, factor) in places.items():
        if name in _WORDS:
            texts = [str(text).strip() for text in frame[place].cat.categories]
            columns[name] = Words([*texts, ""], frame[place].cat.codes.to_numpy())  # blank is -1, the last one
            continue
        if name in _TEXTS:
            columns[name] = frame[place].fillna("").astype(str).str.strip().tolist()
            continue
        values = frame[place].to_numpy(dtype=np.float64)
        if np.isinf(values).any() or (name == "t_s" and np.isnan(values).any()):
            return None
        with np.errstate(over="ignore"):  # what becomes too large is refused with the rest
            columns[name] = values if factor == 1.0 else values * factor
    return columns


def _bad_lines(
    file: str, body: str, separator: str, decimal: str, places: Mapping[int, tuple[str, float]]
) -> list[Problem]:
    """Name the lines that the quick way stumbled over."""
    problems: list[Problem] = []
    reader = csv.reader(lines(body), delimiter=separator)
    try:
        for record in reader:
            if not record:
                continue
            if (wrong := _wrong_cell(record, decimal, places)) is not None:
                cell, name = wrong
                sentence = f"{cell!r} is not a number for {name}." if cell else f"{name} is missing."
                problems.append(
                    problem_in(
                        file,
                        reader.line_num + 1,
                        sentence,
                        "Correct or remove the line.",
                        "not-a-number",
                        value=cell,
                    )
                )
                if len(problems) >= _MOST_BAD_LINES:
                    break
    except csv.Error as failure:
        problems.append(problem_in(file, reader.line_num + 1, f"The line cannot be read: {failure}.", "", "quotes"))
    if not problems:
        odd = "Some line has another number of cells than the first."
        problems.append(problem_in(file, 1, odd, "Write the log again.", "unreadable"))
    return problems


def _wrong_cell(record: Sequence[str], decimal: str, places: Mapping[int, tuple[str, float]]) -> tuple[str, str] | None:
    for place, (name, _) in places.items():
        if name in _TEXTS:
            continue
        cell = record[place].strip() if place < len(record) else ""
        if not cell and name != "t_s":
            continue
        try:
            if not np.isfinite(float(cell.replace(decimal, "."))) or "_" in cell:
                return cell, name
        except ValueError:
            return cell, name
    return None


def _line_of(body: str, index: int) -> int:
    """Line of the file that holds record *index*, blank lines counted."""
    seen = -1
    for number, line in enumerate(lines(body), start=2):
        seen += bool(line.strip())
        if seen == index:
            return number
    return 1
