"""Foreign logs read through a reading map (maps.py), in columns."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

import numpy as np

from catalog.digesting.logs import Floats, Log
from catalog.errors import InputRefused, Problem
from catalog.reading.column_reading import LogReading, read_settled
from catalog.reading.csv_columns import open_csv
from catalog.reading.delimited import utf_8
from catalog.reading.json_columns import JsonColumns, reason
from catalog.reading.left_out import lengths_among
from catalog.reading.log_columns import BadLine, ColumnSource
from catalog.reading.logs import LogColumns, Words, assemble
from catalog.reading.maps import TARGETS, MapColumn, ReadingMap
from catalog.reading.rawtable import problem_in
from catalog.reading.written_times import DAY_S, EPOCH, InstantReader, NotATime, clock_s, instants_us
from catalog.units import SECONDS, Unit, ratio

MEANS = "List it in the map as missing or failed if it means that, or leave such rows out with [[where]]."


def read_mapped_log(file: str, content: bytes, plan: ReadingMap, *, instant: InstantReader) -> Log | list[Problem]:
    """A foreign log read through its map."""
    if plan.format == "csv":
        source: ColumnSource | Problem = open_csv(file, content)
    else:
        body = utf_8(file, content)
        source = body if isinstance(body, Problem) else JsonColumns(body, plan.rows if plan.format == "json" else None)
    if isinstance(source, Problem):
        return [source]
    return read_columns(file, source, plan, instant=instant)


def read_columns(
    file: str, source: ColumnSource, plan: ReadingMap, *, instant: InstantReader, remedy: str = MEANS
) -> Log | list[Problem]:
    """A log read from the columns of its file.

    remedy  what to do about a text that is not a number
    """
    try:
        reading = read_settled(source, plan)
        if plan.format != "csv":
            source.require([column.source for column in plan.columns.values() if column.source is not None])
    except BadLine as bad:
        return [problem_in(file, bad.line, str(bad), bad.remedy, bad.code)]
    except InputRefused as refusal:
        return [problem_in(file, 1, str(refusal), "Correct the map or the file.", "map")]
    except (ValueError, RecursionError) as failure:
        sentence = f"The file cannot be read as {plan.format}: {reason(failure)}."
        return [problem_in(file, 1, sentence, "Is it whole?", "unreadable")]
    if reading.wrong:
        return [
            problem_in(file, source.line(row), sentence, _remedy(sentence, remedy), "not-a-number", value=text)
            for row, text, sentence in sorted(reading.wrong)
        ]
    try:
        columns = _log_columns(plan, reading, source, instant)
    except NotATime as bad:
        return [problem_in(file, source.line(reading.row(bad.index)), str(bad), "", "not-a-time")]
    return assemble(file, columns, skip_first_s=plan.skip_first_s)


def _remedy(sentence: str, otherwise: str) -> str:
    return 'Write decimal = "." or decimal = "," in a reading map.' if ", and " in sentence else otherwise


def _log_columns(plan: ReadingMap, reading: LogReading, source: ColumnSource, instant: InstantReader) -> LogColumns:
    """Columns in the units of a log.

    Raises  NotATime for a written time that is none.
    """
    count = len(next(iter(reading.columns.values())))  # a time always comes from the file
    columns: dict[str, Any] = {"failed": reading.failed, "places": reading.places}
    times: dict[str, Any] = {name: reading.columns[name] for name in ("t_s", "start", "end") if name in reading.columns}
    for name, column in plan.columns.items():
        target, unit = TARGETS[name]
        if name in times:
            continue
        if column.constant is not None:
            value = f"{column.constant:g}"
            words = Words((column.words.get(value, value),), np.zeros(count, dtype=np.int8))
            columns[target] = words if unit is None else np.full(count, column.constant * _factor(column, unit))
        else:
            values = reading.columns[name]
            columns[target] = values if unit is None else _scaled(values, _factor(column, unit))
    columns |= _begins(plan, reading, times, instant)
    if reading.left_out is not None:
        columns["until_next_s"] = _until_next(plan, reading, instant)
    if "end" in times:  # as long as from its begin to its end
        length_s = columns.pop("length_s")
        columns["seconds" if plan.kind == "throughput" else "ms"] = length_s * (
            1.0 if plan.kind == "throughput" else 1e3
        )
    return LogColumns(plan.kind, lambda index: source.line(reading.row(index)), **columns)


def _begins(plan: ReadingMap, reading: LogReading, times: Mapping[str, Any], instant: InstantReader) -> dict[str, Any]:
    """Times from the first row, the instant of it where it is known, and the length up to an end."""
    begin, end = times.get("t_s", times.get("start")), times.get("end")
    if begin is None:
        return {}
    if reading.clock:
        begins = clock_s(begin)
        if end is None:
            return {"t_s": begins}
        blank = end == b""
        lengths = np.full(len(begins), np.nan)
        lengths[~blank] = clock_s(np.where(blank, begin, end), same_day=True)[~blank] - begins[~blank] % DAY_S
        lengths[lengths < -DAY_S / 2] += DAY_S
        return {"t_s": begins, "length_s": lengths}
    if begin.dtype.kind == "S":
        begins_us = instants_us(begin, instant, day_first=plan.columns["start"].day_first)
        written: dict[str, Any] = {"t_s": (begins_us - begins_us[:1]) / 1e6}
        written["began"] = EPOCH + dt.timedelta(microseconds=int(begins_us[0])) if len(begins_us) else None
        if end is not None:
            blank = end == b""
            ends_us = instants_us(np.where(blank, begin, end), instant, day_first=plan.columns["end"].day_first)
            written["length_s"] = np.where(blank, np.nan, (ends_us - begins_us) / 1e6)
        return written
    name = "t_s" if "t_s" in times else "start"
    factor = _factor(plan.columns[name], SECONDS)
    counted: dict[str, Any] = {}
    if name == "start" and len(begin) and not np.isnan(begin[0]):
        counted["unix_s"] = float(begin[0]) * factor
        counted["t_s"] = _scaled(_difference(begin, begin[:1]), factor)
    else:
        counted["t_s"] = _scaled(begin, factor)
    if end is not None:
        until = _factor(plan.columns["end"], SECONDS)
        same = until == factor
        counted["length_s"] = (
            _scaled(_difference(end, begin), factor) if same else _scaled(end, until) - _scaled(begin, factor)
        )
    return counted


def _until_next(plan: ReadingMap, reading: LogReading, instant: InstantReader) -> Floats | None:
    """Lengths of rows up to the next of their log, one that a condition left out included."""
    assert reading.left_out is not None
    times, tests = reading.left_out
    name = "t_s" if "t_s" in plan.columns else "start"
    try:
        return lengths_among(_begins(plan, reading, {name: times}, instant)["t_s"], tests)
    except NotATime:  # a row of another log
        return None


def _difference(values: Any, others: Any) -> Any:
    """Differences, exact between whole numbers that do not run over."""
    if values.dtype.kind == others.dtype.kind == "i" and max(_size(values), _size(others)) < 2**62:
        return values - others
    return values.astype(np.float64) - others.astype(np.float64)


def _size(values: Any) -> int:
    return max(abs(int(values.max(initial=0))), abs(int(values.min(initial=0))))


def _scaled(values: Any, factor: float) -> Floats:
    with np.errstate(over="ignore"):  # what becomes too large is refused with the rest
        return np.asarray(values, dtype=np.float64) * factor if factor != 1.0 else np.asarray(values, dtype=np.float64)


def _factor(column: MapColumn, unit: Unit | None) -> float:
    if unit is None or column.unit is None:
        return 1.0
    factor = ratio(column.unit, unit)
    return factor.numerator / factor.denominator
