"""A reading map proposed from a foreign log itself. A proposal is for a person to correct: it guesses, the map does not.

Columns are judged by their names and by what their values do: a time never runs backwards, an amount is never
negative, a value far below all others that comes again and again means "not measured".
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

from catalog.errors import InputRefused
from catalog.reading.delimited import separator_of
from catalog.reading.logs import Log
from catalog.reading.mapped_logs import read_mapped_log
from catalog.reading.maps import read_map

LOOKED_AT = 50_000  # rows a proposal is made from
SHOWN = 5
LARGEST = 200_000_000  # bytes read for a proposal

_TIME = re.compile(
    r"(^|[^a-z])(t|ts|t_?s|time|systime|timestamp|epoch|begin|start|second|seconds|offset)([^a-z]|$)|time"
)
_RATE = re.compile(r"mbit|kbit|gbit|bit_?s|bps|throughput|goodput")
_BYTES = re.compile(r"byte|octet")
_LATENCY = re.compile(r"latency|rtt|delay|elapsed|duration|(^|[^a-z])ms([^a-z]|$)")
_OUTCOME = re.compile(r"outcome|result|success|status|error")
_PER_SECOND = {"s": 1, "ms": 1e3, "us": 1e6}
_CUMULATIVE = re.compile(r"total|cumul|sum")


@dataclass(frozen=True)
class Candidate:
    """A column of the log: where it is, and its first values as texts."""

    source: str
    texts: tuple[str, ...]

    @property
    def numbers(self) -> list[float | None]:
        return [_number(t) for t in self.texts]

    @property
    def numeric(self) -> bool:
        found = [n for n in self.numbers if n is not None]
        return len(found) > 0.9 * sum(1 for t in self.texts if t)

    @property
    def name(self) -> str:
        last = self.source.rsplit(".", 1)[-1]
        return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", last).lower()


@dataclass(frozen=True)
class Proposal:
    """A map as TOML text, the first rows read through it, and what a person should look at."""

    text: str
    first: tuple[str, ...]
    notes: tuple[str, ...]


def propose_map(path: Path) -> Proposal:
    """Propose a map for a log. Raises InputRefused for a file no log could be in."""
    content = _content(path)
    form, rows_path, columns = _columns(path, content)
    notes: list[str] = []
    split = _split(columns)
    kept = _only(columns, split) if split else columns
    if split:
        apart = ", ".join(_texts_of(columns, split[0]))
        notes.append(f"{split[0]} tells several logs apart: {apart}. The map keeps one; write one for each.")
    text = _map_text(form, rows_path, kept, split, notes)
    plan = read_map("the proposed map", text.encode())
    if isinstance(plan, list):
        raise InputRefused("No map can be proposed: " + " ".join(str(p) for p in plan))
    log = read_mapped_log(path.name, content, plan, instant=_instant)
    if isinstance(log, list):
        notes.append("Read through this map the log is refused, so it needs a hand: " + str(log[0]))
        return Proposal(text, (), tuple(notes))
    return Proposal(text, _first_rows(log), tuple(notes))


def _content(path: Path) -> bytes:
    if not path.is_file():
        raise InputRefused(f"There is no file {path}.")
    if path.stat().st_size > LARGEST:
        raise InputRefused(f"{path} is larger than {LARGEST // 1_000_000} MB. Propose from a piece of it.")
    content = path.read_bytes()
    if b"\0" in content[:4096]:
        raise InputRefused(f"{path} is not a text file, so it cannot be a CSV, JSON or JSON Lines log.")
    if not content.strip():
        raise InputRefused(f"{path} is empty.")
    return content


def _columns(path: Path, content: bytes) -> tuple[str, str | None, list[Candidate]]:
    """Format, JSONPath of the rows (JSON only) and the columns of a log."""
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputRefused(f"{path} is not UTF-8 text.") from None
    start = text.lstrip()[:1]
    if start in "{[":
        try:
            document = json.loads(text)
        except ValueError:
            return "jsonl", None, _from_objects(_json_lines(path, text))
        except RecursionError:
            raise InputRefused(f"{path} is nested too deeply to be a log.") from None
        where, objects = _longest_list("$", document)
        if not objects:
            raise InputRefused(f"{path} holds no list of objects, so it has no rows.")
        return "json", f"{where}[*]", _from_objects(objects)
    separator = separator_of(text.splitlines()[0])
    lines = list(csv.reader(io.StringIO(text), delimiter=separator))[: LOOKED_AT + 1]
    header, rows = lines[0], [r for r in lines[1:] if any(r)]
    if len(header) < 2 or not rows:
        raise InputRefused(f"{path} has no header with two columns or more above its rows.")
    return "csv", None, [
        Candidate(name, tuple(r[i].strip() if i < len(r) else "" for r in rows)) for i, name in enumerate(header) if name
    ]  # fmt: skip


def _json_lines(path: Path, text: str) -> list[Mapping[str, Any]]:
    found: list[Mapping[str, Any]] = []
    for number, line in enumerate(text.splitlines()[:LOOKED_AT], start=1):
        if not line.strip():
            continue
        try:
            value = json.loads(line)
        except (ValueError, RecursionError) as failure:
            raise InputRefused(f"{path} line {number} is neither JSON nor a line of JSON Lines: {failure}.") from None
        if isinstance(value, dict):
            found.append(value)
    if not found:
        raise InputRefused(f"{path} holds no objects, so it has no rows.")
    return found


def _longest_list(where: str, value: Any, depth: int = 0) -> tuple[str, Sequence[Mapping[str, Any]]]:
    """The longest list of objects in a document, and its JSONPath; at most eight levels down."""
    here: Sequence[Mapping[str, Any]] = []
    if isinstance(value, list):
        here = [v for v in value if isinstance(v, dict)][:LOOKED_AT]
    best = (where, here)
    children = value.items() if isinstance(value, dict) and depth < 8 else ()
    for key, child in children:
        found = _longest_list(f"{where}{_step(key)}", child, depth + 1)
        if len(found[1]) > len(best[1]):
            best = found
    return best


def _from_objects(objects: Sequence[Mapping[str, Any]]) -> list[Candidate]:
    paths: dict[str, list[str]] = {}
    for number, item in enumerate(objects):
        for path, value in _leaves("$", item):
            paths.setdefault(path, [""] * number).append(_text(value))
        for texts in paths.values():
            texts.extend([""] * (number + 1 - len(texts)))
    return [Candidate(path, tuple(texts)) for path, texts in paths.items()]


def _leaves(where: str, value: Mapping[str, Any], depth: int = 0) -> list[tuple[str, Any]]:
    found: list[tuple[str, Any]] = []
    for key, child in value.items():
        path = f"{where}{_step(key)}"
        if isinstance(child, dict) and depth < 4:
            found += _leaves(path, child, depth + 1)
        elif not isinstance(child, dict | list):
            found.append((path, child))
    return found


def _step(key: str) -> str:
    return f".{key}" if re.fullmatch(r"[A-Za-z_]\w*", key) else f"[{json.dumps(key)}]"


def _text(value: Any) -> str:
    return "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _map_text(
    form: str, rows: str | None, columns: Sequence[Candidate], split: tuple[str, str] | None, notes: list[str]
) -> str:
    time = _time(columns)
    if time is None:
        raise InputRefused("No column runs forward like a time, so this cannot be read as a log.")
    others = [c for c in columns if c is not time]
    latency = _named(others, _LATENCY)
    amount = _named([c for c in others if not _CUMULATIVE.search(c.name)], _BYTES)
    rate = _named(others, _RATE)
    kind = "requests" if latency is not None and amount is None and rate is None else "throughput"
    if kind == "throughput" and rate is None and amount is None:
        raise InputRefused("No column looks like bytes, a throughput or a latency. Write the map by hand.")
    lines = [f'kind = "{kind}"', f'format = "{form}"']
    lines += [f"rows = {json.dumps(rows)}"] if rows else []
    unit = _time_unit(time) if time.numeric else ""
    began = _unix_start(time, unit) if unit else None
    instants = not unit or began is not None
    lines += ["", "[column.start]" if instants else "[column.t_s]", f"from = {json.dumps(time.source)}"]
    if began is not None:
        notes.append(f"{time.source} is taken for Unix time; then the log begins at {began:%Y-%m-%d %H:%M:%S}Z.")
    if unit:
        lines += [f'unit = "{unit}"']
        if kind == "throughput" and amount is not None:
            step = _interval(time) / _PER_SECOND[unit]
            lines += ["", "[column.seconds]", f"constant = {step:g}"]
            notes.append(f"Rows are taken to be {step:g} s long, the usual step of {time.source}.")
    if kind == "requests" and latency is not None:
        lines += _value("ms", latency, _unit(latency, {"us": "us", "ms": "ms", "_s": "s"}, "ms"), notes)
        outcome = _named(others, _OUTCOME)
        if outcome is not None:
            notes.append(f"{outcome.source} may say how requests ended; add [column.outcome] with its words.")
    elif amount is not None:
        lines += _value("bytes", amount, "byte", notes)
    elif rate is not None:
        units = {"gbit": "Gbit/s", "mbit": "Mbit/s", "mbps": "Mbit/s", "kbit": "kbit/s", "kbps": "kbit/s"}
        lines += _value("rate", rate, _unit(rate, units, "bit/s"), notes)
    if split:
        lines += ["", "[[where]]", f"column = {json.dumps(split[0])}", f"is = {json.dumps(split[1])}"]
    return "\n".join(lines) + "\n"


def _value(name: str, column: Candidate, unit: str, notes: list[str]) -> list[str]:
    lines = ["", f"[column.{name}]", f"from = {json.dumps(column.source)}", f'unit = "{unit}"']
    sentinel = _sentinel(column)
    if sentinel is not None:
        lines.append(f"missing = [{json.dumps(sentinel)}]")
        notes.append(f"{sentinel} in {column.source} is taken for “not measured”.")
    return lines


def _time(columns: Sequence[Candidate]) -> Candidate | None:
    """The column that never runs backwards and is named like a time; else the first that strictly grows."""
    named = [c for c in columns if _TIME.search(c.name)]
    for column in [*named, *columns]:
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


def _unit(column: Candidate, units: Mapping[str, str], otherwise: str) -> str:
    return next((unit for part, unit in units.items() if part in column.name), otherwise)


def _time_unit(column: Candidate) -> str:
    """Seconds, milliseconds or microseconds: by the name, else by the size of an epoch or of a step.

    A log with a row every 100 s or more would be a strange one; a step of that size is in a smaller unit.
    """
    if re.search(r"us$|micro", column.name):
        return "us"
    if re.search(r"ms$|milli", column.name):
        return "ms"
    first = next(n for n in column.numbers if n is not None)
    step = _interval(column)
    return "us" if first > 1e14 or step >= 1e5 else "ms" if first > 1e11 or step >= 100 else "s"


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


def _first_rows(log: Log) -> tuple[str, ...]:
    lines = [f"{len(log)} rows read"]
    for i in range(min(SHOWN, len(log))):
        at = f"t {log.t_us[i] / 1e6:.3f} s"
        if log.rate_bit_s is not None:
            lines.append(f"{at}  {log.rate_bit_s[i] / 1e6:.3f} Mbit/s")
        elif log.latency_us is not None:
            lines.append(f"{at}  {log.latency_us[i] / 1e3:.1f} ms" if log.latency_us[i] >= 0 else f"{at}  no answer")
    return tuple(lines)
