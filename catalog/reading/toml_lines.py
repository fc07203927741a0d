"""Which line of a TOML file a key stands on; the standard reader does not say.

The file is read by `tomllib` first, so this only finds places in a text that is known to be valid.
Source: TOML 1.0.0 (tables, arrays of tables, dotted keys, multi-line strings).
"""

from __future__ import annotations

import re
from collections.abc import Mapping

Path = tuple[str | int, ...]

_PART = re.compile(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*(\.|$|=|\])""")
_STRINGS = re.compile(r'"""(?:[^\\]|\\.)*?"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*', re.DOTALL)


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
        found = match.group()
        if found.startswith("#"):
            return ""
        if "\n" in found:
            return '""' + "\n" * found.count("\n")
        return re.sub(r"[\[\]{}=.#]", "_", found)

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
