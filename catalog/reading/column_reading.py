"""The columns that a reading map asks for, taken from a file piece by piece: rows kept, numbers settled."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from catalog.errors import InputRefused
from catalog.reading.decimal_marks import plain, settle_marks, unit_text
from catalog.reading.log_columns import ColumnSource, Raw, Role, kept
from catalog.reading.log_numbers import Evidence, Mask, Numbers, settled
from catalog.reading.logs import Words
from catalog.reading.maps import TARGETS, ReadingMap, Where
from catalog.reading.written_times import is_clock, packed
from catalog.units import possible_units

MOST_WRONG = 20


@dataclass
class LogReading:
    """What the rows of a log say, by column of its map.

    columns  numbers as float64 or int64, times as bytes, words
    clock    whether t_s, and end, are times of day without a date
    failed   rows in which a word says that the request failed; None where no word can
    wrong    rows of the file with a text that is not what its column holds: row, text and sentence
    places   rows of the file by row of the log; None where they are the same
    left_out the times of all rows, as columns has them, and which of them pass each condition; None where every row
             stays or says how long it lasts
    """

    columns: dict[str, Any] = field(default_factory=dict)
    clock: bool = False
    failed: Mask | None = None
    wrong: list[tuple[int, str, str]] = field(default_factory=list)
    places: Any = None
    left_out: tuple[Any, list[Mask]] | None = None

    def row(self, index: int) -> int:
        """The row of the file that a row of the log comes from."""
        if self.places is None:
            return index
        return int(self.places[index]) if index < len(self.places) else 0


def read_settled(source: ColumnSource, plan: ReadingMap) -> LogReading:
    """The columns of a map, numbers by the decimal mark that the file proves or the map states.

    Raises  BadLine: a line cannot be read. InputRefused: the file does not fit the map.
    """
    if plan.format == "csv":
        named = [column.source for column in plan.columns.values()] + [item.column for item in plan.where]
        source.require([name for name in named if name is not None])
    clock = _says_clock(source, plan)
    if plan.decimal is not None:
        return _read(source, plan, Evidence(plan.decimal, stated=True), clock)
    sample = [] if source.one_mark else _sample(source, plan, clock)
    marks = settle_marks(text for text in sample if not unit_text(text))
    evidence = Evidence(None if marks.mixed else marks.decimal or ".", mixed=marks.mixed)
    reading = _read(source, plan, evidence, clock)
    proved = source.one_mark or marks.decimal or marks.mixed or evidence.seen or not evidence.unsure
    if evidence.contradicted or not proved:
        every = Evidence(None)
        reading = _read(source, plan, every, clock)
        if len(every.seen) == 1:
            return _read(source, plan, Evidence(every.seen.pop()), clock)
        if every.seen and reading.wrong:
            return _read(source, plan, Evidence(None, mixed=True), clock)
    return reading


def _says_clock(source: ColumnSource, plan: ReadingMap) -> bool:
    column = plan.columns.get("t_s")
    if column is None or column.unit is not None or column.source is None:
        return False
    return any(is_clock(text) for text in source.sample(column.source))


def _role(name: str, plan: ReadingMap, clock: bool) -> Role:
    if TARGETS[name][1] is None and name != "start":
        return "word"
    if name == "start":
        return "time" if plan.columns[name].unit is None else "number"
    if name == "t_s":
        return "time" if clock else "number"
    if name == "end" and plan.columns[name].unit is None:
        return "time" if clock or "start" in plan.columns else "number"
    return "number"


def _asks_number(item: Where) -> bool:
    return isinstance(item.value, int | float) and not isinstance(item.value, bool)


def _sample(source: ColumnSource, plan: ReadingMap, clock: bool) -> list[str]:
    named = {
        c.source for name, c in plan.columns.items() if c.source is not None and _role(name, plan, clock) == "number"
    }
    named |= {item.column for item in plan.where if _asks_number(item)}
    return [text for name in sorted(named) for text in source.sample(name)]


def _read(source: ColumnSource, plan: ReadingMap, evidence: Evidence, clock: bool) -> LogReading:
    asked: dict[str, tuple[str, Role]] = {
        name: (column.source, _role(name, plan, clock))
        for name, column in plan.columns.items()
        if column.source is not None
    }
    tests: list[tuple[Where, tuple[str, Role]]] = [
        (item, (item.column, "number" if _asks_number(item) else "word")) for item in plan.where
    ]
    parts: dict[str, list[Any]] = {name: [] for name in asked}
    known_words: dict[str, dict[str, int]] = {}
    failed: list[Mask] = []
    places: list[Any] = []
    reading = LogReading(clock=clock)
    seen, whole = 0, True
    every_time: list[Any] = []
    passed: list[list[Mask]] = []
    begin = next((asked[name] for name in ("t_s", "start") if name in asked), None)
    by_next = bool(tests) and plan.kind == "throughput" and not {"seconds", "end"} & set(plan.columns)
    for piece in source.pieces({*asked.values(), *(key for _, key in tests)}, evidence.decimal):
        if not places:
            _compare_units(source, plan)
        rows = np.arange(seen, seen + piece.rows) if piece.keep is None else seen + np.flatnonzero(piece.keep)
        seen += piece.rows
        columns: Mapping[tuple[str, Role], Raw] = piece.columns
        if tests:
            passing = [_fulfilled(columns[key], item, evidence) for item, key in tests]
            if by_next and begin is not None:
                every_time.append(_times(columns[begin], evidence))
                passed.append(passing)
            stays = np.logical_and.reduce(passing)
            columns, rows = {key: kept(columns[key], stays) for key in asked.values()}, rows[stays]
        taken, failing = _taken(asked, columns, rows, plan, evidence, reading)
        if (blank := _blank(taken, failing, rows, reading)) is not None:
            taken = {
                name: Words(v.texts, v.place[~blank]) if isinstance(v, Words) else v[~blank]
                for name, v in taken.items()
            }
            failing, rows = (None if failing is None else failing[~blank]), rows[~blank]
        for name, values in taken.items():
            parts[name].append(
                _counted(values, known_words.setdefault(name, {})) if isinstance(values, Words) else values
            )
        if failing is not None:
            failed.append(failing)
        whole &= len(rows) == piece.rows
        places.append(rows)
        if evidence.contradicted or (len(reading.wrong) >= MOST_WRONG and evidence.decimal is not None):
            break
    reading.failed = np.concatenate(failed) if failed else None
    if not whole:
        reading.places = np.concatenate(places)
    if every_time and len(reading.places if reading.places is not None else ()):
        masks = [np.concatenate(of_one) for of_one in zip(*passed, strict=True)]
        if np.count_nonzero(np.logical_and.reduce(masks)) == len(reading.places):  # no row was blank
            reading.left_out = np.concatenate(every_time), masks
    every_time.clear()
    places.clear()
    for name in list(parts):
        pieces = parts.pop(name)
        joined = np.concatenate(pieces) if pieces else np.empty(0)
        if asked[name][1] == "word":
            words = known_words.get(name, {})
            reading.columns[name] = Words(tuple(words) or ("",), joined.astype(np.int32))
        else:
            reading.columns[name] = joined if pieces or asked[name][1] != "time" else joined.astype(np.bytes_)
    return reading


def _times(raw: Raw, evidence: Evidence) -> Any:
    """Times of all rows, those that are left out included; blank where there is none."""
    if isinstance(raw, Numbers):
        return settled(raw, evidence).values
    assert not isinstance(raw, Words)
    times = packed([text.strip() for text in raw])
    return np.zeros(len(raw), dtype=np.bytes_) if times is None else times


def _taken(
    asked: Mapping[str, tuple[str, Role]],
    columns: Mapping[tuple[str, Role], Raw],
    rows: Any,
    plan: ReadingMap,
    evidence: Evidence,
    reading: LogReading,
) -> tuple[dict[str, Any], Mask | None]:
    """A piece of every column, and the rows whose words say that the request failed. What is wrong goes to *reading*."""
    taken: dict[str, Any] = {}
    failing: Mask | None = None
    for name, key in asked.items():
        raw, column = columns[key], plan.columns[name]
        if isinstance(raw, Numbers):
            result = settled(raw, evidence, missing=column.missing, failed=column.failed)
            taken[name] = result.values
            if result.failed is not None:
                failing = result.failed if failing is None else failing | result.failed
            room = MOST_WRONG - len(reading.wrong)
            reading.wrong += [
                (int(rows[w.row]), w.text, _sentence(w.text, w.reason, key[0])) for w in result.wrong[:room]
            ]
        elif isinstance(raw, Words):
            meant = [
                column.words.get(text, "" if text in column.missing else text) for text in map(str.strip, raw.texts)
            ]
            taken[name] = Words(meant, raw.place)
        else:
            typed = raw if "".join(raw).isascii() else map(plain, raw)
            texts = [text.strip() for text in typed]
            if column.failed:
                fails = np.array([text in column.failed for text in texts], dtype=np.bool_)
                failing = fails if failing is None else failing | fails
            if blanks := column.failed | column.missing:
                texts = ["" if text in blanks else text for text in texts]
            if (times := packed(texts)) is None:
                row = next(row for row, text in enumerate(texts) if packed([text]) is None)
                reading.wrong.append((int(rows[row]), texts[row], f"{texts[row][:80]!r} is not a time."))
                times = np.zeros(len(texts), dtype=np.bytes_)
            taken[name] = times
    return taken, failing


def _sentence(text: str, reason: str, name: str) -> str:
    shown = text if len(text) <= 80 else text[:79] + "…"
    return f"{shown!r} {reason} for {name}." if reason == "is not a number" else f"{shown!r} for {name} {reason}."


def _counted(words: Words, known: dict[str, int]) -> Any:
    """Places of words among those of all pieces; what no row says is left out."""
    stated = np.zeros(len(words.texts), dtype=np.bool_)
    stated[words.place] = True
    places = np.zeros(len(words.texts), dtype=np.int32)
    for place in np.flatnonzero(stated).tolist():
        places[place] = known.setdefault(words.texts[place], len(known))
    return places[words.place]


def _blank(taken: Mapping[str, Any], failing: Mask | None, rows: Any, reading: LogReading) -> Mask | None:
    """Rows that say nothing in any column; None where there are none."""
    blank = np.ones(len(rows), dtype=np.bool_)
    for values in taken.values():
        if isinstance(values, Words):
            blank &= np.array([text == "" for text in values.texts], dtype=np.bool_)[values.place]
        elif values.dtype.kind == "S":
            blank &= values == b""
        else:
            blank &= np.isnan(values) if values.dtype.kind == "f" else False
        if not blank.any():
            return None
    if failing is not None:
        blank &= ~failing
    if reading.wrong:
        blank &= ~np.isin(rows, [row for row, _, _ in reading.wrong])
    return blank if blank.any() else None


def _compare_units(source: ColumnSource, plan: ReadingMap) -> None:
    """Raises InputRefused: a row of units in the file says another one than the map."""
    for name, column in plan.columns.items():
        unit = column.unit or TARGETS[name][1]
        stated = source.units.get(column.source or "", "")
        if stated and unit is not None and unit not in possible_units(stated.strip("()[] ")):
            raise InputRefused(f"The row under the heading says {stated!r} for {column.source}, the map {unit.name}.")


def _fulfilled(raw: Raw, item: Where, evidence: Evidence) -> Mask:
    """Rows in which a column fulfils a condition; what is not a number is neither above nor below one."""
    if isinstance(raw, Numbers):
        values = settled(raw, evidence).values
        if item.condition in ("is", "not"):
            same: Mask = values == item.value
            return same if item.condition == "is" else ~same
        return np.asarray(values > item.value if item.condition == "above" else values < item.value)
    assert isinstance(raw, Words)
    wanted = item.value if isinstance(item.value, str) else json.dumps(item.value)
    alike = np.array([text.strip() == wanted for text in raw.texts], dtype=np.bool_)[raw.place]
    return np.asarray(alike if item.condition == "is" else ~alike)
