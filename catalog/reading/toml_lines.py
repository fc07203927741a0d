"""TOML text as typed, and the line that each key stands on, which the standard reader does not give.

A text is read by `parse_toml` first, so lines are only looked for in one that is known to be valid.
Source: TOML 1.0.0 (tables, arrays of tables, dotted keys, multi-line strings).
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any

Path = tuple[str | int, ...]

_PART = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*(\.|$|=|\])""")
_STRINGS = re.compile(r'"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*', re.DOTALL)

MAX_DEPTH = 30  # tables within tables; a batch needs four. Deeper ones cannot be shown or take quadratic time
_LONG_KEY = re.compile(rf"""(?<![\w"'-])(?:[\w"'-]+[ \t]*\.[ \t]*){{{MAX_DEPTH}}}""")


def parse_toml(text: str) -> dict[str, Any]:
    """The document in *text*.

    Raises  tomllib.TOMLDecodeError: no valid TOML, a whole number of more than 64 bits, which TOML 1.0.0 lets a
            reader refuse, or tables and lists more than MAX_DEPTH deep in each other.
    """
    too_deep = f"Tables and lists lie more than {MAX_DEPTH} deep in each other (at line {{}}, column 1)"
    if (long_key := _LONG_KEY.search(text)) is not None:
        raise tomllib.TOMLDecodeError(too_deep.format(text.count("\n", 0, long_key.start()) + 1))
    try:
        values = tomllib.loads(text)
    except RecursionError as failure:
        raise tomllib.TOMLDecodeError(too_deep.format(1)) from failure
    except tomllib.TOMLDecodeError:
        raise
    except ValueError as failure:  # such as a whole number of 5,000 digits
        raise tomllib.TOMLDecodeError(_too_long(text)) from failure
    level: list[Any] = [values]
    for _ in range(MAX_DEPTH):
        inside = (item.values() if isinstance(item, dict) else item for item in level if isinstance(item, dict | list))
        level = [item for items in inside for item in items]
        if any(isinstance(item, int) and not -(2**63) <= item < 2**63 for item in level):
            raise tomllib.TOMLDecodeError(_too_long(text))
    if level:
        raise tomllib.TOMLDecodeError(too_deep.format(1))
    return values


def _too_long(text: str) -> str:
    """Names the line with the longest run of digits."""
    lines = text.split("\n")
    line = max(range(len(lines)), key=lambda place: max(map(len, re.findall(r"\d[\w]*", lines[place])), default=0)) + 1
    return f"A number is too long (at line {line}, column 1)"


class TomlLines:
    """Line numbers by path, such as ("device", 0, "radio", 1, "band"); the first line is 1."""

    def __init__(self, lines: Mapping[Path, int]) -> None:
        self._lines = lines

    def of(self, *path: str | int) -> int:
        """The line of *path*, or of the nearest thing around it; 1 for the file itself."""
        while path:
            if (line := self._lines.get(path)) is not None:
                return line
            path = path[:-1]
        return 1


def index_lines(text: str) -> TomlLines:
    """Lines of all tables and keys of a valid TOML *text*. Keys of inline tables have the line of their table."""
    lines: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    here: Path = ()
    depth = 0
    for number, line in enumerate(_masked(text).split("\n"), start=1):
        stripped = line.strip()
        if depth == 0 and stripped:
            if stripped.startswith("[["):
                here = _enter(_keys(stripped[2:]), counts, array=True)
                lines.setdefault(here, number)
                lines.setdefault(here[:-1], number)
                continue
            if stripped.startswith("["):
                here = _enter(_keys(stripped[1:]), counts, array=False)
                lines.setdefault(here, number)
                continue
            path = here
            for key in _keys(stripped):
                path = (*path, key)
                lines.setdefault(path, number)
        depth += sum(line.count(mark) for mark in "[{") - sum(line.count(mark) for mark in "]}")
    return TomlLines(lines)


def _masked(text: str) -> str:
    """The text with every string and comment overwritten, so that brackets in it do not count; keys keep theirs."""

    def mask(match: re.Match[str]) -> str:
        token = match.group()
        if token.startswith("#"):
            return ""
        if "\n" in token:
            return '""' + "\n" * token.count("\n")
        return re.sub(r"[\[\]{}=.#]", "_", token)

    return _STRINGS.sub(mask, text.replace("\r\n", "\n"))


def _keys(text: str) -> list[str]:
    """The parts of a dotted key at the start of *text*."""
    keys, position = [], 0
    while match := _PART.match(text, position):
        keys.append(next(part for part in match.groups()[:3] if part is not None))
        position = match.end()
        if match[4] != ".":
            break
    return keys


def _enter(keys: list[str], counts: dict[Path, int], *, array: bool) -> Path:
    """The full path of a table header, with the index of the newest element of every array on the way."""
    path: Path = ()
    for place, key in enumerate(keys):
        path = (*path, key)
        if array and place == len(keys) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path
