"""The keys of batch.toml: what each thing may say, and how a value is read."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from catalog.checking.cells import read_band
from catalog.checking.names import nearest
from catalog.checking.times import read_date, read_day_or_month
from catalog.checking.troubles import Trouble
from catalog.errors import Problem
from catalog.reading.documents import TomlFile
from catalog.reading.format import DIRECTION_WORDS
from catalog.standards import BANDS, PHYS

SLUG = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,99}")

IGNORE_COLUMNS = "ignore_columns"
ON_TOP = f"{IGNORE_COLUMNS} stands at the top of batch.toml, before the first line with a bracket."

Reader = Callable[[Any], Any]
"""A TOML value to a stored value, or the Trouble with it."""


@dataclass(frozen=True)
class Key:
    """One key of a thing.

    column    where it is stored
    default   stored when the key is left out
    """

    read: Reader
    column: str
    required: bool = False
    default: Any = None


def text(value: Any) -> str | Trouble:
    """Any text that is not blank."""
    if isinstance(value, str) and value.strip():
        return value.strip()
    if isinstance(value, float | int) and not isinstance(value, bool):
        return Trouble(
            f"{value!r} is a number; text is wanted, and a number loses its last zeros.",
            f'Write it in quotes: "{value}".',
            "not-text",
        )
    return Trouble(f"{value!r} is not text.", "Write it in quotes.", "not-text")


def slug(value: Any) -> str | Trouble:
    """An id: letters, digits, dot, dash, underscore."""
    if isinstance(value, str) and SLUG.fullmatch(value):
        return value
    return Trouble(
        f"{value!r} is no id.",
        "An id has letters, digits, - . and _ and begins with a letter or digit.",
        "bad-id",
    )


def number(low: float | None = None, high: float | None = None) -> Reader:
    """A number within bounds, both included."""

    def read(value: Any) -> float | Trouble:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            return Trouble(f"{value!r} is not a number.", "Write it without quotes, with a point.", "not-a-number")
        if (low is not None and value < low) or (high is not None and value > high):
            bounds = f"at least {low:g}" if high is None else f"from {low:g} to {high:g}"
            return Trouble(f"{value:g} is out of range; it is {bounds}.", "Correct it.", "out-of-range")
        return float(value)

    return read


def whole(low: int, high: int = 10**9) -> Reader:
    """A whole number within bounds."""

    def read(value: Any) -> int | Trouble:
        result = number(low, high)(value)
        if isinstance(result, Trouble):
            return result
        if result != int(result):
            return Trouble(f"{value!r} is not a whole number.", "Correct it.", "not-whole")
        return int(result)

    return read


def date(value: Any) -> str | Trouble:
    """A calendar day, as a TOML date or as text."""
    if isinstance(value, dt.date) and not isinstance(value, dt.datetime):
        return value.isoformat()
    day = read_date(value) if isinstance(value, str) else Trouble(f"{value!r} is not a date.", "", "not-a-date")
    return day if isinstance(day, Trouble) else day.isoformat()


def day_or_month(value: Any) -> str | Trouble:
    """A calendar day as `date`, or a month as text: "2019-03"."""
    return read_day_or_month(value) if isinstance(value, str) else date(value)


def truth(value: Any) -> int | Trouble:
    """true or false."""
    if isinstance(value, bool):
        return int(value)
    return Trouble(f"{value!r} is neither true nor false.", "Write true or false.", "not-a-truth-value")


def one_of(*words: str) -> Reader:
    """One of a few words, as stored."""

    def read(value: Any) -> str | Trouble:
        if isinstance(value, str) and value.strip().casefold() in words:
            return value.strip().casefold()
        near = nearest(str(value), words)
        meant = f" Did you mean {near[0]}?" if near else ""
        return Trouble(f"{value!r} is not one of {', '.join(words)}.{meant}", "Write one of them.", "unknown-word")

    return read


def amendment(value: Any) -> str | Trouble:
    """An amendment of IEEE 802.11."""
    if isinstance(value, str) and value in PHYS:
        return value
    return Trouble(f"{value!r} is no amendment that is known.", f"Write one of {', '.join(PHYS)}.", "unknown-amendment")


def band(value: Any) -> str | Trouble:
    """One band, as text or as a number."""
    result = read_band(f"{value:g}" if isinstance(value, float) else str(value))
    if not isinstance(result, Trouble) and result not in BANDS:
        return Trouble(f"{value!r} is more than one band.", "A radio has one band.", "unknown-band")
    return result


def links(value: Any) -> str | Trouble:
    """The bands of a client's links, as a list or as one text: ["5", "6"] and "5+6" alike."""
    bands = [str(band) for band in value] if isinstance(value, list) else [str(value)]
    return read_band("+".join(bands))


