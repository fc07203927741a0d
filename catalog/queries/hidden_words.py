"""Words that no public page may hold at an instant: names, ids and texts of what is under embargo then.

Worked out from the embargoes alone, row by row, and not by catalog.visibility, so that a leak scan does not believe the
very copy it is to check. What public rows say too is not secret and is left out.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

from sqlite_utils import Database

from catalog.queries.hidden_rows import Row, Seen, rows_seen

# Table -> columns of ids, which stand in addresses and figures, and of texts, which stand in sentences and tables.
_IDS = {
    "device": ("device_id",),
    "unit": ("unit_id",),
    "batch": ("batch_id",),
    "article": ("article_id",),
    "session": ("session_id",),
    "client": ("client_id",),
    "house": ("house_id",),
    "settings": ("settings_id",),
    "workload": ("workload_id",),
    "role": ("role_id",),
    "station": ("mix_id",),
}
_TEXTS = {
    "batch": ("title",),
    "device": ("kind", "revision"),
    "device_port": ("name",),
    "unit": ("given_by",),
    "client": ("name", "machine", "adapter", "bus", "level_of"),
    "client_driver": ("version",),
    "house": ("name",),
    "spot_reading": ("spot", "reference_source", "reference_receiver", "obstacles"),
    "session": ("note",),
    "run": ("security", "note"),
    "settings": ("title", "power", "country", "punctured_mhz", "airtime", "queueing"),
    "workload": ("title",),
    "station": ("ended_by", "note"),
    "longrun": ("note",),
    "feature": ("feature", "licence", "how", "evidence"),
    "heat": ("face", "load", "mount"),
    "power": ("state",),
    "part": ("revision", "block", "marking"),
    "price": ("region", "condition"),
    "image": ("alt", "credit"),
    "dispute": ("raised_by", "claim", "evidence", "retest"),
    "article": ("title",),
    "withdrawal": ("reason",),
    "correction": ("was", "now", "reason"),
    "extra": ("typed",),
    "embargo": ("until_typed", "until_utc"),
}
_SHORT = 4  # an id or a word of fewer letters is not secret: many units are called "A" or "B"
_NUMBER = re.compile(r"[\d.,:+-]+")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")
_WORD = re.compile(r"\w+")


@dataclass(frozen=True)
class HiddenWords:
    """Texts, each once and in order.

    ids       of devices, units, batches, articles, sessions, clients, houses, settings, workloads, roles and mixes
    names     (maker, model or alias) of devices; a maker alone where all its devices are hidden
    firmware  versions of hidden firmware that no public firmware has
    notes     texts of two words or more
    words     texts of one word
    days      ids that are a day, "2025-06-12"; none that a public row names
    public    names of public things, of which a hidden one may be a part: "Shale 2" of "Shale 2 Pro"
    """

    ids: tuple[str, ...]
    names: tuple[tuple[str, str], ...]
    firmware: tuple[str, ...]
    notes: tuple[str, ...]
    words: tuple[str, ...] = ()
    days: tuple[str, ...] = ()
    public: tuple[str, ...] = ()


def hidden_words(db: Database, as_of: str) -> HiddenWords:
    """The words hidden at the instant *as_of* (UTC text) in a whole catalogue."""
    seen = rows_seen(db, as_of)
    public = _Public(seen, as_of)
    ids = {one for one in _values(seen.hidden, _IDS) if len(one) >= _SHORT and one.casefold() not in public.names}
    texts = {" ".join(text.split()) for text in _values(seen.hidden, _TEXTS)}
    texts = {text for text in texts if text.casefold() not in public.texts and not _NUMBER.fullmatch(text)}
    return HiddenWords(
        ids=tuple(sorted(one for one in ids if not _NUMBER.fullmatch(one))),
        names=tuple(sorted(_names(seen))),
        firmware=tuple(sorted(_versions(seen.hidden) - _versions(seen.shown))),
        notes=tuple(sorted(text for text in texts if " " in text and len(text) >= 8)),
        words=tuple(
            sorted(text for text in texts if " " not in text and len(text) >= _SHORT and not public.says(text))
        ),
        days=tuple(sorted(one for one in ids if _DATE.fullmatch(one) and one not in public.days)),
        public=tuple(sorted({name for _, name in _called(seen.shown)})),
    )


class _Public:
    """What public rows say: names and texts whole, words and days wherever they stand, looked for once they are asked for."""

    def __init__(self, seen: Seen, as_of: str) -> None:
        self._seen, self._as_of = seen, as_of
        self.names = {one.casefold() for one in _values(seen.shown, _IDS)}
        self.texts = {" ".join(text.split()).casefold() for text in _values(seen.shown, _TEXTS)}

    @cached_property
    def _words(self) -> set[str]:
        return {word for text in (*self.texts, *self.names) for word in _WORD.findall(text)}

    @cached_property
    def _everyday(self) -> set[str]:
        return set(_WORD.findall(" ".join(str(row["text"]) for row in self._seen.shown.get("article", ()))))

    @cached_property
    def days(self) -> set[str]:
        return {self._as_of[:10]} | {
            day
            for rows in self._seen.shown.values()
            for row in rows
            for value in row.values()
            if isinstance(value, str)
            for day in _DATE.findall(value)
        }

    def says(self, word: str) -> bool:
        """Whether public rows have the *word*; one in small letters may also stand in an article."""
        return word.casefold() in self._words or (word.islower() and word in self._everyday)


def _values(rows: Mapping[str, list[Row]], columns: Mapping[str, tuple[str, ...]]) -> Iterator[str]:
    for table, names in columns.items():
        for row in rows.get(table, ()):
            for name in names:
                if isinstance(value := row[name], str) and value.strip():
                    yield value.strip()


def _names(seen: Seen) -> Iterable[tuple[str, str]]:
    """Of devices whose existence is hidden, also by what they share with public ones: then behind the maker only."""
    public = set(_called(seen.shown))
    makers = {str(row["maker"]) for row in seen.hidden.get("device", ())}
    makers -= {str(row["maker"]) for row in seen.shown.get("device", ())}
    return ({*_called(seen.hidden)} - public) | {("", maker) for maker in makers}


def _called(rows: dict[str, list[Row]]) -> Iterator[tuple[str, str]]:
    """(maker, model or alias) of each device."""
    makers = {row["device_id"]: str(row["maker"]) for row in rows.get("device", ())}
    for row in rows.get("device", ()):
        yield makers[row["device_id"]], str(row["model"])
    for row in rows.get("device_alias", ()):
        yield makers.get(row["device_id"], ""), str(row["alias"])


def _versions(rows: dict[str, list[Row]]) -> set[str]:
    return {str(row["version"]) for row in rows.get("firmware", ())}
