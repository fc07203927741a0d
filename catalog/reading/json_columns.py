"""A log as JSON or JSON Lines, read in columns a few thousand rows at a time.

A path of member names and places (`$.link.rate`, `$["a b"][0]`) is followed directly; any other goes through the engine
of RFC 9535.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import orjson

from catalog.errors import InputRefused
from catalog.reading.json_pieces import elements
from catalog.reading.log_columns import SAMPLE_ROWS, BadLine, Piece, Raw, Role, piece_of
from catalog.reading.log_numbers import Numbers
from catalog.reading.logs import MAX_SAMPLES, words_of
from catalog.reading.maps import find

_PIECE = 1 << 20  # bytes of JSON Lines
_ROWS = 1 << 14
_STEP = re.compile(r"""\.([A-Za-z_]\w*)|\["([^"\\]*)"\]|\['([^'\\]*)'\]|\[(0|[1-9]\d{0,6})\]""", re.ASCII)


@dataclass
class JsonColumns:
    """A JSON file, *rows* being the path of its rows, or JSON Lines without one. Columns are named by their paths."""

    body: bytes
    rows: str | None
    one_mark: bool = False
    units: Mapping[str, str] = field(default_factory=dict)
    _present: set[str] = field(default_factory=set)
    _seen: int = 0
    _lines: int = 0

    def require(self, names: Sequence[str]) -> None:
        """Raises InputRefused: no row has anything at a path. Known once the rows were read."""
        for name in names:
            if self._seen and name not in self._present:
                raise InputRefused(f"No row has anything at {name!r}.")

    def sample(self, name: str) -> list[str]:
        """The texts among the first rows; numbers need no settling."""
        rows = next(self._lists(), [])[:SAMPLE_ROWS]
        return [value for value in map(_getter(name), rows) if isinstance(value, str)]

    def line(self, row: int) -> int:
        """The line of a row, or its place among the rows, counted from 1."""
        if self.rows is not None or self._lines == self._seen:  # no line was blank
            return row + 1
        numbers = (number for number, line in enumerate(self.body.splitlines(), start=1) if line.strip())
        return next((number for place, number in enumerate(numbers) if place == row), 1)

    def pieces(self, wanted: Collection[tuple[str, Role]], decimal: str | None) -> Iterator[Piece]:
        """The rows in pieces. *decimal* is left to the texts among the numbers."""
        del decimal
        self._present.clear()
        self._seen = 0
        getters = {name: _getter(name) for name, _ in wanted}
        for rows in self._lists():
            self._seen += len(rows)
            if self._seen > MAX_SAMPLES:
                limit = f"A log has at most {MAX_SAMPLES:,} rows; this one is longer."
                raise BadLine(MAX_SAMPLES, limit, "Split the run.", "too-long")
            columns: dict[tuple[str, Role], Raw] = {}
            for name, role in wanted:
                values = _values(rows, name, getters[name])
                if any(value is not ABSENT for value in values):
                    self._present.add(name)
                columns[name, role] = _as(role, values)
            yield piece_of(columns, len(rows), None)

    def _lists(self) -> Iterator[list[Any]]:
        """The rows, some thousands at a time."""
        if self.rows is not None:
            steps = _steps(self.rows.removesuffix("[*]")) if self.rows.endswith("[*]") else None
            names = [step for step in steps or () if isinstance(step, str)]
            pieces = elements(self.body, names) if steps is not None and len(names) == len(steps) else None
            if pieces is not None:
                try:
                    yield from pieces
                except orjson.JSONDecodeError:
                    orjson.loads(self.body)  # names the line of the file
                    raise
                return
            document = orjson.loads(self.body)
            if steps is None:
                rows = find(self.rows, document)
            else:
                here = _follow(document, steps)
                rows = here if isinstance(here, list) else list(here.values()) if isinstance(here, dict) else []
            for begin in range(0, len(rows), _ROWS):
                yield rows[begin : begin + _ROWS]
            return
        begin, above = 0, 0
        while begin < len(self.body):
            end = self.body.find(b"\n", begin + _PIECE) + 1 or len(self.body)
            piece = self.body[begin:end].splitlines()
            try:
                yield [orjson.loads(line) for line in piece if line and not line.isspace()]
            except orjson.JSONDecodeError:
                for number, line in enumerate(piece, start=above + 1):
                    if line.strip() and (reason := _unreadable(line)):
                        sentence = f"Line {number} is not JSON: {reason}."
                        raise BadLine(number, sentence, "Is the file whole?", "unreadable") from None
            begin, above = end, above + len(piece)
            self._lines = above