def text_or_whole(low: int, high: int) -> Reader:
    """Words, or a whole number within bounds; both as text."""

    def read(value: Any) -> str | Trouble:
        if isinstance(value, str):
            return text(value)
        number_read = whole(low, high)(value)
        return number_read if isinstance(number_read, Trouble) else str(number_read)

    return read


def direction(value: Any) -> str | Trouble:
    """down or up."""
    stored = DIRECTION_WORDS.get(str(value).casefold())
    return stored or Trouble(f"{value!r} is neither down nor up.", "Write down or up.", "unknown-word")


def texts(value: Any) -> list[str] | Trouble:
    """A list of texts."""
    if isinstance(value, list) and all(isinstance(item, str) and item.strip() for item in value):
        return [item.strip() for item in value]
    return Trouble(f"{value!r} is not a list of texts.", 'Write it as ["one", "two"].', "wrong-shape")


class Section:
    """One table of batch.toml while it is read: its values, its lines, and its problems."""

    def __init__(
        self, file: TomlFile, path: tuple[str | int, ...], values: Mapping[str, Any], problems: list[Problem]
    ) -> None:
        self.file = file
        self.path = path
        self.values = values
        self.problems = problems

    @property
    def place(self) -> tuple[str, int]:
        """Source of its header, and its line or row."""
        return self.file.place(*self.path)

    def refuse(self, key: str, trouble: Trouble, value: object = "") -> None:
        """Note a problem with one key."""
        place = self.file.place(*self.path, key) if key else self.place
        self.problems.append(trouble.at(*place, key, value))

    def read(
        self, keys: Mapping[str, Key], *, known: bool = False, others: frozenset[str] = frozenset()
    ) -> dict[str, Any]:
        """Column -> value of every key that is given; problems for missing, unknown and wrong ones.

        known   the thing is in the catalogue, so nothing is required and no default is taken
        others  keys read elsewhere
        """
        columns: dict[str, Any] = {}
        for name, value in self.values.items():
            if name in others:
                continue
            key = keys.get(name)
            if key is None:
                near = nearest(name, [*keys, *others])
                meant = f" Did you mean {near[0]}?" if near else ""
                remedy = ON_TOP if name == IGNORE_COLUMNS else "Correct or remove it."
                self.refuse(name, Trouble(f"The key {name!r} is not known here.{meant}", remedy, "unknown-key"), value)
                continue
            stored = key.read(value)
            if isinstance(stored, Trouble):
                self.refuse(name, stored, value)
            else:
                columns[key.column] = stored
        if not known:
            for name, key in keys.items():
                if key.required and name not in self.values:
                    self.refuse("", Trouble(f"{self.name} has no {name}.", f"Add {name} = … there.", "missing"), "")
                elif name not in self.values and key.default is not None:
                    columns[key.column] = key.default
        return columns

    @property
    def name(self) -> str:
        """Its name in messages: device tessarik-shale-2, or the kind alone."""
        kinds = [part for part in self.path if isinstance(part, str)]
        title = self.values.get("id") or self.values.get("version") or self.values.get("name") or ""
        return f"The {kinds[-1] if kinds else 'batch'} {title}".rstrip()

    def children(self, name: str) -> list[Section]:
        """The tables [[...name]] inside this one."""
        value = self.values.get(name, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            self.refuse(
                name,
                Trouble(f"{name} is written as [[{'.'.join([*self._kinds, name])}]].", "", "wrong-shape"),
            )
            return []
        return [Section(self.file, (*self.path, name, place), item, self.problems) for place, item in enumerate(value)]

    def child(self, name: str) -> Section | None:
        """The table [...name] inside this one."""
        value = self.values.get(name)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.refuse(name, Trouble(f"{name} is written as [{'.'.join([*self._kinds, name])}].", "", "wrong-shape"))
            return None
        return Section(self.file, (*self.path, name), value, self.problems)

    @property
    def _kinds(self) -> list[str]:
        return [part for part in self.path if isinstance(part, str)]
