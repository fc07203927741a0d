"""Logs written as CSV in one of the two forms that need no map: their headings say it all."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from catalog.digesting.logs import Kind, Log
from catalog.errors import Problem
from catalog.reading.csv_columns import open_csv
from catalog.reading.mapped_logs import read_columns
from catalog.reading.maps import MapColumn, ReadingMap
from catalog.reading.rawtable import problem_in
from catalog.reading.written_times import InstantReader
from catalog.units import Unit, parse_unit

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
    "mbit_s": "rate",
}


def read_plain_log(file: str, content: bytes, *, instant: InstantReader) -> Log | list[Problem]:
    """A throughput or request log by its header."""
    source = open_csv(file, content)
    if isinstance(source, Problem):
        return [source]
    columns = columns_of(source.headers)
    names = [name for name, _ in columns.values()]
    if twice := next((name for name in names if names.count(name) > 1), None):
        both = [f'"{source.headers[place]}"' for place, (name, _) in columns.items() if name == twice]
        sentence = f"{' and '.join(both)} both mean {'mbit_s' if twice == 'rate' else twice}."
        remedy = "Keep one of them, or choose one with a reading map."
        return [problem_in(file, source.above, sentence, remedy, "column-twice")]
    if not {"ms", "rate", "bytes"} & set(names):
        header = source.separator.join(source.headers)
        return [
            problem_in(
                file,
                max(source.above, 1),
                f"The header {header[:120]!r} is none of a throughput or a request log.",
                "Write t_s,mbit_s or t_s,seconds,bytes or t_s,ms,outcome, or read it through a map: `likeloss map` proposes one.",
                "unknown-log",
            )
        ]
    kind: Kind = "requests" if "ms" in names else "throughput"
    plan = ReadingMap(
        file,
        kind,
        "csv",
        None,
        0.0,
        {
            name: MapColumn(source.headers[place], None, unit, frozenset(), {})
            for place, (name, unit) in columns.items()
        },
    )
    return read_columns(file, source, plan, instant=instant, remedy="Correct or remove the line.")


def columns_of(headers: Sequence[str]) -> dict[int, tuple[str, Unit | None]]:
    """Place -> (column of a map, its unit) of the headings that are known."""
    places: dict[int, tuple[str, Unit | None]] = {}
    for place, header in enumerate(headers):
        name = header.casefold().replace(" ", "_").replace("(", "").replace(")", "")
        if name in _NAMES:
            places[place] = (_NAMES[name], None)
        elif (unit := parse_unit(header)) is not None and unit.quantity == "rate":
            places[place] = ("rate", unit)
    return places
