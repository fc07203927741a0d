"""What is odd about a thing that batch.toml registers for the first time: its id, its name, its version.

Ids become folders of the site, and many file systems ignore case and drop a dot at the end.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from catalog.checking.characters import scripts_trouble
from catalog.checking.known import Known, Row
from catalog.checking.names import fold, lost_zero
from catalog.checking.troubles import Trouble

ANOTHER = "another one"
"""The answer for a thing that only resembles a known one."""

# Table -> column of its id and what messages call it; those within another thing also name their owner's columns.
_IDS: Mapping[str, tuple[str, str, tuple[str, ...]]] = {
    "batch": ("batch_id", "batch", ()),
    "device": ("device_id", "device", ()),
    "unit": ("unit_id", "unit", ("device_id",)),
    "firmware": ("version", "firmware", ("device_id",)),
    "client": ("client_id", "client", ()),
    "client_driver": ("version", "driver", ("client_id",)),
    "house": ("house_id", "house", ()),
    "session": ("session_id", "session", ()),
    "settings": ("settings_id", "settings", ()),
    "workload": ("workload_id", "workload", ()),
    "role": ("role_id", "role", ()),
    "workload_role": ("role_id", "role", ("workload_id", "version")),
    "article": ("article_id", "article", ()),
}
_SLUGS = frozenset(_IDS) - {"unit", "firmware", "client_driver"}
_NAMES = ("maker", "model", "alias", "name", "unit_id", "version", "revision", "series")
# Names that Windows keeps for devices, whatever follows their first dot (memory).
_KEPT_BY_SYSTEMS = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])(\..*)?", re.IGNORECASE)


def registration_troubles(table: str, row: Row, known: Known) -> Iterator[tuple[str, Trouble]]:
    """Key of batch.toml and trouble of everything odd about a new *row* of *table*; a trouble with options can be answered.

    known  what the catalogue and the batch so far hold, without this row
    """
    if table in _IDS:
        column, kind, owners = _IDS[table]
        siblings = (there for there in known.of(table) if all(there[name] == row[name] for name in owners))
        others = {str(there[column]) for there in siblings} - {row[column]}
        if (trouble := _of_id(row[column], kind, others, slug=table in _SLUGS)) is not None:
            yield _key(column), trouble
        elif column == "version" and (other := lost_zero(row[column], others)) is not None:
            yield (
                _key(column),
                Trouble(
                    f"The {kind} {row[column]!r} and {other!r}, which is known, differ by a zero at the end.",
                    "Did a spreadsheet drop it?",
                    "lost-zero",
                    options=(ANOTHER,),
                ),
            )
    for column in _NAMES:
        if isinstance(name := row.get(column), str) and (mixed := scripts_trouble(name)) is not None:
            yield _key(column), mixed
    if table == "device":
        yield from _twin_device(row, known)
    if table in ("client", "client_driver"):
        yield from _series(row, known)


def _of_id(identifier: str, kind: str, others: Iterable[str], *, slug: bool) -> Trouble | None:
    if slug and (_KEPT_BY_SYSTEMS.fullmatch(identifier) or identifier.endswith(".") or ".." in identifier):
        return Trouble(
            f"{identifier!r} cannot be the name of a folder on every system.",
            "Choose another id, without a dot at the end or two in a row.",
            "reserved-id",
            if_entered=True,
        )
    for other in sorted(others):
        if other.casefold() == identifier.casefold():
            return Trouble(
                f"The {kind} {identifier!r} and {other!r}, which is known, would be one folder on many disks.",
                f"Write {other!r} if it is the same one, or choose another name.",
                "reserved-id",
                if_entered=True,
            )
    return twin(identifier, kind, others)


def twin(identifier: str, kind: str, others: Iterable[str]) -> Trouble | None:
    """The question whether another id is meant, which differs only by case or separators."""
    for other in sorted(others):
        if other != identifier and _bare(other) == _bare(identifier):
            return Trouble(
                f"The {kind} {identifier!r} differs from {other!r}, which is known, only by case or separators.",
                f"Write {other!r} if it is the same one.",
                "twin-id",
                options=(ANOTHER,),
            )
    return None


def _key(column: str) -> str:
    if column == "alias":
        return "aliases"
    return "id" if column.endswith("_id") else column


def _bare(identifier: str) -> str:
    """Without case and separators, except those between two digits: they distinguish 1.10 from 11.0."""
    return re.sub(r"(?<!\d)-|-(?!\d)", "", re.sub(r"[\s._-]+", "-", identifier.casefold()))


def _twin_device(row: Row, known: Known) -> Iterator[tuple[str, Trouble]]:
    if "maker" not in row or "model" not in row:  # reported elsewhere
        return
    for there in known.of("device"):
        if there["device_id"] != row["device_id"] and _kind_of_device(there) == _kind_of_device(row):
            yield (
                "model",
                Trouble(
                    f"{row['maker']} {row['model']} is known as {there['device_id']!r}, of the same revision.",
                    "Write that id if it is the same model; a second piece of it is a [[device.unit]].",
                    "twin-device",
                    options=(ANOTHER,),
                ),
            )
            return


def _kind_of_device(row: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(fold(row.get(name) or "") for name in ("maker", "model", "revision"))


def _series(row: Row, known: Known) -> Iterator[tuple[str, Trouble]]:
    series = row.get("series")
    there = {other.get("series") for table in ("client", "client_driver") for other in known.of(table)}
    others = {str(other) for other in there if other} - {series}
    if series and row.get("client_id") != series and (trouble := _of_id(series, "series", others, slug=False)):
        yield "series", trouble
