"""The columns of a foreign log, as far as the file itself shows them: what is where, with its first values."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from catalog.errors import InputRefused
from catalog.reading.delimited import separator_of

LOOKED_AT = 50_000  # rows a proposal is made from
LARGEST = 200_000_000  # bytes read for a proposal


@dataclass(frozen=True)
class Candidate:
    """A column of the log: where it is, a header or a JSONPath, and its first values as texts."""

    source: str
    texts: tuple[str, ...]

    @cached_property
    def numbers(self) -> list[float | None]:
        """The values; None for what is not a number."""
        return [_number(t) for t in self.texts]

    @cached_property
    def numeric(self) -> bool:
        """Whether nine of ten values are numbers."""
        numbers = [n for n in self.numbers if n is not None]
        return len(numbers) > 0.9 * sum(1 for t in self.texts if t)

    @property
    def header(self) -> str:
        """The last part of the source, as it is written."""
        return self.source.rsplit(".", 1)[-1]

    @property
    def name(self) -> str:
        """The header in small letters, its words apart."""
        return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", self.header).lower()


def read_content(path: Path) -> bytes:
    """The bytes of a log. Raises InputRefused for what no log could be in."""
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


def read_candidates(path: Path, content: bytes) -> tuple[str, str | None, list[Candidate]]:
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
        where, objects = longest_list("$", document)
        if not objects:
            raise InputRefused(f"{path} holds no list of objects, so it has no rows.")
        return "json", f"{where}[*]", _from_objects(objects)
    separator = separator_of(text.splitlines()[0])
    lines = list(csv.reader(io.StringIO(text), delimiter=separator))[: LOOKED_AT + 1]
    header, rows = lines[0], [r for r in lines[1:] if any(r)]
    if len(header) < 2 or not rows:
        raise InputRefused(f"{path} has no header with two columns or more above its rows.")
    return (
        "csv",
        None,
        [
            Candidate(name, tuple(r[i].strip() if i < len(r) else "" for r in rows))
            for i, name in enumerate(header)
            if name
        ],
    )


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


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
