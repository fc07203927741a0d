"""Why a row that figures rest on is other than it was when a site was published.

The catalogue changes only by acts that leave a trace: batches, corrections, withdrawals, and embargoes that end. A row
that none of them explains was changed past them, and that stops a publication.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlite_utils import Database

from builder import wording
from catalog import queries
from catalog.queries import Fact
from catalog.records import Correction, Embargo, Withdrawal

Facts = Mapping[str, Fact]


class Withdrawn(str):
    """A cause that takes a value out of view: its place stays, with the reason and without the value."""


class HiddenAgain(str):
    """A cause that hides what was public: no trace of it stays."""


@dataclass(frozen=True)
class Acts:
    """What was done to the catalogue, and between which two instants (UTC text) the causes are sought.

    titles       batch -> its title
    said         batches that declare constants of the method, in order of entry
    corrections  those that the published site does not show yet
    """

    since: str
    until: str
    titles: Mapping[str, str]
    said: Sequence[str]
    corrections: Sequence[Correction]
    withdrawals: Sequence[Withdrawal]
    embargoes: Sequence[Embargo]
    articles: Mapping[str, str]


def acts_of(catalog: Database, *, published: Database, since: str, until: str) -> Acts:
    """The acts of a whole catalogue, as far as they may be causes of what differs from the *published* copy."""
    shown = {_signature(correction) for correction in queries.corrections(published)}
    said = catalog.execute("SELECT batch_id FROM declaration JOIN batch USING (batch_id) ORDER BY sequence").fetchall()
    return Acts(
        since=since,
        until=until,
        titles={batch.batch_id: batch.title for batch in queries.batches(catalog)},
        said=[batch for (batch,) in said],
        corrections=[c for c in queries.corrections(catalog) if _signature(c) not in shown],
        withdrawals=queries.withdrawals(catalog),
        embargoes=queries.embargoes(catalog),
        articles={a.article_id: a.published_utc for a in queries.articles(catalog)},
    )


def _signature(c: Correction) -> tuple[str, ...]:
    return c.table, c.row_key, c.column, c.was, c.now, c.date


@dataclass(frozen=True)
class Rows:
    """The facts of four catalogues, by key.

    was      of the published site
    would    what today's catalogue would have shown at the published site's instant
    shown    what it shows now
    whole    all of it, hidden or not, with the batches it came from
    batches  batches that the published site names
    """

    was: Facts
    would: Facts
    shown: Facts
    whole: Facts
    batches: frozenset[str]

    def changed(self) -> list[str]:
        """Keys of the facts that came, went or have other values."""
        keys = sorted(self.was.keys() | self.shown.keys())
        return [key for key in keys if _values(self.was.get(key)) != _values(self.shown.get(key))]


def cause(key: str, rows: Rows, acts: Acts) -> str | None:
    """Why the fact at *key* is not what it was; None where nothing in the catalogue says so."""
    was, shown = rows.was.get(key), rows.shown.get(key)
    fact = shown or was
    assert fact is not None
    parts = json.loads(key)[1:]
    whole = rows.whole.get(key)
    batch = _batch(whole, fact, rows)
    if fact.table == "method":
        return _method_cause(rows, acts)
    if shown is None:
        hidden = map(HiddenAgain, _embargo_moved(fact, batch, acts))
        corrected = _corrected(whole or fact, acts, was=parts)
        found = [
            *map(Withdrawn, _withdrawn(fact, parts, whole, batch, acts)),
            *([*hidden, *corrected] if whole is not None else [*corrected, *hidden]),  # the row is still there
        ]
    elif was is None:
        found = [
            *(_ended(fact, batch, acts) if key not in rows.would else ()),
            *_article_came(fact, parts, acts),
            *_embargo_moved(fact, batch, acts),
            *_new_batch(batch, rows, acts),
            *_corrected(whole or fact, acts, now=parts),
            *_corrected_withdrawal(acts),
        ]
    else:
        found = [*_corrected(whole or fact, acts), *_ended(fact, batch, acts, revealed=shown.values)]
    return found[0] if found else None


def _values(fact: Fact | None) -> tuple[object, ...] | None:
    return None if fact is None else fact.values


def _batch(whole: Fact | None, fact: Fact, rows: Rows) -> str | None:
    """The batch a fact truly came from; of a part of something, that thing's."""
    for known in (whole, next((rows.whole[k] for k in rows.whole if rows.whole[k].about == fact.about), None)):
        if known is not None and known.origin is not None:
            return known.origin[0]
    return None