class _Absent:
    """Stands for what a row does not have; null is had."""


ABSENT = _Absent()


def _unreadable(line: bytes) -> str | None:
    try:
        orjson.loads(line)
    except orjson.JSONDecodeError as failure:
        return reason(failure)
    return None


def reason(failure: Exception) -> str:
    """Why JSON could not be read, with the character of a line or the line and column of a file."""
    if isinstance(failure, json.JSONDecodeError):
        place = f"character {failure.colno}" if failure.lineno == 1 else f"line {failure.lineno}"
        return f"{failure.msg[:1].lower()}{failure.msg[1:].rstrip(' ')} ({place})"
    return "it is nested too deeply" if isinstance(failure, RecursionError) else str(failure)


def _steps(path: str) -> tuple[str | int, ...] | None:
    """Member names and places of a plain path; None for any other."""
    if not path.startswith("$"):
        return None
    steps: list[str | int] = []
    end = 1
    while end < len(path):
        if (match := _STEP.match(path, end)) is None:
            return None
        name = next(group for group in match.groups() if group is not None)
        steps.append(int(name) if match[4] is not None else name)
        end = match.end()
    return tuple(steps)


def _follow(value: Any, steps: Sequence[str | int]) -> Any:
    for step in steps:
        if isinstance(step, str):
            if not isinstance(value, dict) or step not in value:
                return ABSENT
        elif not isinstance(value, list) or step >= len(value):
            return ABSENT
        value = value[step]
    return value


def _getter(path: str) -> Callable[[Any], Any]:
    steps = _steps(path)
    if steps is not None:
        return lambda row: _follow(row, steps)

    def search(row: Any) -> Any:
        matches = find(path, row)
        return matches[0] if len(matches) == 1 else ABSENT

    return search


def _values(rows: Sequence[Any], path: str, getter: Callable[[Any], Any]) -> list[Any]:
    """What every row has at a path."""
    steps = _steps(path)
    if steps and all(isinstance(step, str) for step in steps):
        values: Any = rows
        try:
            for step in steps:
                if not set(map(type, values)) <= {dict}:
                    raise KeyError(step)
                values = [value[step] for value in values]
            return list(values)
        except KeyError:
            pass
    return [getter(row) for row in rows]


def _as(role: Role, values: list[Any]) -> Raw:
    if role == "number":
        return _numbers(values)
    texts = [_text(value) for value in values]
    return words_of(texts) if role == "word" else texts


def _numbers(values: list[Any]) -> Numbers:
    """Numbers as they are, and what else stands among them as text."""
    types = set(map(type, values))
    if types <= {int, float}:
        array = np.array(values) if types else np.empty(0)
        return Numbers(array if array.dtype.kind in "if" else np.array([float(value) for value in values]))
    others = [place for place, value in enumerate(values) if type(value) not in (int, float) and value is not None]
    others = [place for place in others if values[place] is not ABSENT]
    array = np.array([float(value) if type(value) in (int, float) else np.nan for value in values])
    return Numbers(array, np.array(others, dtype=np.int64), [_text(values[place]) for place in others])


def _text(value: Any) -> str:
    return "" if value is None or value is ABSENT else value if isinstance(value, str) else json.dumps(value)
