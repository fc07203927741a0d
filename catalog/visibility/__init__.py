"""New catalogues with only what may be seen at an instant. The builder never sees any other.

A public copy is what the catalogue would be had it never held the hidden things: numbers follow the order of
what rows say, no clock and no bytes of raw files come along, a client setup or spot that only hidden rows use
stays out, and a row that hidden and public batches both brought comes from the public ones. Where visible and
hidden rows share a file, the visible ones lose their row numbers and the file its hash: a gap would tell.

    hiding        which rows may not be seen
    withdrawing   which were taken back
    keeping       what only hidden rows use
    origins       which batches and files are named
    naming        what withdrawals and corrections are about, in the words of the copy
    fates         what became of each row, for those who say why a figure changed
    asked         which visible rows a question is about
    seen          which results may be seen at all
    copying       one INSERT ... SELECT a table
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from sqlite_utils import Database

from catalog.connection import attach_readonly, create_catalog, open_catalog
from catalog.errors import CatalogUnusable
from catalog.queries import facts
from catalog.records import Hidden
from catalog.visibility.asked import Asked, cells_tested, links_tested
from catalog.visibility.copying import Blocks, copy_rows, widen
from catalog.visibility.fates import Fates, fates_of, find_followers
from catalog.visibility.hiding import find_hidden, kept
from catalog.visibility.keeping import leave_out_unused
from catalog.visibility.naming import name_corrections, name_withdrawals
from catalog.visibility.origins import find_origins, find_stained
from catalog.visibility.withdrawing import hide_withdrawals, withdraw

__all__ = [
    "Asked",
    "Then",
    "cells_tested",
    "full_copy",
    "full_part",
    "links_tested",
    "public_copy",
    "public_part",
    "row_fates",
    "visible_batches",
    "waiting_articles",
]

Then = Callable[[Database], Asked | None]
"""Given a part of a copy: what else is asked, or None."""

_NEVER = "9999-12-31T23:59:59Z"  # later than any embargo


def public_copy(path: Path | Database, *, as_of: datetime, to: Path | None = None) -> Database:
    """The catalogue at *path* as anybody may see it at the instant *as_of*, in memory or as a new file at *to*.

    path  may also be a catalogue in memory
    A thing is visible from the instant its embargo ends, an article from the instant it is published.
    Raises  CatalogUnusable where *path* is no catalogue or *to* exists; ValueError for an instant without zone.
    """
    return _copy(path, seen_at=_utc(as_of), as_of=_utc(as_of), to=to)


def public_part(path: Path | Database, asked: Asked, *, as_of: datetime, then: Then | None = None) -> Database:
    """Of the public copy the part that a question is about, in memory.

    Each row in it is in the whole copy, too, and says the same; only runs, stations and long runs are numbered anew. Of
    what is asked nothing is missing, so that an answer is the one that the whole copy gives.

    then  looks at that part, and may ask `links_tested`, `cells_tested` and `seen` of the whole; what it gives is asked
          besides
    Raises  as public_copy does, and whatever *then* raises.
    """
    return _copy(path, seen_at=_utc(as_of), as_of=_utc(as_of), to=None, asked=asked, then=then)


def full_copy(
    path: Path | Database, *, as_of: datetime, to: Path | None = None, blocks: Blocks | None = None
) -> Database:
    """The same with everything in it, for a preview; the table `hidden` names what the public does not see yet.

    blocks  where the numbers of a device's runs begin, so that they stay as they are when others get runs; None
            counts all runs
    Raises  as public_copy does.
    """
    return _copy(path, seen_at=_NEVER, as_of=_utc(as_of), to=to, blocks=blocks)


def full_part(path: Path | Database, asked: Asked, *, as_of: datetime) -> Database:
    """Of the full copy the part that a question is about, in memory; for who may see everything.

    Raises  as public_copy does.
    """
    return _copy(path, seen_at=_NEVER, as_of=_utc(as_of), to=None, asked=asked)


def visible_batches(path: Path, *, as_of: datetime) -> list[str]:
    """The batches of which a public copy shows something, by the ids they have in the catalogue.

    Raises  as public_copy does.
    """
    with closing(create_catalog(None)) as db:
        attach_readonly(db, path, name="src")
        _find(db, seen_at=_utc(as_of), as_of=_utc(as_of))
        rows = db.execute("SELECT batch_id FROM temp.kept_batch ORDER BY batch_id").fetchall()
    return [batch_id for (batch_id,) in rows]


def waiting_articles(path: Path, *, as_of: datetime) -> list[Hidden]:
    """Articles whose own day has come at the instant *as_of*, and that wait for what they are about, by id.

    Raises  as public_copy does.
    """
    with closing(create_catalog(None)) as db:
        attach_readonly(db, path, name="src")
        _find(db, seen_at=_utc(as_of), as_of=_utc(as_of))
        rows = db.execute(
            f"""SELECT x.article_id, s.until_utc FROM src.article AS x
                JOIN ({_article_seen_from("src")}) AS s USING (article_id)
                WHERE x.published_utc <= ? AND NOT {kept("article", "x")} ORDER BY x.article_id""",
            [_utc(as_of)],
        ).fetchall()
    return [Hidden("article", article, "existence", until) for article, until in rows]


def row_fates(path: Path, *, as_of: datetime) -> Fates:
    """What became of each row that figures rest on in the public copy of the catalogue at *path* at an instant.

    Raises  as public_copy does.
    """
    with closing(open_catalog(path, readonly=True)) as db:
        whole = facts(db)
    with closing(create_catalog(None)) as db:
        attach_readonly(db, path, name="src")
        _find(db, seen_at=_utc(as_of), as_of=_utc(as_of))
        find_followers(db)
        return fates_of(db, whole)


def _copy(
    path: Path | Database,
    *,
    seen_at: str,
    as_of: str,
    to: Path | None,
    asked: Asked | None = None,
    then: Then | None = None,
    blocks: Blocks | None = None,
) -> Database:
    if to is not None and to.exists():
        raise CatalogUnusable(f"{to} exists already.")
    db = create_catalog(None)
    attach_readonly(db, path, name="src")
    with db.atomic():
        _find(db, seen_at=seen_at, as_of=as_of)
        copy_rows(db, asked=asked, blocks=blocks)
        more = None if then is None else then(db)
        if more is not None:
            widen(db, more)
        if seen_at == _NEVER:
            _name_hidden(db, as_of=as_of)
    for (name,) in db.execute("SELECT name FROM temp.sqlite_schema WHERE type = 'table'").fetchall():
        db.execute(f"DROP TABLE temp.{name}")
    db.execute("DETACH src")
    if to is None:
        return db
    with closing(db):
        db.execute("VACUUM INTO ?", [str(to)])  # no free pages, so no trace of how it was made
    return open_catalog(to, readonly=True)


def _find(db: Database, *, seen_at: str, as_of: str) -> None:
    """What goes in, as temporary tables."""
    find_hidden(db, as_of=seen_at)
    find_stained(db)
    hide_withdrawals(db)
    find_stained(db)
    leave_out_unused(db)
    withdraw(db, as_of=as_of)
    find_origins(db)
    name_withdrawals(db)
    name_corrections(db)


def _name_hidden(db: Database, *, as_of: str) -> None:
    db.execute(
        f"""INSERT INTO main.hidden
           SELECT subject, CASE subject WHEN 'batch' THEN batch_id WHEN 'device' THEN device_id
                                        WHEN 'unit' THEN device_id || '/' || unit_id
                                        ELSE device_id || '@' || version END AS id, covers, max(until_utc)
           FROM main.embargo WHERE until_utc > :as_of GROUP BY subject, id, covers
           UNION SELECT 'article', article_id, 'existence', until_utc FROM ({_article_seen_from("main")})
                  WHERE until_utc > :as_of
           ORDER BY 1, 2, 3""",
        {"as_of": as_of},
    )


def _article_seen_from(source: str) -> str:
    """SQL: each article of *source* with the instant from which it is seen: its own, or a later one of what it is about."""
    existence = "e.covers = 'existence' AND e.subject"
    return f"""
        SELECT article_id, max(until_utc) AS until_utc FROM (
            SELECT article_id, published_utc AS until_utc FROM {source}.article
            UNION ALL SELECT a.article_id, e.until_utc FROM {source}.article AS a
                JOIN {source}.embargo AS e ON e.batch_id = a.batch_id WHERE {existence} = 'batch'
            UNION ALL SELECT a.article_id, e.until_utc FROM {source}.article_device AS a
                JOIN {source}.embargo AS e USING (device_id) WHERE {existence} = 'device'
            UNION ALL SELECT a.article_id, e.until_utc FROM {source}.article_device AS a
                JOIN {source}.device AS d USING (device_id)
                JOIN {source}.embargo AS e ON e.batch_id = d.batch_id WHERE {existence} = 'batch')
        GROUP BY article_id"""


def _utc(instant: datetime) -> str:
    if instant.tzinfo is None:
        raise ValueError(f"{instant} has no time zone, so it is no instant")
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
