"""What the page of a watch places: text, links and buttons, and what a click came to."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from builder.watching.states import SoFar


@dataclass(frozen=True, slots=True)
class Answer:
    """What a click came to: sentences for the next page, where that begins, and the lines it is to show."""

    notices: tuple[str, ...] = ()
    refusals: tuple[str, ...] = ()
    at: str = "content"
    shown: str = ""


def refused(*sentences: str, at: str = "content", shown: str = "") -> Answer:
    """Nothing was done, and why."""
    return Answer(refusals=sentences, at=at, shown=shown)


@dataclass(frozen=True, slots=True)
class Link:
    text: str
    href: str


@dataclass(frozen=True, slots=True)
class Fact:
    """As macros/facts.html wants it."""

    term: str
    text: str
    href: str = ""


@dataclass(frozen=True, slots=True)
class Button:
    """value says in a form what it does; sure is said to who hears it where the text alone is not plain."""

    text: str
    value: str


@dataclass(frozen=True, slots=True)
class Said:
    """One sentence of a state, with where it is, since when, and the buttons that settle it.

    field   name of a field for any other answer, "" for none; its button is the last one
    column  that it is about, "" for none
    """

    key: str
    text: str
    remedy: str
    grave: bool
    since: str
    about: Link | None
    log: str
    column: str
    answers: tuple[Button, ...]
    field: str


@dataclass(frozen=True, slots=True)
class Field:
    name: str
    label: str
    unit: str
    text: str
    column: str


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the day. *sentences* are those of it, the grave ones first."""

    key: str
    order: int
    what: str
    state: str
    word: str
    value: str
    at: str
    log: str
    fields: tuple[Field, ...]
    sentences: tuple[Said, ...]
    is_next: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """A log that no row names, as a question. choices are of a list to choose from, chosen by *field*."""

    key: str
    log: str
    likely: str
    yes: Button | None
    field: str
    choices: tuple[Button, ...]
    other: Button


@dataclass(frozen=True, slots=True)
class Lines:
    """New lines of a file. heading: the one that names the columns, where it is not among them."""

    file: str
    lines: tuple[str, ...]
    heading: str


@dataclass(frozen=True, slots=True)
class ToWrite:
    """What a click would write. shown: its lines stand on the page; digest tells them from any others.

    rows, more  those it is of that are named, and how many others there are
    left_out    of rows that landed and would not be written, "" for none
    """

    counted: str
    button: str
    shown: bool
    key: str
    digest: str
    files: tuple[Lines, ...]
    rows: tuple[Link, ...]
    more: int
    left_out: str


@dataclass(frozen=True, slots=True)
class CellLine:
    """A cell of the plan: whose, where, what it comes to so far."""

    device: str
    spot: str
    session: str
    value: str
    interval: str
    runs: str


@dataclass(frozen=True, slots=True)
class WatchPage:
    """All that the template places."""

    title: str
    since: str
    run: str
    token: str
    version: str
    told: Answer
    trouble: tuple[str, ...]
    trouble_more: tuple[str, ...]
    grave: tuple[Said, ...]
    grave_more: tuple[Said, ...]
    other: tuple[Said, ...]
    other_more: tuple[Said, ...]
    quiet: str
    next: Line | None
    next_words: str
    next_perhaps: Link | None
    asked: tuple[Asked, ...]
    writing: ToWrite
    decided: tuple[tuple[str, Button], ...]
    so_far: SoFar
    picture: Markup
    cells: tuple[CellLine, ...]
    lines: tuple[Line, ...]
    facts: tuple[Fact, ...]
    contents: tuple[Link, ...]

    @property
    def can_type(self) -> bool:
        """Whether there is a field for something beside a log."""
        return any(line.fields for line in self.lines)
