"""Pages kept from the build before, each with a digest of everything it was made from.

One SQLite file for each folder that sites are built into. It is a cache: deleting it costs time and nothing else, and
one that cannot be read is begun anew.

    setting  what decides every page: templates, code, libraries
    look     a part of the contents, and the SHA-256 of what was seen there
    page     a page that was made of a task, and the numbers of the looks that took; place 0, its leaves behind it
    file     what it put into the site
"""

from __future__ import annotations

import hashlib
import sqlite3
from array import array
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

import orjson

from builder.observed import Inventory, Look
from builder.publishing.checking.links import PageLinks
from builder.publishing.keeping.kept_file import keep, read_kept

_SCHEMA = """
CREATE TABLE look (number INTEGER PRIMARY KEY AUTOINCREMENT, path TEXT NOT NULL, key TEXT NOT NULL, digest TEXT NOT NULL) STRICT;
CREATE TABLE page (
    task TEXT NOT NULL, place INTEGER NOT NULL, address TEXT NOT NULL, title TEXT NOT NULL, own INTEGER NOT NULL,
    charts INTEGER NOT NULL, inside TEXT NOT NULL, wrong TEXT NOT NULL, fragments TEXT NOT NULL, warnings TEXT NOT NULL, looks BLOB NOT NULL,
    PRIMARY KEY (task, place)
) STRICT;
CREATE TABLE file (
    task TEXT NOT NULL, page INTEGER NOT NULL, place INTEGER NOT NULL, address TEXT NOT NULL, content BLOB NOT NULL,
    PRIMARY KEY (task, page, place)
) STRICT;
"""


@dataclass(frozen=True, slots=True)
class MadePage:
    """A page as it lies in the site, and what the rest of the site must know of it.

    own       it is a page of its own: not one that only leads on, nor the one for wrong addresses
    files     address -> content: the page, the specification of each chart on it, and rows it had no room for; the
              instant of the build is still to be put in (blocks.INSTANT)
    charts    how many are drawn on it
    links     where it leads
    warnings  what an author should look at
    looks     what of the contents it was made from
    """

    address: str
    title: str
    own: bool
    files: tuple[tuple[str, bytes], ...]
    charts: int
    links: PageLinks
    warnings: tuple[str, ...]
    looks: frozenset[Look]


def store_of(cache: Path | None, out: Path) -> Path | None:
    """Where the pages of the site at *out* are kept; None without a cache."""
    return cache and cache / f"pages-{hashlib.sha256(str(out.resolve()).encode()).hexdigest()[:16]}.db"


def fresh_pages(store: Path, *, setting: str, inventory: Inventory) -> dict[str, tuple[MadePage, ...]]:
    """Task key -> its pages, of all that are kept and of which nothing changed that they were made from.

    setting  digest of what decides every page; pages made with another one are none
    """
    return read_kept(store, lambda db: _fresh(db, inventory), setting=setting) or {}


def keep_pages(
    store: Path, made: Mapping[str, Sequence[MadePage]], *, fresh: Collection[str], setting: str, inventory: Inventory
) -> None:
    """Keep the pages of a whole site, by task key, in the place of what was kept before.

    fresh  keys of those that fresh_pages gave: they are there already
    """
    new = {task: pages for task, pages in made.items() if task not in fresh}

    def write(db: sqlite3.Connection) -> None:
        kept = {task for (task,) in db.execute("SELECT DISTINCT task FROM page")}
        _drop(db, (kept - made.keys()) | (kept & new.keys()))
        if new:
            numbers = _note_looks(db, chain(*new.values()), inventory)
            for task, pages in new.items():
                for place, page in enumerate(pages):
                    _put(db, task, place, page, numbers)
        _drop_unused_looks(db)

    keep(store, write, schema=_SCHEMA, setting=setting, anew=not fresh)


def _fresh(db: sqlite3.Connection, inventory: Inventory) -> dict[str, tuple[MadePage, ...]]:
    looks: dict[int, Look] = {
        number: (path, key)
        for number, path, key, digest in db.execute("SELECT number, path, key, digest FROM look ORDER BY number")
        if inventory.digest((path, key)) == digest
    }
    pages = [
        (*row, numbers)
        for *row, packed in db.execute(
            "SELECT task, place, address, title, own, charts, inside, wrong, fragments, warnings, looks "
            "FROM page ORDER BY task, place"
        )
        if looks.keys() >= set(numbers := array("I", packed))
    ]
    files: dict[tuple[str, int], list[tuple[str, bytes]]] = {(page[0], page[1]): [] for page in pages}
    for task, page, address, content in db.execute(
        "SELECT task, page, address, content FROM file ORDER BY task, page, place"
    ):
        if (task, page) in files:
            files[task, page].append((address, content))
    found: dict[str, tuple[MadePage, ...]] = {}
    for task, place, address, title, own, charts, inside, wrong, fragments, warnings, numbers in pages:
        page = MadePage(
            address=address,
            title=title,
            own=bool(own),
            files=tuple(files[task, place]),
            charts=charts,
            links=PageLinks(
                tuple(map(tuple, orjson.loads(inside))),
                tuple(map(tuple, orjson.loads(wrong))),
                frozenset(orjson.loads(fragments)),
            ),
            warnings=tuple(orjson.loads(warnings)),
            looks=frozenset(looks[number] for number in numbers),
        )
        found[task] = (*found.get(task, ()), page)
    return found


def _drop(db: sqlite3.Connection, tasks: Iterable[str]) -> None:
    for task in sorted(tasks):
        db.execute("DELETE FROM page WHERE task = ?", (task,))
        db.execute("DELETE FROM file WHERE task = ?", (task,))


def _note_looks(db: sqlite3.Connection, made: Iterable[MadePage], inventory: Inventory) -> dict[Look, int]:
    """The number of every look together with what it sees now. What a number stands for never changes."""
    known = {tuple(row): number for number, *row in db.execute("SELECT number, path, key, digest FROM look")}
    numbers: dict[Look, int] = {}
    for look in sorted({look for page in made for look in page.looks}):
        row = (*look, inventory.digest(look))
        if row not in known:
            known[row] = db.execute("INSERT INTO look (path, key, digest) VALUES (?, ?, ?)", row).lastrowid or 0
        numbers[look] = known[row]
    return numbers


def _drop_unused_looks(db: sqlite3.Connection) -> None:
    used: set[int] = set()
    for (packed,) in db.execute("SELECT looks FROM page"):
        used.update(array("I", packed))
    numbers = {number for (number,) in db.execute("SELECT number FROM look")}
    db.executemany("DELETE FROM look WHERE number = ?", ((number,) for number in sorted(numbers - used)))


def _put(db: sqlite3.Connection, task: str, place: int, page: MadePage, numbers: Mapping[Look, int]) -> None:
    looks = array("I", sorted(numbers[look] for look in page.looks))
    db.execute(
        "INSERT INTO page VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            task,
            place,
            page.address,
            page.title,
            int(page.own),
            page.charts,
            orjson.dumps(page.links.inside).decode(),
            orjson.dumps(page.links.wrong).decode(),
            orjson.dumps(sorted(page.links.fragments)).decode(),
            orjson.dumps(page.warnings).decode(),
            looks.tobytes(),
        ),
    )
    db.executemany(
        "INSERT INTO file VALUES (?, ?, ?, ?, ?)",
        ((task, place, number, *file) for number, file in enumerate(page.files)),
    )
