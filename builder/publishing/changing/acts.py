"""What lies between a published site and now: the acts that the new public copy records, and the rows before and after.

Everything here that can be printed comes from public copies. What has to be known beyond them are fates
(`catalog.visibility.fates`), which hold no name that the copy does not hold.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from tempfile import TemporaryDirectory

from sqlite_utils import Database

from builder.pages.data import CHECKSUMS
from builder.publishing.files.database import DATABASE, PACKED_DATABASE
from builder.publishing.files.downloads import as_published
from builder.publishing.files.packing import unzip
from catalog import queries
from catalog.connection import open_catalog
from catalog.errors import BuildRefused, CatalogUnusable
from catalog.queries import Fact
from catalog.records import Article, Correction, Embargo
from catalog.visibility.fates import Fates, ToldCorrection

Facts = Mapping[str, Fact]


@contextmanager
def published_copy(site: Path) -> Iterator[Database]:
    """The public copy that a published site was made from: in a zip file, or plain, as sites had it until 2026-11.

    Raises  BuildRefused where it is missing or damaged.
    """
    data = site / "data"
    name = next((name for name in (PACKED_DATABASE, DATABASE) if as_published(data, name)), None)
    if name is None:
        raise BuildRefused(
            f"The published site in {site} cannot be compared with: data/{PACKED_DATABASE} is not as it was published, "
            f"by the SHA-256 in data/{CHECKSUMS}. Put the folder back as it was published, from a copy or from the server."
        )
    with TemporaryDirectory(prefix="likeloss-") as folder:
        try:
            path = unzip(data / name, Path(folder)) if name == PACKED_DATABASE else data / name
            copy = open_catalog(path, readonly=True)
        except CatalogUnusable as failure:
            raise BuildRefused(f"The published site in {site} cannot be compared with: {failure}") from failure
        with closing(copy):
            yield copy


@dataclass(frozen=True)
class Acts:
    """What was done to the catalogue between two instants (UTC text).

    titles    batch -> its title
    declared  batches that set constants of the method, in the order of the versions
    marked    role -> the batch that set its marks, of roles that have any
    known     batches that the published site names
    fresh     corrections that the published site does not list
    ended     embargoes that are over now and were not when the site was published
    articles  by id
    restored  whether a withdrawal that the published site names has been lifted
    """

    since: str
    until: str
    titles: Mapping[str, str]
    declared: Sequence[str]
    marked: Mapping[str, str]
    known: frozenset[str]
    fresh: frozenset[ToldCorrection]
    ended: Sequence[Embargo]
    articles: Mapping[str, Article]
    restored: bool


def acts_of(copy: Database, *, published: Database, since: str, until: str) -> Acts:
    """The acts that a public *copy* records and the *published* one does not."""
    corrections, before = (Counter(map(_told_correction, queries.corrections(db))) for db in (copy, published))
    over = {_over(embargo) for embargo in queries.embargoes(published)}
    withdrawn, formerly = ({(w.what, w.id) for w in queries.withdrawals(db)} for db in (copy, published))
    declared = copy.execute("SELECT batch_id FROM method WHERE batch_id IS NOT NULL ORDER BY version").fetchall()
    return Acts(
        since=since,
        until=until,
        titles={batch.batch_id: batch.title for batch in queries.batches(copy)},
        declared=[batch for (batch,) in declared],
        marked=dict(
            copy.execute("SELECT role_id, marks_batch_id FROM role WHERE marks_batch_id IS NOT NULL ORDER BY role_id")
        ),
        known=frozenset(batch.batch_id for batch in queries.batches(published)),
        fresh=frozenset(correction for correction, times in corrections.items() if times > before[correction]),
        ended=[embargo for embargo in queries.embargoes(copy) if _over(embargo) not in over],
        articles={article.article_id: article for article in queries.articles(copy)},
        restored=bool(formerly - withdrawn),
    )


def _told_correction(c: Correction) -> ToldCorrection:
    return ToldCorrection(c.table, c.column, c.was, c.now, c.reason, c.date)


def _over(embargo: Embargo) -> tuple[str | None, ...]:
    """What identifies an embargo; its batch only if it is about the batch, because a batch may get its name back."""
    batch = embargo.batch_id if embargo.subject == "batch" else None
    return embargo.subject, embargo.device, embargo.unit, embargo.version, batch, embargo.until_utc


@dataclass(frozen=True)
class Rows:
    """The facts of three copies, by key, and the fates of all rows there are.

    was    of the published site
    would  what today's catalogue would have shown at the published site's instant
    shown  what it shows now
    """

    was: Facts
    would: Facts
    shown: Facts
    fates: Fates

    def changed(self) -> list[str]:
        """Keys of the facts that came, went or have other values."""
        keys = sorted(self.was.keys() | self.shown.keys())
        return [key for key in keys if values_of(self.was.get(key)) != values_of(self.shown.get(key))]

    @cached_property
    def batches_shown(self) -> frozenset[int | None]:
        """Batches, by number, of which the published site showed something."""
        return frozenset(self.fates.rows[key].batch for key in self.was if key in self.fates.rows)

    @cached_property
    def came(self) -> Mapping[str, Sequence[str]]:
        """Keys of the facts that came, by table."""
        keys: dict[str, list[str]] = {}
        for key in sorted(self.shown.keys() - self.was.keys()):
            keys.setdefault(self.shown[key].table, []).append(key)
        return keys

    @cached_property
    def batch_about(self) -> Mapping[tuple[str, ...], str]:
        """What rows are about -> the batch one of them came from, for rows that do not say so themselves."""
        return {fact.about: fact.origin[0] for fact in self.shown.values() if fact.origin is not None}


def values_of(fact: Fact | None) -> tuple[object, ...] | None:
    """The values of a fact; None for none."""
    return None if fact is None else fact.values
