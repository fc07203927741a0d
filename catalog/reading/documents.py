"""A document of keys and values with the place of each: batch.toml, or what the sheets of a workbook say instead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from catalog.reading.toml_lines import Path, TomlLines


@dataclass(frozen=True)
class TomlFile:
    """A TOML document with the line of every key."""

    values: Mapping[str, Any]
    lines: TomlLines
    name: str = "batch.toml"

    def place(self, *path: str | int) -> tuple[str, int]:
        """File and line of *path*, or of the nearest thing around it."""
        return self.name, self.lines.of(*path)


class SheetPlaces(TomlLines):
    """Sources and rows by path."""

    def __init__(self, places: Mapping[Path, tuple[str, int]], root: str) -> None:
        super().__init__({path: row for path, (_, row) in places.items()})
        self._places = places
        self._root = root

    def place(self, *path: str | int) -> tuple[str, int]:
        """Source and row of *path*, or of the nearest thing around it; the first row of the root for none."""
        while path:
            if (place := self._places.get(path)) is not None:
                return place
            path = path[:-1]
        return self._root, 1


@dataclass(frozen=True)
class SheetDocument(TomlFile):
    """What the sheets of a workbook say, as batch.toml would, with the sheet and row of every value."""

    lines: SheetPlaces

    def place(self, *path: str | int) -> tuple[str, int]:
        """Sheet and row of *path*, or of the nearest thing around it."""
        return self.lines.place(*path)