def _method_cause(rows: Rows, acts: Acts) -> str | None:
    new = [batch for batch in acts.said if batch not in rows.batches]
    if new:
        return f"the constants of the method, set by batch {_named(new[-1], acts)}"
    ended = [e for e in _ended_embargoes(acts) if e.batch_id in acts.said]
    return f"the constants of the method: {_end(ended[0], acts)}" if ended else None


def _new_batch(batch: str | None, rows: Rows, acts: Acts) -> Iterator[str]:
    if batch is not None and batch in acts.titles and batch not in rows.batches:
        yield f"new batch {_named(batch, acts)}"


def _ended_embargoes(acts: Acts) -> list[Embargo]:
    return [e for e in acts.embargoes if acts.since < e.until_utc <= acts.until]


def _ended(fact: Fact, batch: str | None, acts: Acts, *, revealed: Sequence[object] = ()) -> Iterator[str]:
    """Embargoes that ended meanwhile: on the fact's device, in its batch, or on what it names now."""
    for embargo in _ended_embargoes(acts):
        own = embargo.device is not None and embargo.device in (fact.device, *revealed)
        if own or (batch is not None and embargo.batch_id == batch):
            yield _end(embargo, acts)


def _end(embargo: Embargo, acts: Acts) -> str:
    what = {
        "device": embargo.device,
        "unit": f"unit {embargo.unit} of {embargo.device}",
        "firmware": f"firmware {embargo.version} of {embargo.device}",
        "batch": f"batch {_named(embargo.batch_id, acts)}",
    }[embargo.subject]
    return f"the embargo on {what} ended at {embargo.until_utc}"


def _embargo_moved(fact: Fact, batch: str | None, acts: Acts) -> Iterator[str]:
    """Embargoes may be lifted, moved or begun only by a correction, dated no earlier than the published site."""
    for c in reversed(acts.corrections):
        near = c.device == fact.device if c.device is not None else c.batch_id == batch
        if c.table.endswith("embargo") and near and c.date >= acts.since[:10]:
            yield f"{c.column} of an embargo corrected on {c.date}: was {c.was}, now {c.now} ({c.reason})"


def _article_came(fact: Fact, parts: Sequence[object], acts: Acts) -> Iterator[str]:
    if fact.table == "article":
        at = acts.articles.get(str(parts[0]))
        if at is not None and acts.since < at <= acts.until:
            yield f"the review {parts[0]} was published at {at}"


def _corrected(fact: Fact, acts: Acts, *, was: Sequence[object] = (), now: Sequence[object] = ()) -> Iterator[str]:
    """Corrections of the fact's row; where its key was corrected, those of its device that name the old or new one."""
    words = {"was": {_plain(part) for part in was}, "now": {_plain(part) for part in now}}
    for c in reversed(acts.corrections):
        own = fact.origin is not None and (c.batch_id, c.source_file, c.source_row) == fact.origin
        moved = c.device == fact.device and (c.was in words["was"] or c.now in words["now"])
        evidence = fact.table == "ceiling" and c.run_id is not None and c.device == fact.device
        if own or moved or evidence:
            yield f"{c.column} corrected on {c.date}: was {c.was}, now {c.now} ({c.reason})"


def _corrected_withdrawal(acts: Acts) -> Iterator[str]:
    for c in reversed(acts.corrections):
        if c.table.startswith("withdrawal") and c.date >= acts.since[:10]:
            yield f"{c.column} of a withdrawal corrected on {c.date}: was {c.was}, now {c.now} ({c.reason})"


def _withdrawn(fact: Fact, parts: Sequence[object], whole: Fact | None, batch: str | None, acts: Acts) -> Iterator[str]:
    for w in acts.withdrawals:
        if w.from_date > acts.until[:10]:
            continue
        thing = w.id.split("/")[0].split("@")[0]
        row = whole is not None and whole.origin is not None and _place(whole.origin) == w.id
        if row or w.id == batch or (fact.device is not None and thing == fact.device) or w.id in parts:
            yield f"{w.what} {w.id} was withdrawn from {w.from_date}: {w.reason}"


def _place(origin: tuple[str, str, int | None]) -> str:
    batch, file, row = origin
    return f"{batch}/{file.rsplit('.', 1)[0]}/{row}"


def _plain(part: object) -> str:
    return f"{part:g}" if isinstance(part, float) else str(part)


def _named(batch: str, acts: Acts) -> str:
    title = acts.titles.get(batch)
    return f"{batch} ({title})" if title else batch


def fact_words(key: str) -> str:
    """A fact for a person: its table and what tells it apart."""
    table, *parts = json.loads(key)
    return f"{table.replace('_', ' ')} {wording.listing([_plain(p) for p in parts if p is not None], 'and')}"
