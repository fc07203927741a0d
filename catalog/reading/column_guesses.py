"""Which column of a foreign log is what, judged by its name and by what its values do.

A time never runs backwards, a length is above 0, an end is not before its begin, and a value far below all others
that comes again and again stands for something else.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

from catalog.reading.candidates import Candidate
from catalog.reading.header_units import stated_units
from catalog.reading.written_times import is_clock

NEAR = 0.02  # a length may differ so much from its step
PER_SECOND = {"s": 1.0, "ms": 1e3, "us": 1e6, "ns": 1e9}

_TIME = re.compile(
    r"(^|[^a-z])(t|ts|t_?s|time|systime|timestamp|epoch|begin|start|second|seconds|offset|clock|when)([^a-z]|$)|time"
)
_BEGIN = re.compile(r"(^|_)(begin|began|start|started|from|first|sent|send|asked|request|requested)(_|$)")
_END = re.compile(
    r"(^|_)(end|ended|stop|stopped|to|until|received|recv|rcvd|reply|replied|response|answer|answered|arrived|done)(_|$)"
)
_LENGTH = re.compile(r"(^|_)(seconds|secs|lasted|lasts|length|duration|elapsed|interval|span|period|dt|took)(_|$)")
CUMULATIVE = re.compile(r"total|cumul|sum")
BYTES = re.compile(r"byte|octet|^amount$")
RATE = re.compile(r"mbit|kbit|gbit|bit_?s|bps|throughput|goodput|^rate$")
_BY_PARTS = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4})[T ,]+(\d.*)")


def named(columns: Sequence[Candidate], pattern: re.Pattern[str]) -> Candidate | None:
    """The first column of numbers whose name says so."""
    return next((c for c in columns if pattern.search(c.name) and c.numeric), None)


def time_of(columns: Sequence[Candidate]) -> Candidate | None:
    """The column that never runs backwards and is named like a begin, or a time; else the first that strictly grows."""
    rest = [c for c in columns if not (BYTES.search(c.name) or RATE.search(c.name) or CUMULATIVE.search(c.name))]
    begins = [c for c in rest if _BEGIN.search(c.name)]
    times = [c for c in rest if _TIME.search(c.name) and not _LENGTH.search(c.name) and not _END.search(c.name)]
    likely = list(dict.fromkeys([*begins, *times, *(c for c in columns if _TIME.search(c.name))]))
    for column in dict.fromkeys([*likely, *(c for c in rest if not _END.search(c.name)), *rest]):
        numbers = [n for n in column.numbers if n is not None]
        runs = column.numeric and len(numbers) > 1 and _forward(numbers) and numbers[-1] > numbers[0]
        if runs and (column in likely or all(a < b for a, b in pairwise(numbers))):
            return column
        if not column.numeric and column in likely and written(column):
            return column
    return next((c for c in rest if not c.numeric and not _END.search(c.name) and written(c)), None)


def written(column: Candidate) -> bool:
    """Whether a column holds written times: instants, or times of day."""
    first = [text for text in column.texts if text][:20]
    return bool(first) and (all(map(is_clock, first)) or all(not isinstance(instant(t), str) for t in first))


def timed_by_clock(column: Candidate) -> bool:
    """Whether a column holds times of day without a date."""
    return not column.numeric and is_clock(next((text for text in column.texts if text), ""))


def day_unsettled(column: Candidate) -> bool:
    """Whether days are written with the year last, and no value shows whether they begin with the day."""
    days = [match for text in set(column.texts) if (match := _BY_PARTS.fullmatch(text)) is not None]
    shown = {int(match[1]) > 12 for match in days if max(int(match[1]), int(match[3])) > 12}
    return bool(days) and len(shown) != 1 and any(match[1] != match[3] for match in days)


def end_of(time: Candidate, others: Sequence[Candidate]) -> Candidate | None:
    """The column of ends: never before its begin, and most often not after the begin of the next row."""
    for column in others:
        if not _END.search(column.name) or BYTES.search(column.name) or column.numeric != time.numeric:
            continue
        if not column.numeric:
            if written(column) and timed_by_clock(column) == timed_by_clock(time):
                return column
            continue
        spans = [b - a for a, b in zip(time.numbers, column.numbers, strict=True) if a is not None and b is not None]
        if spans and min(spans) >= 0 and max(spans) > 0 and sorted(spans)[len(spans) // 2] <= 100 * interval(time):
            return column
    return None


def is_end(column: Candidate) -> bool:
    """Whether a column is named like an end."""
    return _END.search(column.name) is not None


def length_of(others: Sequence[Candidate], step_s: float | None) -> tuple[Candidate, str] | None:
    """The column of lengths, all above 0, and its unit: as stated, else the one in which most are a step long."""
    for column in others:
        lengths = [n for n in column.numbers if n is not None]
        if not (column.numeric and _LENGTH.search(column.name)) or min(lengths) <= 0:
            continue
        if len(stated := stated_units(column.header, "time")) == 1:
            return column, unit_name(stated[0].name)
        middle = sorted(lengths)[len(lengths) // 2]
        for unit, per_s in PER_SECOND.items():
            if step_s is not None and abs(middle / per_s - step_s) <= NEAR * step_s:
                return column, unit
    return None


def span_unit(took: Candidate, time: Candidate, end: Candidate, unit: str) -> str | None:
    """The unit in which latencies are what lies between begin and end; None where no unit makes them so."""
    rows = zip(took.numbers, time.numbers, end.numbers, strict=True)
    ratios = sorted((b - a) / n for n, a, b in rows if n and a is not None and b is not None)
    if not ratios:
        return None
    for name, per_s in PER_SECOND.items():
        if abs(ratios[len(ratios) // 2] * per_s / PER_SECOND[unit] - 1) <= NEAR:
            return name
    return None


def split_of(columns: Sequence[Candidate]) -> tuple[str, str] | None:
    """A column of few texts within each of which time runs forward, where it does not over the whole log."""
    if time_of([c for c in columns if _TIME.search(c.name)]) is not None:
        return None
    for column in columns:
        values = Counter(t for t in column.texts if t)
        if not 2 <= len(values) <= 20 or column.numeric:
            continue
        first = min(values)
        if time_of([c for c in only(columns, (column.source, first)) if _TIME.search(c.name)]) is not None:
            return column.source, first
    return None


def texts_of(columns: Sequence[Candidate], source: str) -> list[str]:
    """Every text of a column, once."""
    return sorted({text for text in next(c for c in columns if c.source == source).texts if text})


def only(columns: Sequence[Candidate], split: tuple[str, str]) -> list[Candidate]:
    """The rows that say so in a column."""
    keep = next(c for c in columns if c.source == split[0]).texts
    return [
        Candidate(c.source, tuple(t for t, k in zip(c.texts, keep, strict=True) if k == split[1]), c.decimal, c.units)
        for c in columns
    ]


def time_unit(column: Candidate) -> str:
    """The unit of a time: as its header states, else by the size of an epoch or of a step.

    A log with a row every 100 s or more would be a strange one; a step of that size is in a smaller unit.
    """
    stated = stated_units(column.header, "time")
    if len(stated) == 1:
        return unit_name(stated[0].name)
    first = next(n for n in column.numbers if n is not None)
    step = interval(column)
    for unit, epoch, least in (("ns", 1e17, 1e8), ("us", 1e14, 1e5), ("ms", 1e11, 100)):
        if first > epoch or step >= least:
            return unit
    return "s"


def unit_name(name: str) -> str:
    """A unit as a map writes it, without a letter that few keyboards have."""
    return name.replace("µs", "us")


def unix_start(column: Candidate, unit: str) -> dt.datetime | None:
    """When a log began whose times count from 1970, as those between 2000 and 2100 are taken to do."""
    first = next(n for n in column.numbers if n is not None) / PER_SECOND[unit]
    return dt.datetime.fromtimestamp(first, dt.UTC) if 946_684_800 <= first < 4_102_444_800 else None


def interval(column: Candidate) -> float:
    """The usual step of a time, in its own unit."""
    numbers = [n for n in column.numbers if n is not None]
    steps = sorted(round(b - a, 6) for a, b in pairwise(numbers) if b > a)
    return steps[len(steps) // 2] if steps else 1.0


def sentinel(column: Candidate) -> str | None:
    """A negative text that comes again and again below values that are never negative."""
    below = Counter(t for t, n in zip(column.texts, column.numbers, strict=True) if n is not None and n < 0)
    if len(below) == 1:
        (text, times) = below.most_common(1)[0]
        return text if times > 1 else None
    return None


def only_grows(column: Candidate) -> bool:
    """Whether amounts grow from row to row and never fall, as a counter does."""
    numbers = [n for n in column.numbers if n is not None]
    return len(numbers) >= 8 and _forward(numbers) and 2 * sum(a < b for a, b in pairwise(numbers)) > len(numbers)


def _forward(numbers: Sequence[float]) -> bool:
    return all(a <= b for a, b in pairwise(numbers))


def instant(text: str) -> dt.datetime | str:
    """A written time as a proposal shows it: in UTC where it names no zone, day first where nothing else is possible."""
    if (match := _BY_PARTS.fullmatch(text)) is not None:
        day, month = (match[1], match[3]) if int(match[3]) <= 12 else (match[3], match[1])
        text = f"{match[4]}-{month:0>2}-{day:0>2} {match[5]}"
    try:
        at = dt.datetime.fromisoformat(text)
    except ValueError:
        return f"{text!r} is not a time."
    return at if at.tzinfo else at.replace(tzinfo=dt.UTC)
