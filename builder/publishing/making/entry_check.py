"""What a build or a publication would refuse of a batch, seen before the batch is entered.

Articles are read against the catalogue as it would be, in memory, each at the first instant at which it can be seen;
nothing is drawn and no page is written. Texts are searched for what no public site may hold. Of the catalogue's own
articles those are read on which the batch may bear (`changing.bearing`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, nullcontext
from datetime import UTC, datetime
from functools import cached_property
from typing import TYPE_CHECKING

from sqlite_utils import Database

from builder import shipped
from builder.articles.bindings import OPEN
from builder.articles.resting import Resting, may_rest_on, resting_of
from builder.publishing.changing.bearing import devices_changed, shown
from builder.publishing.checking.leaks import leaks_in
from builder.publishing.checking.own_words import own_words
from builder.publishing.checking.secrets_sought import Sought, sought
from catalog import queries
from catalog.checking.batches import Checked
from catalog.checking.known import Row
from catalog.connection import path_of
from catalog.entering import Foreseen, WouldBe
from catalog.errors import Problem
from catalog.queries import HiddenWords
from catalog.reading.sources import place_of
from catalog.row_numbers import cell_of, row_of

if TYPE_CHECKING:
    from builder.articles.bound_article import BoundArticle
    from builder.publishing.making.articles_read import Place

CODE = "build-would-refuse"
REMARK = "look-at-article"

_NOT_PUBLIC = frozenset({"row_again", "declaration"})


def foresee(checked: Checked, db: Database | None, *, now: datetime, would_be: WouldBe | None = None) -> Foreseen:
    """The problems and warnings that a build would have with a sound batch beside what the catalogue *db* holds.

    would_be  the catalogue with the batch in it, where somebody has it
    """
    problems = list(_private_rows(checked))
    warnings: list[Problem] = []
    new: dict[str, Row] = {row["article_id"]: row for row in checked.rows.get("article", ())}
    known = [] if db is None else queries.articles(db)
    if not any(OPEN.search(article.text) for article in known):
        known = []
    if new or known:
        with closing(WouldBe(checked, db, now=now)) if would_be is None else nullcontext(would_be) as with_it:
            changed = changed_by(checked, db, with_it.whole, now=now) if known else frozenset()
            old = {article.article_id for article in known if may_rest_on(article, changed)}
            if new or old:
                of_articles = _of_articles(db, with_it.whole, new, old, changed, now=now)
                problems += of_articles[0]
                warnings += of_articles[1]
    return problems, warnings


def changed_by(checked: Checked, db: Database | None, whole: Database, *, now: datetime) -> frozenset[str] | None:
    """The devices on which the batch bears, as far as the public sees today; None: on all of them."""
    if db is None or checked.by_new_marks:
        return None
    with closing(shown(path_of(db) or db, as_of=now)) as before, closing(shown(whole, as_of=now)) as after:
        return devices_changed(before, after)


def _of_articles(
    db: Database | None,
    whole: Database,
    new: dict[str, Row],
    known: set[str],
    changed: frozenset[str] | None,
    *,
    now: datetime,
) -> Foreseen:
    """What a build would say of new articles, by id, and of *known* ones in the catalogue *db* on which the batch bears.

    changed  the devices on which it bears; None: all
    """
    # What pages need is loaded where an article is read.
    from builder.publishing.making.articles_read import ArticlesRead, wrong_in

    problems: list[Problem] = []
    warnings: list[Problem] = []
    left = dict(new)
    named = {*new, *known}
    resting = {one.article_id: resting_of(one) for one in queries.articles(whole) if one.article_id in named}
    old = {one for one in known if resting[one].rests_on(changed)}
    for at in _instants(whole, new.values(), now=now):
        if not left and not old:
            break
        with closing(ArticlesRead(whole, {one: resting[one] for one in {*left, *old}}, as_of=at)) as read:
            secrets, home = _Secrets(whole, at), read.contents.site.address or ""
            for article_id, one in read.bound.items():
                row = left.pop(article_id, None)
                if row is not None:
                    wrong = wrong_in(one, secrets.sought_in(one), has_page=read.has_page, home=home)
                    problems += [_problem(row["path"], place) for place in wrong]
                    remarks = ((w.line, w.typed, w.sentence) for w in one.warnings)
                    warnings += [_problem(row["path"], place, code=REMARK) for place in remarks]
            if old:
                assert db is not None
                broken = [one for article_id, one in read.bound.items() if article_id in old and one.problems]
                warnings += _newly_broken(broken, {one: resting[one] for one in old}, db, at=at)
                old = set()
    return problems, warnings


class _Secrets:
    """What must not stand in an article at an instant."""

    def __init__(self, whole: Database, at: datetime) -> None:
        self._whole, self._at = whole, at

    @cached_property
    def _words(self) -> HiddenWords:
        return queries.hidden_words(self._whole, _utc(self._at))

    @cached_property
    def _all(self) -> Sought:
        return sought(self._words)

    @cached_property
    def _secret(self) -> Sought:
        return sought(self._words, usual=own_words(shipped.templates_folder()))

    def sought_in(self, one: BoundArticle) -> Sought:
        """What is looked for in an article. Words of the program are no secrets, and reading them takes a second."""
        from builder.publishing.making.articles_read import texts_of

        return self._secret if any(self._all.holds(text) for _, text in texts_of(one)) else self._all


def _instants(whole: Database, articles: Iterable[Row], *, now: datetime) -> list[datetime]:
    """Now and every later one at which an article, or what hides it, may come into view."""
    later = {row["published_utc"] for row in articles} | {e.until_utc for e in queries.embargoes(whole)}
    return [now, *(datetime.fromisoformat(text).astimezone(UTC) for text in sorted(later) if text > _utc(now))]


def _newly_broken(
    bound: Iterable[BoundArticle], resting: Mapping[str, Resting], db: Database, *, at: datetime
) -> list[Problem]:
    """Places in articles of the catalogue that every build would refuse once the batch is in, and accepts now."""
    from builder.publishing.making.articles_read import ArticlesRead

    after = {(one.article.article_id, p.typed): p for one in bound for p in one.problems}
    if not after:
        return []
    with closing(ArticlesRead(db, {one: resting[one] for one, _ in after}, as_of=at)) as read:
        before = {(one, p.typed) for one, article in read.bound.items() for p in article.problems}
        there = set(read.bound)
    return [
        _problem(
            problem.file, (problem.line, problem.typed, f"With this batch in it stops every build: {problem.sentence}")
        )
        for (article_id, typed), problem in after.items()
        if article_id in there and (article_id, typed) not in before
    ]


def _private_rows(checked: Checked) -> Iterator[Problem]:
    """Texts of the batch that no public site may hold."""
    seen: dict[str, list[str]] = {}
    for table, rows in {"batch": [checked.batch], **checked.rows}.items():
        if table in _NOT_PUBLIC:
            continue
        for row in rows:
            for column, text in row.items():
                if not isinstance(text, str) or (table, column) == ("article", "text"):
                    continue
                if text not in seen:
                    seen[text] = [leak.refusal for leak in leaks_in(text, "", Sought(()))]
                place, number = place_of(row.get("source_file", "batch.toml")), row.get("source_row", 1)
                for sentence in seen[text]:
                    yield Problem(
                        table=place.table,
                        row=row_of(number),
                        column=column,
                        value=text,
                        expected=sentence,
                        remedy="",
                        code=CODE,
                        file=place.file,
                        sheet=place.sheet,
                        cell=cell_of(number),
                        by_cell=place.mapped,
                    )


def _problem(file: str, place: Place, *, code: str = CODE) -> Problem:
    line, typed, sentence = place
    shown = f"{typed} {sentence}" if typed.startswith("(=") else sentence
    return Problem(table=file, row=line, column="", value=typed, expected=shown, remedy="", code=code)


def _utc(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
