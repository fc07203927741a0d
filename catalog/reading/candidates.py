"""The columns of a foreign log, as far as the file itself shows them: what is where, with its first values."""

from __future__ import annotations

import codecs
import itertools
import json
import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from catalog.errors import InputRefused, Problem
from catalog.reading.csv_columns import open_csv
from catalog.reading.decimal_marks import plain, readings, settle_marks, unit_text
from catalog.reading.delimited import utf_8
from catalog.units import possible_units

LOOKED_AT = 50_000  # rows a proposal is made from
MOST_WORDS = 5  # among numbers, more different ones are no marks for what was not measured
LARGEST = 200_000_000  # bytes read for a proposal


@dataclass(frozen=True)
class Candidate:
    """A column of the log.

    source   where it is, a header or a JSONPath
    texts    its first values
    decimal  the decimal mark of its numbers; None: no text shows it
    units    what a row of units under the heading says
    """

    source: str
    texts: tuple[str, ...]
    decimal: str | None = "."
    units: str = ""

    @cached_property
    def numbers(self) -> list[float | None]:
        """The values; None for what is not a number."""
        return [_number(t, self.decimal) for t in self.texts]

    @cached_property
    def words(self) -> dict[str, int]:
        """What is not a number, and how often it stands there; blanks are left out."""
        return Counter(t for t, n in zip(self.texts, self.numbers, strict=True) if n is None and t)

    @cached_property
    def numeric(self) -> bool:
        """Whether nine of ten values are numbers, or half of them among a few words that come again."""
        counted = sum(n is not None for n in self.numbers)
        filled = sum(1 for t in self.texts if t)
        return counted > 0.9 * filled or (2 * counted >= filled > 0 and len(self.words) <= MOST_WORDS)

    @property
    def ambiguous(self) -> bool:
        """Whether a number has two readings that nothing settles."""
        return self.decimal is None and any(len(set(readings(t).values())) > 1 for t in self.texts)

    @property
    def header(self) -> str:
        """The last part of the source, as it is written, and its unit from a row of units."""
        return f"{self.source.rsplit('.', 1)[-1]} {self.units}".strip()

    @property
    def name(self) -> str:
        """The last part of the source in small letters, its words apart."""
        return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", self.source.rsplit(".", 1)[-1]).lower()


def read_content(path: Path) -> bytes:
    """The bytes of a log. Raises InputRefused for what no log could be in."""
    if not path.is_file():
        raise InputRefused(f"There is no file {path}.")
    if path.stat().st_size > LARGEST:
        raise InputRefused(f"{path} is larger than {LARGEST // 1_000_000} MB. Propose from a piece of it.")
    content = path.read_bytes()
    if b"\0" in content[:4096] and not content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        raise InputRefused(f"{path} is not a text file, so it cannot be a CSV, JSON or JSON Lines log.")
    if not content.strip():
        raise InputRefused(f"{path} is empty.")
    return content


def read_candidates(path: Path, content: bytes) -> tuple[str, str | None, list[Candidate]]:
    """Format, JSONPath of the rows (JSON only) and the columns of a log."""
    body = utf_8(path.name, content)
    if isinstance(body, Problem):
        raise InputRefused(f"{path}: {body.expected}")
    text = body.decode()
    start = text.lstrip()[:1]
    if start in "{[":
        try:
            document = json.loads(text)
        except ValueError:
            return "jsonl", None, _from_objects(_json_lines(path, text))
        except RecursionError:
            raise InputRefused(f"{path} is nested too deeply to be a log.") from None
        where, objects = longest_list("$", document)
        if not objects:
            raise InputRefused(f"{path} holds no list of objects, so it has no rows.")
        return "json", f"{where}[*]", _from_objects(objects)
    return "csv", None, _from_csv(path, body)


def _from_csv(path: Path, body: bytes) -> list[Candidate]:
    table = open_csv(path.name, body)
    if isinstance(table, Problem):
        raise InputRefused(f"{path}: {table.expected}")
    records = table.records(table.begin, min(len(body), table.begin + LARGEST))
    rows = [r for _, r in itertools.islice(records, LOOKED_AT) if any(r) and [c.strip() for c in r] != table.headers]
    if len(table.headers) < 2 or not rows:
        raise InputRefused(f"{path} has no header with two columns or more above its rows.")
    units = [""] * len(table.headers)
    if any(rows[0]) and all(not cell or possible_units(cell.strip("()[] ")) for cell in rows[0]):
        units = [*rows.pop(0), *units]
    columns = [tuple(r[i].strip() if i < len(r) else "" for r in rows) for i in range(len(table.headers))]
    shared = "." if table.one_mark else settle_marks(text for texts in columns for text in texts).decimal
    return [
        Candidate(name, texts, "." if table.one_mark else settle_marks(texts).decimal or shared, unit.strip())
        for name, texts, unit in zip(table.headers, columns, units, strict=False)
        if name and table.headers.count(name) == 1
    ]


def _json_lines(path: Path, text: str) -> list[Mapping[str, Any]]:
    objects: list[Mapping[str, Any]] = []
    for number, line in enumerate(text.splitlines()[:LOOKED_AT], start=1):
        if not line.strip():
            continue
        try:
            value = json.loads(line)
        except (ValueError, RecursionError) as failure:
            raise InputRefused(f"{path} line {number} is neither JSON nor a line of JSON Lines: {failure}.") from None
        if isinstance(value, dict):
            objects.append(value)
    if not objects:
        raise InputRefused(f"{path} holds no objects, so it has no rows.")
    return objects


def longest_list(where: str, value: Any, depth: int = 0) -> tuple[str, Sequence[Mapping[str, Any]]]:
    """The longest list of objects in a document, and its JSONPath; at most eight levels down."""
    here: Sequence[Mapping[str, Any]] = []
    if isinstance(value, list):
        here = [v for v in value if isinstance(v, dict)][:LOOKED_AT]
    best = (where, here)
    children = value.items() if isinstance(value, dict) and depth < 8 else ()
    for key, child in children:
        candidate = longest_list(f"{where}{_step(key)}", child, depth + 1)
        if len(candidate[1]) > len(best[1]):
            best = candidate
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
    leaves: list[tuple[str, Any]] = []
    for key, child in value.items():
        path = f"{where}{_step(key)}"
        if isinstance(child, dict) and depth < 4:
            leaves += _leaves(path, child, depth + 1)
        elif not isinstance(child, dict | list):
            leaves.append((path, child))
    return leaves


def _step(key: str) -> str:
    return f".{key}" if re.fullmatch(r"[A-Za-z_]\w*", key) else f"[{json.dumps(key)}]"


def _text(value: Any) -> str:
    return "" if value is None else str(value).lower() if isinstance(value, bool) else str(value)


def _number(text: str, decimal: str | None) -> float | None:
    by_mark = readings(plain(text)) if decimal != "." and not unit_text(text) else {}
    if by_mark:
        return by_mark.get(decimal or ".", next(iter(by_mark.values())))
    try:
        number = float(text)
    except ValueError:
        return None
    return number if math.isfinite(number) and "_" not in text else None
