"""The building blocks of pages. Everything here is text that is ready to be placed: templates compute nothing.

The macros in site_templates/macros take these, one macro a block.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar

from builder.charts.figures import Figure


@dataclass(frozen=True, slots=True)
class Link:
    """A link; *note* is printed after it."""

    text: str
    href: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """A term and its text; *href* is where the text links to, "" for nowhere; *day* the day it tells, "" for none."""

    term: str
    text: str
    href: str = ""
    day: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One cell of a table.

    text         "" where there is no value; then why_missing says why
    interval     in words, after the value
    note         a remark under the value
    sort_key     the value before it was rounded for print, for scripts that sort
    marks        short links after it, such as to a dispute; the *note* of each says what it leads to
    """

    text: str = ""
    unit: str = ""
    interval: str = ""
    note: str = ""
    why_missing: str = ""
    sort_key: str = ""
    href: str = ""
    marks: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True)
class Heading:
    """A column heading. Numbers are set flush right; sentences get room, so that no cell becomes a tower.

    decides  whether it is the column that readers come for: it stands second, and stays in sight on a phone
    """

    text: str
    numeric: bool = False
    sentence: bool = False
    decides: bool = False

    @property
    def style(self) -> str:
        """Names of its styles, as site_templates/css/tables.css has them."""
        kinds = (("number", self.numeric), ("sentence", self.sentence), ("decides", self.decides))
        return " ".join(name for name, applies in kinds if applies)


@dataclass(frozen=True, slots=True)
class Row:
    """A row: its heading, then one entry for each further column. *key* is its fragment, "" for none.

    facets  what it can be filtered by, written as in an address: "band=2.4+5&width=80"
    """

    head: Entry
    entries: tuple[Entry, ...]
    key: str = ""
    facets: str = ""


@dataclass(frozen=True, slots=True)
class Rest:
    """The rows of a table that do not fit on its page (pages/parts/leaves.py).

    words      which rows stand on the page, of how many
    links      the pages with the others
    href, key  where scripts load the rows from, and the key they are registered under
    """

    rows: tuple[Row, ...]
    words: str
    links: tuple[Link, ...]
    href: str
    key: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table. *key* is its fragment on the page; *rest* its rows that lie elsewhere.

    repeats  whether its caption says no more than the heading right above it: then it is for those alone who hear tables

    Raises  ValueError if a row does not have one entry per heading, or another column than the second decides.
    """

    key: str
    caption: str
    columns: tuple[Heading, ...]
    rows: tuple[Row, ...]
    rest: Rest | None = None
    repeats: bool = False

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.entries) + 1 != len(self.columns):
                raise ValueError(f"{self.key}: {len(row.entries) + 1} entries under {len(self.columns)} headings")
        if any(column.decides for place, column in enumerate(self.columns) if place != 1):
            raise ValueError(f"{self.key}: the column that decides stands second")

    @property
    def folds(self) -> bool:
        """Whether its rows fold on a narrow screen: one column decides, and others follow it."""
        return len(self.columns) > 2 and self.columns[1].decides

    @property
    def or_none(self) -> Table | None:
        """The table; None if it has no rows."""
        return self if self.rows else None


@dataclass(frozen=True, slots=True)
class Drawing:
    """A figure's place on a page: where its specification lies, and the figure itself for the renderer.

    own_table  the page already shows the figure's values in a table, so none is added
    borrowed   it is another page's figure, which brings the files that go with it
    """

    figure: Figure
    specification_href: str
    own_table: bool = False
    borrowed: bool = False

    @property
    def picture_href(self) -> str:
        """Where it lies as a picture: beside its specification."""
        return f"{self.specification_href.removesuffix('.json.zip')}.svg"


@dataclass(frozen=True, slots=True)
class Side:
    """One of two ways to match, side by side: its name, its sentence, the plain reason to read it, and an aside."""

    heading: str
    sentence: str
    reading: str
    aside: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a page that repeats: a heading, sentences, and optionally a drawing and tables."""

    key: str
    heading: str
    sentences: tuple[str, ...] = ()
    drawing: Drawing | None = None
    tables: tuple[Table, ...] = ()
    links: tuple[Link, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Page:
    """What every page has.

    template    its file in site_templates/pages
    title       a name: the first heading, and what windows and search results call it
    question    what it answers, the line under its name; "" where the name says it
    verdict     the answer in one sentence
    basis       what the answer holds for, in small print under it
    facts       terms beside the page
    cannot_say  what the page's data cannot tell
    provenance  where it comes from: newest data, method, batches
    cautions    whether it carries the cautions, because it leads to a screwdriver, a ladder, a plug or a hot surface
    about       the thing it describes, as Schema.org has it; None where there is no single thing
    preview     address of the picture that links to it are shown with; "" for none
    """

    template: ClassVar[str]
    canonical: ClassVar[bool] = True  # False for a page that only leads elsewhere
    grows: ClassVar[bool] = False  # with the bench, so that its long tables are cut (pages/parts/leaves.py)
    table_room: ClassVar[int] = 0  # how much of them stays on the page [B]; 0 for the usual amount
    wide: ClassVar[bool] = False  # its picture needs the whole width: no list of contents stands beside it

    address: str
    title: str
    question: str
    verdict: str
    basis: str = ""
    facts: tuple[Fact, ...] = ()
    cannot_say: tuple[str, ...] = ()
    provenance: tuple[Fact, ...] = ()
    cautions: bool = False
    about: Mapping[str, Any] | None = None
    preview: str = ""

    @property
    def newest(self) -> str:
        """The day of the newest data on it, as the catalogue has it; "" where it shows none."""
        return next((fact.day for fact in self.provenance if fact.day), "")

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        """The charts of the page, in reading order."""
        return ()


@dataclass(frozen=True, kw_only=True)
class Frame:
    """What surrounds a page: the same for all, except for the links, which depend on where the page lies."""

    site_title: str
    language: str
    style: str
    icon: str
    script: str
    home: str
    ways: tuple[Link, ...]
    questions: tuple[Section, ...]  # every way, by the reader's situation
    current: tuple[str, ...]  # texts of the ways that lead to where the page lies
    as_of: str  # the instant of the build; "" on a page that does not say it
    licence: str
    words: tuple[Link, ...] = ()  # of the glossary that the page uses
    author: str = ""
    contact: str = ""
    atom_feed: str = ""
    json_feed: str = ""
    description: str = ""  # of the page, for search results: short, and another one on every page
    canonical: str = ""  # the page's whole address; "" where the site has none
    preview_image: str = ""
    structured: str = ""  # JSON-LD, safe to stand in a page
    charts: str = ""  # the script with what is drawn when a chart of the page is zoomed; "" where none can be
    banner: str = ""  # the notice at the head of a preview; "" on a public page
    policy: str = field(
        # The style sheet carries the face of figures as data, for a page from disk may load no file of a font.
        default="default-src 'none'; script-src 'self'; style-src 'self'; font-src data:; img-src 'self'; "
        "base-uri 'none'; form-action 'none'"
    )
