"""What a build or a publication would refuse of a batch, seen before the batch is entered.

Articles are read against the catalogue as it would be, in memory, each at the first instant at which it can be seen;
nothing is drawn and no page is written. Texts are searched for what no public site may hold.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from contextlib import closing
from datetime import UTC, datetime

from sqlite_utils import Database

from builder import addresses, shipped, wording
from builder.articles.bound_article import BoundArticle
from builder.pages.contents import Contents
from builder.pages.parts.looked_up import look_up
from builder.publishing.changing.touched import binds, contents_of
from builder.publishing.checking.leaks import leaks_in
from builder.publishing.checking.links import page_links
from builder.publishing.checking.own_words import own_words
from builder.publishing.checking.secrets_sought import Sought, sought
from builder.publishing.making.page_list import all_pages
from catalog import queries
from catalog.checking.batches import Checked
from catalog.checking.known import Row
from catalog.connection import path_of
from catalog.entering import Foreseen, as_if_entered
from catalog.errors import Problem
from catalog.reading.sources import place_of
from catalog.row_numbers import cell_of, row_of
from catalog.visibility import public_copy

CODE = "build-would-refuse"
REMARK = "look-at-article"
Place = tuple[int, str, str]  # line of an article, what is typed there, and the sentence about it

_NOT_PUBLIC = frozenset({"row_again", "declaration"})
# Links to these are left to the build: files that pages bring along, and pages that depend on what was published.
_BESIDE_PAGES = re.compile(r"(?:assets|data|figures|go|images|scripts|stills)/|.*/published/|.*-\d+\.html$|feed\.")


def foresee(checked: Checked, db: Database | None, *, now: datetime) -> Foreseen:
    """The problems and warnings that a build would have with a sound batch beside what the catalogue *db* holds."""
    problems = list(_private_rows(checked))
    warnings: list[Problem] = []
    left: dict[str, Row] = {row["article_id"]: row for row in checked.rows.get("article", ())}
    old = db is not None and binds(db)
    if not left and not old:
        return problems, warnings
    with closing(as_if_entered(checked, db, now=now)) as whole:
        for at in _instants(whole, left.values(), now=now):
            if not left and not old:
                break
            secret = sought(queries.hidden_words(whole, _utc(at)), usual=own_words(shipped.templates_folder()))
            with closing(public_copy(whole, as_of=at)) as copy:
                contents = contents_of(copy, as_of=at)
            bound = look_up(*contents)
            for one in bound:
                row = left.pop(one.article.article_id, None)
                if row is not None:
                    problems += [_problem(row["path"], place) for place in wrong_in(contents, one, secret)]
                    remarks = ((w.line, w.typed, w.sentence) for w in one.warnings)
                    warnings += [_problem(row["path"], place, code=REMARK) for place in remarks]
            if old:
                assert db is not None
                warnings += _newly_broken(bound, db, at=at)
                old = False
    return problems, warnings


def _instants(whole: Database, articles: Iterable[Row], *, now: datetime) -> list[datetime]:
    """Now and every later one at which an article, or what hides it, may come into view."""
    later = {row["published_utc"] for row in articles} | {e.until_utc for e in queries.embargoes(whole)}
    return [now, *(datetime.fromisoformat(text).astimezone(UTC) for text in sorted(later) if text > _utc(now))]


def wrong_in(contents: Contents, one: BoundArticle, secret: Sought) -> Iterator[Place]:
    """Everything in an article that stops a build or a publication, by line."""
    faults = [(problem.line, problem.typed, problem.sentence) for problem in one.problems]
    faults += _dead_links(contents, one)
    faults += _private_text(one, secret)
    yield from sorted(faults)


def _dead_links(contents: Contents, one: BoundArticle) -> Iterator[Place]:
    here, html = addresses.review(one.article.article_id), "".join(passage.html for passage in one.passages)
    links = page_links(html, here, home=contents.site.address or "")
    there = {task.address for task in all_pages(contents.catalogue, contents.results, data=(), dated={})}
    for target, why in links.wrong:
        yield _line_with(one, target), target, f"The link to {target} is refused: {why}."
    for path, _, target in links.inside:
        if path not in there and not _BESIDE_PAGES.match(path):
            why = f"there is no page {path}. A link leads to the file of a page, such as ../../{addresses.DEVICES}."
            yield _line_with(one, target), target, f"The link to {target} is refused: {why}"


def _private_text(one: BoundArticle, secret: Sought) -> Iterator[Place]:
    """What a publication must not hold, by line where one line holds all of it."""
    html = "".join(passage.html for passage in one.passages)
    lines = [(number, line) for number, line in enumerate(one.article.text.split("\n"), start=1)]
    seen: set[str] = set()
    for number, text in (*lines, (1, html), (1, one.article.title)):
        for leak in leaks_in(text, "", secret):
            if number > 1 or leak.kind not in seen:
                seen.add(leak.kind)
                yield number, "", _private(leak.kind, leak.text)


def _private(kind: str, text: str) -> str:
    return f"{wording.capital(kind)} must not be public, so no site with it can be published: {text}. Take it out."


def _line_with(one: BoundArticle, target: str) -> int:
    lines = one.article.text.split("\n")
    return next((number for number, line in enumerate(lines, start=1) if target in line), 1)


def _newly_broken(bound: Iterable[BoundArticle], db: Database, *, at: datetime) -> list[Problem]:
    """Places in articles of the catalogue that every build would refuse once the batch is in, and accepts now."""
    after = {(one.article.article_id, p.typed): p for one in bound for p in one.problems}
    if not after:
        return []
    path = path_of(db)
    assert path is not None
    with closing(public_copy(path, as_of=at)) as copy:
        known = look_up(*contents_of(copy, as_of=at))
    before = {(one.article.article_id, p.typed) for one in known for p in one.problems}
    there = {one.article.article_id for one in known}
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
                    seen[text] = [_private(leak.kind, leak.text) for leak in leaks_in(text, "", Sought(()))]
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
