"""Articles read against a catalogue before it is built: only what they rest on is copied, and nothing is drawn.

What is said of them is what a build would say. A link to a page that not every site has, such as that of two devices,
needs the list of all pages, which rests on the whole catalogue: who brings such a link waits for it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from datetime import datetime
from functools import cached_property
from typing import Any

from sqlite_utils import Database

from builder import addresses
from builder.articles.bound_article import BoundArticle
from builder.articles.resting import Resting, asked_for
from builder.bench.asking import series_in
from builder.bench.cells import Group
from builder.bench.naming import group_names
from builder.pages.contents import Contents, Results, Ways, load_contents
from builder.pages.parts.looked_up import look_up_one
from builder.pages.parts.picturing import image_address
from builder.pages.parts.when_asked import PartsWhenAsked, ranked_when_asked
from builder.pages.worked_out import WorkedOut
from builder.publishing.checking.leaks import leaks_in
from builder.publishing.checking.links import page_links
from builder.publishing.checking.secrets_sought import Sought
from catalog import queries
from catalog.connection import path_of
from catalog.visibility import public_copy, public_part
from catalog.visibility.seen import Link, links_seen

Place = tuple[int, str, str]  # line of an article, what is typed there, and the sentence about it

# Links to these are left to the build: files that pages bring along, and pages that depend on what was published.
_BESIDE_PAGES = re.compile(r"(?:assets|data|figures|go|images|scripts|stills)/|.*/published/|.*-\d+\.html$|feed\.")


class _OfPart(PartsWhenAsked):
    """Results of a part of a copy. *groups*: those of the whole copy, which tell how a group is told from others."""

    def __init__(self, worked: WorkedOut, groups: Collection[Group]) -> None:
        super().__init__(worked)
        self.__dict__["_groups"] = groups

    def _part(self, name: str) -> Any:
        return group_names(self.bench, others=self._groups) if name == "names" else super()._part(name)


class ArticlesRead:
    """Some articles at one instant, with everything that they bind looked up. Closed, it lets go of its copies.

    contents  what they rest on
    bound     those that may be seen, by id, in the order of all articles
    """

    def __init__(self, catalog: Database, resting: Mapping[str, Resting], *, as_of: datetime) -> None:
        """resting: article -> what it rests on. Raises CatalogUnusable."""
        self._source, self._as_of = path_of(catalog) or catalog, as_of
        self._copies: list[Database] = []
        asked = asked_for(resting.values(), queries.clients(catalog), bridged=bool(queries.bridge_values(catalog)))
        links: list[Link] = []

        def look(db: Database) -> None:
            links.extend(links_seen(db))

        part = public_part(self._source, asked, as_of=as_of, then=look)
        series = series_in(part)
        groups = {Group(series[link[0], link[1]], *link[2:]) for link in links}
        self.contents = self._load(part, lambda worked: _OfPart(worked, groups))
        wanted = [one for one in self.contents.catalogue.articles if one.article_id in resting]
        self.bound = {one.article_id: look_up_one(*self.contents, one) for one in wanted}

    def _load(self, copy: Database, results: Callable[[WorkedOut], Results]) -> Contents:
        self._copies.append(copy)
        sizes = {image_address(image): (0, 0) for image in queries.images(copy)}  # no figure needs them
        ways = Ways(rankings=ranked_when_asked, results=results)
        return load_contents(copy, as_of=self._as_of, sizes=sizes, ways=ways)

    def has_page(self, path: str) -> bool:
        """Whether the site of that instant has a page at *path*."""
        return path in self._pages_of_things or path in self._all_pages

    @cached_property
    def _pages_of_things(self) -> set[str]:
        from builder.publishing.making.page_list import pages_of_things  # loads every kind of page

        return pages_of_things(self.contents.catalogue, self.contents.results.bench)

    @cached_property
    def _all_pages(self) -> set[str]:
        return addresses_of(self._load(public_copy(self._source, as_of=self._as_of), PartsWhenAsked))

    def close(self) -> None:
        for copy in self._copies:
            copy.close()


def addresses_of(contents: Contents) -> set[str]:
    """Where the pages of a whole site lie, but for those that only lead on."""
    from builder.publishing.making.page_list import all_pages  # loads every kind of page

    return {addresses.DATA, *(task.address for task in all_pages(contents.catalogue, contents.results, dated={}))}


def wrong_in(one: BoundArticle, secret: Sought, *, has_page: Callable[[str], bool], home: str) -> Iterator[Place]:
    """Everything in an article that stops a build or a publication, by line.

    home  address of the site; "" where it has none
    """
    faults = [(problem.line, problem.typed, problem.sentence) for problem in one.problems]
    faults += _dead_links(one, has_page, home)
    faults += _private_text(one, secret)
    yield from sorted(faults)


def _dead_links(one: BoundArticle, has_page: Callable[[str], bool], home: str) -> Iterator[Place]:
    here, html = addresses.review(one.article.article_id), _html(one)
    links = page_links(html, here, home=home)
    for target, why in links.wrong:
        yield _line_with(one, target), target, f"The link to {target} is refused: {why}."
    for path, _, target in links.inside:
        if not _BESIDE_PAGES.match(path) and not has_page(path):
            why = f"there is no page {path}. A link leads to the file of a page, such as ../../{addresses.DEVICES}."
            yield _line_with(one, target), target, f"The link to {target} is refused: {why}"


def _private_text(one: BoundArticle, secret: Sought) -> Iterator[Place]:
    """What a publication must not hold, by line where one line holds all of it."""
    seen: set[str] = set()
    for number, text in texts_of(one):
        for leak in leaks_in(text, "", secret):
            if number > 1 or leak.kind not in seen:
                seen.add(leak.kind)
                yield number, "", leak.refusal


def texts_of(one: BoundArticle) -> list[tuple[int, str]]:
    """What a publication shows of an article, each with its line: the text as it was typed, as HTML, and the title."""
    return [*enumerate(one.article.text.split("\n"), start=1), (1, _html(one)), (1, one.article.title)]


def _html(one: BoundArticle) -> str:
    return "".join(passage.html for passage in one.passages)


def _line_with(one: BoundArticle, target: str) -> int:
    lines = one.article.text.split("\n")
    return next((number for number, line in enumerate(lines, start=1) if target in line), 1)
