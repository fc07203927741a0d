"""Reading maps: how to read a foreign log, written as `maps/NAME.toml` in the batch.

JSONPath after RFC 9535. Values that mean "not measured" are listed in the map, never guessed. Logs are read through
a map in mapped_logs.py.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from catalog.digesting.logs import Kind
from catalog.errors import Problem
from catalog.reading.characters import odd_character, texts_in
from catalog.reading.rawtable import problem_in
from catalog.reading.toml_lines import TomlLines, index_lines, parse_toml
from catalog.units import BYTES, MBIT_S, MILLISECONDS, SECONDS, Unit, parse_unit

# Column of a map -> (column of a log, unit it is turned into).
TARGETS: Mapping[str, tuple[str, Unit | None]] = {
    "t_s": ("t_s", SECONDS),
    "end": ("end", SECONDS),
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
_CONDITIONS = ("is", "not", "above", "below")
_EXAMPLE = "See the example of a reading map in the README, under Logs."


@dataclass(frozen=True)
class MapColumn:
    """Where a column comes from: a header or path with its unit, or one value for all rows.

    unit       as the map states it
    missing    what means "not measured"
    failed     what says in the place of a latency or an end that the request failed
    day_first  whether written days with the year last begin with the day; None: as the file shows
    """

    source: str | None
    constant: float | None
    unit: Unit | None
    missing: frozenset[str]
    words: Mapping[str, str]
    failed: frozenset[str] = frozenset()
    day_first: bool | None = None


@dataclass(frozen=True)
class Where:
    """Keep only rows in which *column* fulfils a condition."""

    column: str
    condition: str
    value: Any


@dataclass(frozen=True)
class ReadingMap:
    """How one kind of foreign log is read.

    decimal  the decimal mark of its texts; None: as the file shows
    """

    name: str
    kind: Kind
    format: str
    rows: str | None
    skip_first_s: float
    columns: Mapping[str, MapColumn]
    where: Sequence[Where] = field(default_factory=tuple)
    decimal: str | None = None


def read_map(file: str, content: bytes) -> ReadingMap | list[Problem]:
    """The map in a TOML file, or everything that is wrong with it."""
    try:
        text = content.decode("utf-8-sig")
        values = parse_toml(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as failure:
        return MapProblems.of_toml(file, failure)
    lines = index_lines(text)
    for place, typed in texts_in(values):
        if (odd := odd_character(typed)) is not None:
            shown = f"The text {typed!r} holds the character {odd}."
            return [problem_in(file, lines.of(*place), shown, "Type the text again.", "odd-characters")]
    wrong = MapProblems(file, lines)
    kind, form, rows = values.get("kind"), values.get("format"), values.get("rows")
    if kind not in ("throughput", "requests"):
        wrong.note(f"kind is {given(kind)}, but a map is for throughput or requests.", "kind")
    if form not in ("csv", "json", "jsonl"):
        wrong.note(f"format is {given(form)}, but a map reads csv, json or jsonl.", "format")
    if form == "json" and not isinstance(rows, str):
        wrong.note("A map for JSON says with rows where its rows are.", "rows")
    skip = values.get("skip_first_s", 0)
    if isinstance(skip, bool) or not isinstance(skip, int | float) or not 0 <= skip < 1e9:
        wrong.note(f"skip_first_s is {skip!r}, but it is a number of seconds.", "skip_first_s")
    if (decimal := values.get("decimal")) not in (None, ".", ","):
        wrong.note(f'decimal is {decimal!r}, but it is "." or ",".', "decimal")
    unknown = sorted(set(values) - {"kind", "format", "rows", "skip_first_s", "decimal", "column", "where"})
    if unknown:
        wrong.note(f"{unknown[0]!r} is not known in a map.", unknown[0])
    columns = _columns(values.get("column"), kind, wrong)
    where = _where(values.get("where", []), wrong)
    if form in ("json", "jsonl"):
        paths: list[tuple[Any, tuple[str | int, ...]]] = [(rows, ("rows",))]
        paths += [(column.source, ("column", name, "from")) for name, column in columns.items()]
        paths += [(item.column, ("where", place, "column")) for place, item in where.items()]
        for path, place in paths:
            if isinstance(path, str) and (reason := _wrong_path(path)):
                wrong.note(
                    f"{path!r} is no JSONPath: {reason}.",
                    *place,
                    remedy="Write it after RFC 9535, such as $.samples[*].",
                )
    if wrong.problems:
        return wrong.problems
    return ReadingMap(file, kind, form, rows, float(skip), columns, tuple(where.values()), decimal)  # type: ignore[arg-type]


class MapProblems:
    """What is wrong with a map, each with its line."""

    def __init__(self, file: str, lines: TomlLines, remedy: str = _EXAMPLE) -> None:
        self.problems: list[Problem] = []
        self._file, self._lines, self._remedy = file, lines, remedy

    @classmethod
    def of_toml(cls, file: str, failure: ValueError) -> list[Problem]:
        """A map that is no TOML."""
        return [problem_in(file, 1, f"The map is not valid TOML: {failure}.", "Correct it.", "toml")]

    def note(self, sentence: str, *place: str | int, remedy: str | None = None) -> None:
        """A sentence about what stands at *place*, with what to do about it."""
        self.problems.append(problem_in(self._file, self._lines.of(*place), sentence, remedy or self._remedy, "map"))


def find(path: str, document: Any) -> list[Any]:
    """Values of every node that a JSONPath selects in *document*. Source: RFC 9535."""
    import jsonpath_rfc9535

    return [node.value for node in jsonpath_rfc9535.find(path, document)]


def given(value: Any) -> str:
    """How a sentence speaks of what a key holds."""
    return "missing" if value is None else repr(value)


def _columns(given: Any, kind: Any, wrong: MapProblems) -> dict[str, MapColumn]:
    columns: dict[str, MapColumn] = {}
    if not isinstance(given, dict) or not given:
        wrong.note("The map names no column.", "column")
        return columns
    for name, entry in given.items():
        column = _column(name, entry, kind)
        if isinstance(column, str):
            wrong.note(column, "column", name, *_key_of(column, name, entry))
        else:
            columns[name] = column
    if "end" in given:
        _check_end(columns, given, wrong)
    return columns


def _key_of(sentence: str, name: str, entry: Any) -> tuple[str, ...]:
    """The key of a column that a sentence is about, as far as one is."""
    if not isinstance(entry, dict):
        return ()
    return next(((key,) for key in entry if sentence.startswith((f"The {key} ", f"{key} in ", f"{key!r} "))), ())


def _check_end(columns: Mapping[str, MapColumn], given: Mapping[str, Any], wrong: MapProblems) -> None:
    """An end is written like the begin of the same row, and stands in the place of a length."""
    if twice := next((name for name in ("seconds", "ms") if name in given), None):
        wrong.note(f"[column.end] and [column.{twice}] both say how long it took.", "column", "end", remedy="Keep one.")
    if "end" not in columns or ({"t_s", "start"} & set(given)) - set(columns):
        return
    start, end = columns.get("start"), columns["end"]
    if start is None and "t_s" not in columns:
        wrong.note("[column.end] needs a begin.", "column", "end", remedy="Write [column.t_s] or [column.start].")
    elif start is not None and (start.unit is None) != (end.unit is None):
        wrong.note(
            "[column.start] and [column.end] are both written times, or both count in a unit.",
            "column",
            "end",
            remedy="Give both a unit, or neither.",
        )


def _column(name: str, entry: Any, kind: Any) -> MapColumn | str:
    if name not in TARGETS:
        return f"A map has no column {name!r}; it has {', '.join(TARGETS)}."
    if not isinstance(entry, dict):
        return f"The column {name} is written as [column.{name}]."
    if unknown := sorted(set(entry) - {"from", "unit", "constant", "missing", "failed", "words", "day_first"}):
        return f"{unknown[0]!r} is not known in [column.{name}]."
    source, constant = entry.get("from"), entry.get("constant")
    if (source is None) == (constant is None):
        return f"[column.{name}] needs either from or constant."
    if source is not None and not isinstance(source, str):
        return f"from in [column.{name}] is text."
    if constant is not None and (isinstance(constant, bool) or not isinstance(constant, int | float)):
        return f"constant in [column.{name}] is a number."
    if constant is not None and name in ("t_s", "start", "end"):
        return f"constant in [column.{name}] would give every row the same time."
    target = SECONDS if name == "start" else TARGETS[name][1]  # a start in seconds is Unix time
    unit = None
    if "unit" in entry:
        unit = parse_unit(str(entry["unit"]))
        if unit is None or target is None or unit.quantity != target.quantity:
            wanted = target.name if target else "none"
            return f"The unit {entry['unit']!r} of {name} is unknown or of another quantity; it becomes {wanted}."
    elif name == "rate":
        return "[column.rate] needs a unit."
    missing, failed = entry.get("missing", []), entry.get("failed", [])
    if not isinstance(missing, list):
        return f"missing in [column.{name}] is a list."
    if not isinstance(failed, list):
        return f"failed in [column.{name}] is a list."
    if failed and (name not in ("ms", "end") or kind == "throughput"):
        return f"failed in [column.{name}] says nothing; it stands in the ms or end of requests."
    words = entry.get("words", {})
    if not isinstance(words, dict):
        return f"words in [column.{name}] is a table, typed = meant."
    day_first = entry.get("day_first")
    if day_first is not None and (not isinstance(day_first, bool) or name not in ("start", "end")):
        return f"day_first in [column.{name}] is true or false, for a start or an end."
    return MapColumn(
        source,
        None if constant is None else float(constant),
        unit,
        frozenset(str(item) for item in missing),
        {str(typed): str(meant) for typed, meant in words.items()},
        frozenset(str(item) for item in failed),
        day_first,
    )


def _where(entries: Any, wrong: MapProblems) -> dict[int, Where]:
    """Conditions by their place in the map."""
    conditions_by_place: dict[int, Where] = {}
    if not isinstance(entries, list):
        wrong.note("Conditions are written as [[where]].", "where")
        return conditions_by_place
    for place, entry in enumerate(entries):
        conditions = [name for name in _CONDITIONS if isinstance(entry, dict) and name in entry]
        if len(conditions) != 1 or not isinstance(entry.get("column"), str) or len(entry) != 2:
            wrong.note("[[where]] has a column and one of is, not, above, below.", "where", place)
            continue
        value = entry[conditions[0]]
        if conditions[0] in ("above", "below") and not isinstance(value, int | float):
            wrong.note(f"{conditions[0]} in [[where]] is a number.", "where", place, conditions[0])
            continue
        conditions_by_place[place] = Where(entry["column"], conditions[0], value)
    return conditions_by_place


def _wrong_path(path: str) -> str | None:
    import jsonpath_rfc9535

    try:
        jsonpath_rfc9535.compile(path)
    except Exception as failure:  # the library has a family of errors for one question
        return str(failure).splitlines()[0].rstrip(".")
    return None
