"""A reading map proposed from a foreign log itself. A proposal is for a person to correct: it guesses, the map does not.

Columns are judged by their names and by what their values do: a time never runs backwards, an amount is never
negative, a value far below all others that comes again and again means "not measured". A unit is written only where
a header states it or the numbers prove it; elsewhere stands "?", which no map is read with.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from catalog.digesting.logs import Log
from catalog.errors import InputRefused
from catalog.reading.candidates import Candidate, read_candidates, read_content
from catalog.reading.header_units import stated_units
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import read_map
from catalog.whole_files import whole_file

SHOWN = 5
NEAR = 0.02  # a length may differ so much from its step
UNKNOWN = "?"

_TIME = re.compile(
    r"(^|[^a-z])(t|ts|t_?s|time|systime|timestamp|epoch|begin|start|second|seconds|offset)([^a-z]|$)|time"
)
_BEGIN = re.compile(r"(^|_)(begin|began|start|started|from|first)(_|$)")
_END = re.compile(r"(^|_)(end|ended|stop|stopped|to|until)(_|$)")
_LENGTH = re.compile(r"(^|_)(seconds|secs|lasted|lasts|length|duration|elapsed|interval|span|period|dt|took)(_|$)")
_RATE = re.compile(r"mbit|kbit|gbit|bit_?s|bps|throughput|goodput|^rate$")
_BYTES = re.compile(r"byte|octet|^amount$")
_LATENCY = re.compile(r"latency|rtt|delay|round_?trip")
_TOOK = re.compile(r"elapsed|duration|took|(^|[^a-z])ms([^a-z]|$)")
_OUTCOME = re.compile(r"outcome|result|success|status|error")
_CUMULATIVE = re.compile(r"total|cumul|sum")
_PER_SECOND = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}
_ASKED = {"rate": "Mbit/s, kbit/s, bit/s or MB/s", "bytes": "B, kB or MB", "ms": "s, ms, us or ns"}
_QUANTITY = {"rate": "rate", "bytes": "data", "ms": "time"}


@dataclass(frozen=True)
class Proposal:
    """A map as TOML text, the first rows read through it, and what a person should look at."""

    text: str
    first: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass
class _Draft:
    """A map as far as it is written, and what its author was not sure of.

    asked  whether something is left that only a person can say
    """

    lines: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    asked: bool = False

    def add(self, name: str, column: Candidate, unit: str | None) -> None:
        """A column with its unit; None for one that has none."""
        self.lines += ["", f"[column.{name}]", f"from = {json.dumps(column.source)}"]
        self.lines += [f'unit = "{unit}"'] if unit else []

    def add_value(self, name: str, column: Candidate) -> None:
        """A measured column, in the unit that its header states."""
        units = stated_units(column.header, _QUANTITY[name])
        if len(units) == 1:
            self.add(name, column, units[0].name.replace("µs", "us"))
        else:
            self.add(name, column, UNKNOWN)
            self.asked = True
            choice = " or ".join(unit.name for unit in units) or _ASKED[name]
            self.notes.append(f"{column.source} does not say its unit. Write it in [column.{name}]: {choice}.")
        if (sentinel := _sentinel(column)) is not None:
            self.lines.append(f"missing = [{json.dumps(sentinel)}]")
            self.notes.append(f"{sentinel} in {column.source} is taken for “not measured”.")


def propose_map(path: Path) -> Proposal:
    """Propose a map for a log. Raises InputRefused for a file no log could be in."""
    content = read_content(path)
    form, rows_path, columns = read_candidates(path, content)
    split = _split(columns)
    draft = _drafted(form, rows_path, _only(columns, split) if split else columns)
    if split:
        apart = ", ".join(_texts_of(columns, split[0]))
        draft.notes.insert(0, f"{split[0]} tells several logs apart: {apart}. The map keeps one; write one for each.")
        draft.lines += ["", "[[where]]", f"column = {json.dumps(split[0])}", f"is = {json.dumps(split[1])}"]
    text, notes = "\n".join(draft.lines) + "\n", draft.notes
    if draft.asked:
        return Proposal(text, (), tuple(notes))
    plan = read_map("the proposed map", text.encode())
    if isinstance(plan, list):
        raise InputRefused("No map can be proposed: " + " ".join(str(p) for p in plan))
    log = read_mapped_log(path.name, content, plan, instant=_instant)
    if isinstance(log, list):
        notes.append("Read through this map the log is refused, so it needs a hand: " + str(log[0]))
        return Proposal(text, (), tuple(notes))
    return Proposal(text, _first_rows(log), tuple(notes))


def _drafted(form: str, rows: str | None, columns: Sequence[Candidate]) -> _Draft:
    time = _time(columns)
    if time is None:
        raise InputRefused("No column runs forward like a time, so this cannot be read as a log.")
    others = [c for c in columns if c is not time]
    unit = _time_unit(time) if time.numeric else ""
    end = _end(time, others) if unit else None
    latency = _named(others, _LATENCY)
    amount = _named([c for c in others if not _CUMULATIVE.search(c.name)], _BYTES)
    rate = _named(others, _RATE)
    carried = latency is None and (amount is not None or rate is not None)
    took = latency or (None if carried else _named([c for c in others if c is not end], _TOOK))
    if not carried and took is None and end is None:
        raise InputRefused("No column looks like bytes, a throughput or a latency. Write the map by hand.")
    draft = _Draft([f'kind = "{"throughput" if carried else "requests"}"', f'format = "{form}"'])
    draft.lines += [f"rows = {json.dumps(rows)}"] if rows else []
    _add_time(draft, time, unit)
    if carried:
        _add_length(draft, time, unit, end, [c for c in others if c not in (amount, rate)])
        if amount is not None:
            draft.add_value("bytes", amount)
        elif rate is not None:
            draft.add_value("rate", rate)
        return draft
    if took is not None:
        draft.add_value("ms", took)
    elif end is not None:
        draft.add("end", end, unit)
    if amount is not None:
        draft.add_value("bytes", amount)
    if (outcome := _named(others, _OUTCOME)) is not None:
        draft.notes.append(f"{outcome.source} may say how requests ended; add [column.outcome] with its words.")
    return draft


def _add_time(draft: _Draft, time: Candidate, unit: str) -> None:
    began = _unix_start(time, unit) if unit else None
    draft.add("start" if not unit or began is not None else "t_s", time, unit)
    if began is not None:
        draft.notes.append(f"{time.source} is taken for Unix time; then the log begins at {began:%Y-%m-%d %H:%M:%S}Z.")
    if _END.search(time.name):
        draft.notes.append(f"{time.source} is taken for the begin of each row. Is it the end?")


def _add_length(draft: _Draft, time: Candidate, unit: str, end: Candidate | None, others: Sequence[Candidate]) -> None:
    """What says how long a row lasts: a length, else an end, else the next row."""
    step_s = _interval(time) / _PER_SECOND[unit] if unit else None
    for column in others:
        if column is end or not (column.numeric and _LENGTH.search(column.name)):
            continue
        if (length_unit := _length_unit(column, step_s)) is not None:
            draft.add("seconds", column, length_unit)
            return
    if end is not None:
        draft.add("end", end, unit)
    else:
        draft.notes.append("Nothing says how long a row lasts: each is taken to last until the next one begins.")


def _length_unit(column: Candidate, step_s: float | None) -> str | None:
    """The unit of lengths that are all above 0: as stated, else the one in which most of them are a step long."""
    lengths = [n for n in column.numbers if n is not None]
    if min(lengths) <= 0:
        return None
    if len(stated := stated_units(column.header, "time")) == 1:
        return stated[0].name.replace("µs", "us")
    middle = sorted(lengths)[len(lengths) // 2]
    if step_s is None:
        return None
    return next((unit for unit, per_s in _PER_SECOND.items() if abs(middle / per_s - step_s) <= NEAR * step_s), None)


def _end(time: Candidate, others: Sequence[Candidate]) -> Candidate | None:
    """The column of ends: never before its begin, and most often not after the begin of the next row."""
    for column in others:
        if not (column.numeric and _END.search(column.name)):
            continue
        spans = [b - a for a, b in zip(time.numbers, column.numbers, strict=True) if a is not None and b is not None]
        if spans and min(spans) >= 0 and max(spans) > 0 and sorted(spans)[len(spans) // 2] <= 100 * _interval(time):
            return column
    return None


def _time(columns: Sequence[Candidate]) -> Candidate | None:
    """The column that never runs backwards and is named like a begin, or a time; else the first that strictly grows."""
    begins = [c for c in columns if _BEGIN.search(c.name)]
    times = [c for c in columns if _TIME.search(c.name) and not _LENGTH.search(c.name) and not _END.search(c.name)]
    named = list(dict.fromkeys([*begins, *times, *(c for c in columns if _TIME.search(c.name))]))
    rest = [c for c in columns if not _BYTES.search(c.name) and not _CUMULATIVE.search(c.name)]
    for column in dict.fromkeys([*named, *(c for c in rest if not _END.search(c.name)), *rest]):
        numbers = [n for n in column.numbers if n is not None]
        runs = column.numeric and len(numbers) > 1 and _forward(numbers) and numbers[-1] > numbers[0]
        if runs and (column in named or all(a < b for a, b in pairwise(numbers))):
            return column
        if not column.numeric and column in named and all(_is_instant(t) for t in column.texts[:20]):
            return column
    return None


def _split(columns: Sequence[Candidate]) -> tuple[str, str] | None:
    """A column of few texts within each of which time runs forward, where it does not over the whole log."""
    if _time([c for c in columns if _TIME.search(c.name)]) is not None:
        return None
    for column in columns:
        values = Counter(t for t in column.texts if t)
        if not 2 <= len(values) <= 20 or column.numeric:
            continue
        first = min(values)
        if _time([c for c in _only(columns, (column.source, first)) if _TIME.search(c.name)]) is not None:
            return column.source, first
    return None


def _texts_of(columns: Sequence[Candidate], source: str) -> list[str]:
    return sorted({text for text in next(c for c in columns if c.source == source).texts if text})


def _only(columns: Sequence[Candidate], split: tuple[str, str]) -> list[Candidate]:
    keep = next(c for c in columns if c.source == split[0]).texts
    return [Candidate(c.source, tuple(t for t, k in zip(c.texts, keep, strict=True) if k == split[1])) for c in columns]


def _named(columns: Sequence[Candidate], pattern: re.Pattern[str]) -> Candidate | None:
    return next((c for c in columns if pattern.search(c.name) and c.numeric), None)


def _time_unit(column: Candidate) -> str:
    """The unit of a time: as its header states, else by the size of an epoch or of a step.

    A log with a row every 100 s or more would be a strange one; a step of that size is in a smaller unit.
    """
    stated = stated_units(column.header, "time")
    if len(stated) == 1:
        return stated[0].name.replace("µs", "us")
    first = next(n for n in column.numbers if n is not None)
    step = _interval(column)
    for unit, epoch, least in (("ns", 1e17, 1e8), ("us", 1e14, 1e5), ("ms", 1e11, 100)):
        if first > epoch or step >= least:
            return unit
    return "s"


def _unix_start(column: Candidate, unit: str) -> dt.datetime | None:
    """When a log began whose times count from 1970, as those between 2000 and 2100 are taken to do."""
    first = next(n for n in column.numbers if n is not None) / _PER_SECOND[unit]
    return dt.datetime.fromtimestamp(first, dt.UTC) if 946_684_800 <= first < 4_102_444_800 else None


def _interval(column: Candidate) -> float:
    numbers = [n for n in column.numbers if n is not None]
    steps = sorted(round(b - a, 6) for a, b in pairwise(numbers) if b > a)
    return steps[len(steps) // 2] if steps else 1.0


def _sentinel(column: Candidate) -> str | None:
    """A negative text that comes again and again below values that are never negative."""
    below = Counter(t for t, n in zip(column.texts, column.numbers, strict=True) if n is not None and n < 0)
    if len(below) == 1:
        (text, times) = below.most_common(1)[0]
        return text if times > 1 else None
    return None


def _forward(numbers: Sequence[float]) -> bool:
    return all(a <= b for a, b in pairwise(numbers))


def _is_instant(text: str) -> bool:
    return not isinstance(_instant(text), str)


def _instant(text: str) -> dt.datetime | str:
    try:
        at = dt.datetime.fromisoformat(text)
    except ValueError:
        return f"{text!r} is not a time."
    return at if at.tzinfo else at.replace(tzinfo=dt.UTC)


def write_map(text: str, name: str, *, beside: Path) -> Path:
    """Write a map as maps/NAME.toml beside the log it is for, and never over another. Returns where it is.

    name    a plain one, without a folder
    Raises  InputRefused: there is one of this name; WriteRefused: it cannot be written.
    """
    target = beside.parent / "maps" / f"{name}.toml"
    if target.exists():
        raise InputRefused(f"{target} exists already. Name another.")
    with whole_file(target, new=True) as file:
        file.write(text.encode())
    return target


def _first_rows(log: Log) -> tuple[str, ...]:
    lines = [f"{len(log)} rows read"]
    for i in range(min(SHOWN, len(log))):
        at = f"t {log.t_us[i] / 1e6:.3f} s"
        if log.rate_bit_s is not None:
            lasts = f" for {log.span_us[i] / 1e6:.3f} s" if log.stated_lengths and log.span_us is not None else ""
            lines.append(f"{at}  {log.rate_bit_s[i] / 1e6:.3f} Mbit/s{lasts}")
        elif log.latency_us is not None:
            lines.append(f"{at}  {log.latency_us[i] / 1e3:.1f} ms" if log.latency_us[i] >= 0 else f"{at}  no answer")
    return tuple(lines)
