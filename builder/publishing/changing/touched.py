"""What a correction leaves to redo: every sentence of an article and every exported image that is out of date.

Nothing is guessed: everything articles say and show is made before and after, and compared.
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder import addresses
from builder.articles.bindings import OPEN
from builder.articles.blocks import BlockOrder
from builder.articles.bound_article import BoundArticle, article_file
from builder.articles.figures import FigureOrder
from builder.charts.figures import Figure
from builder.pages.contents import Contents, Ways, load_contents
from builder.pages.parts.blocks import Table
from builder.pages.parts.looked_up import look_up
from builder.pages.parts.picturing import image_address
from builder.pages.parts.when_asked import PartsWhenAsked, ranked_when_asked
from builder.pages.review import Stretch, review_page
from catalog import queries
from catalog.connection import open_catalog
from catalog.visibility import public_copy

Place = tuple[str, int, str, int]  # article's file, line, binding as typed, its number among equals on the line
REFUSED = "cannot be published: "


@dataclass(frozen=True, slots=True)
class Said:
    """What all articles say and show at one moment.

    texts   place of a binding -> its text, or why it cannot be published
    images  place of a figure -> (folder of its stills, digest of what is drawn)
    """

    texts: Mapping[Place, str]
    images: Mapping[Place, tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Touched:
    """A sentence or an image to redo. *image* is the folder of its stills, "" for a sentence."""

    file: str
    line: int
    was: str
    now: str
    image: str = ""

    def to_json(self) -> dict[str, str | int | None]:
        """One entry of `changes --json`."""
        texts = {"was": None, "now": None} if self.image else {"was": self.was, "now": self.now}
        return {"file": self.file, "line": self.line, **texts, "image": self.image or None}

    def __str__(self) -> str:
        if self.image:
            return f"{self.file} line {self.line}: the figure changed; export {self.image} again"
        return f"{self.file} line {self.line}: was {self.was}; now {self.now}"


def said_by_articles(catalog: Path, *, as_of: datetime) -> Said:
    """What the published articles of a catalogue say and show at an instant; nothing where none binds anything."""
    with closing(open_catalog(catalog, readonly=True)) as whole:
        if not binds(whole):
            return Said({}, {})
    with closing(public_copy(catalog, as_of=as_of)) as copy:
        return said_in(contents_of(copy, as_of=as_of, ways=Ways(rankings=ranked_when_asked, results=PartsWhenAsked)))


def touched_since(was: Database, contents: Contents) -> tuple[Touched, ...]:
    """What is to be redone in articles and stills between an earlier public copy and now.

    contents  what the site is made of now; the earlier copy is looked at as of the same instant
    """
    if not binds(was):
        return ()
    return touched(said_in(contents_of(was, as_of=contents.site.as_of)), said_in(contents))


def binds(db: Database) -> bool:
    """Whether any article of a catalogue or copy binds anything."""
    return any(OPEN.search(article.text) for article in queries.articles(db))


def contents_of(copy: Database, *, as_of: datetime, ways: Ways | None = None) -> Contents:
    """What pages are made of, except for the sizes of pictures, which no figure needs."""
    sizes = {image_address(image): (0, 0) for image in queries.images(copy)}
    return load_contents(copy, as_of=as_of, sizes=sizes, ways=ways or Ways())


def said_in(contents: Contents) -> Said:
    """What the articles of a public copy say and show."""
    texts: dict[Place, str] = {}
    images: dict[Place, tuple[str, str]] = {}
    for article in look_up(*contents):
        file = article_file(article.article)
        met: Counter[tuple[int, str]] = Counter()

        def place(line: int, typed: str, *, file: str = file, met: Counter[tuple[int, str]] = met) -> Place:
            met[line, typed] += 1
            return file, line, typed, met[line, typed]

        for one in article.bound:
            texts[place(one.binding.line, one.binding.typed)] = one.quote.printed
        for problem in article.problems:
            texts[place(problem.line, problem.typed)] = REFUSED + problem.sentence
        for order, stretch in _figures(contents, article):
            if stretch.drawing is not None:
                figure = stretch.drawing.figure
                images[place(order.line, order.typed)] = addresses.still(figure.key, ""), _digest(figure)
            if stretch.table is not None:
                texts[place(order.line, order.typed)] = _rows(stretch.table)
    return Said(texts, images)


def touched(before: Said, after: Said) -> tuple[Touched, ...]:
    """The sentences and images that differ, by file and line. A figure that can no longer be shown is a sentence."""
    differing = [
        Touched(place[0], place[1], text, after.texts[place])
        for place, text in before.texts.items()
        if place in after.texts and after.texts[place] != text
    ]
    differing += [
        Touched(place[0], place[1], "a figure", after.texts[place])
        for place in before.images
        if place not in after.images and place in after.texts
    ]
    differing += [
        Touched(place[0], place[1], digest, after.images[place][1], image)
        for place, (image, digest) in before.images.items()
        if place in after.images and after.images[place][1] != digest
    ]
    return tuple(sorted(differing, key=lambda one: (one.file, one.line, one.image, one.was)))


def _figures(contents: Contents, article: BoundArticle) -> list[tuple[FigureOrder | BlockOrder, Stretch]]:
    stretches = review_page(*contents, article).text
    return [(p.figure, s) for p, s in zip(article.passages, stretches, strict=True) if p.figure is not None]


def _rows(table: Table) -> str:
    """Every value of a table, a row after the other."""
    rows = ([entry.text or entry.why_missing for entry in (row.head, *row.entries)] for row in table.rows)
    return "; ".join(", ".join(row) for row in rows)


def _digest(figure: Figure) -> str:
    content = [figure.title, figure.spoken, figure.spec, figure.notes]
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
