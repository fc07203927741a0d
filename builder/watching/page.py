"""A state as the page that is looked at standing at a bench: what is wrong, what comes next, and what a click does."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from jinja2 import Environment
from markupsafe import Markup

from builder.watching import forms
from builder.watching.states import DayRow, OtherLog, Place, Sense, SoFar, State, Writing

GRAVE_AT_FIRST, OTHER_AT_FIRST = 5, 3  # sentences; the others are folded away, or what is next would be out of sight
ROWS_NAMED = 3
STATES = {"open": "planned", "landed": "landed", "noted": "done", "held": "held"}
FIELDS = {"level_dbm": ("Level", "dBm"), "note": ("Note", ""), "when": ("Time", "")}
CONTENTS = (
    ("Wrong now", "wrong"),
    ("Next", "next"),
    ("Other logs", "others"),
    ("To write", "writing"),
    ("The line so far", "so-far"),
    ("The day", "day"),
)


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

    field  name of a field for any other answer, "" for none; its button is the last one
    """

    key: str
    text: str
    remedy: str
    grave: bool
    since: str
    about: Link | None
    log: str
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
    sentences: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Lines:
    file: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ToWrite:
    """What a click would write. shown: its lines stand on the page; digest tells them from any others.

    rows, more  those it is of that are named, and how many others there are
    """

    counted: str
    button: str
    shown: bool
    key: str
    digest: str
    files: tuple[Lines, ...]
    rows: tuple[Link, ...]
    more: int


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
    grave: tuple[Said, ...]
    grave_more: tuple[Said, ...]
    other: tuple[Said, ...]
    other_more: tuple[Said, ...]
    quiet: str
    next: Line | None
    next_words: str
    asked: tuple[Asked, ...]
    writing: ToWrite
    so_far: SoFar
    picture: Markup
    lines: tuple[Line, ...]
    facts: tuple[Fact, ...]
    contents: tuple[Link, ...]

    @property
    def can_type(self) -> bool:
        """Whether there is a field for something beside a log."""
        return any(line.fields for line in self.lines)


def row_id(place: Place) -> str:
    """The fragment of a row of the day."""
    return f"row-{forms.log_key(forms.place_text(place))}"


def digest_of(writing: Writing) -> str:
    """What tells the lines of one writing from those of another, with what was typed."""
    lines = [f"{file}\0{line}" for file, new in writing.added.items() for line in new]
    return hashlib.sha256("\n".join([writing.key, *lines]).encode(errors="surrogateescape")).hexdigest()[:24]


def counted(number: int, one: str, several: str = "") -> str:
    """ "1 row", "3 rows"."""
    return f"{number} {one if number == 1 else several or one + 's'}"


def page_of(
    state: State,
    *,
    typed: forms.Typed,
    since: Mapping[str, str],
    shown: str,
    run: str,
    token: str,
    version: str,
    as_of: str,
    told: Answer = Answer(),
) -> WatchPage:
    """The page of a state.

    typed    what the fields of rows hold
    since    key of each sentence -> when it was first said, newest last
    shown    digest of the lines that somebody asked to see, "" for none
    run      tells this run of the watch from others
    version  what the page shows, told from what it showed before
    told     what the last click came to
    """
    names = {row.place: row for row in state.rows}
    all_said = [said(one, names, since) for one in newest_first(forms.senses(state), since)]
    grave, other = [one for one in all_said if one.grave], [one for one in all_said if not one.grave]
    first_open = next((row for row in state.rows if row.state == "open"), None)
    lines = tuple(line(row, typed, since, is_next=row is first_open) for row in state.rows)
    return WatchPage(
        title=state.title,
        since=as_of,
        run=run,
        token=token,
        version=version,
        told=told,
        trouble=state.trouble,
        grave=tuple(grave[:GRAVE_AT_FIRST]),
        grave_more=tuple(grave[GRAVE_AT_FIRST:]),
        other=tuple(other[:OTHER_AT_FIRST]),
        other_more=tuple(other[OTHER_AT_FIRST:]),
        quiet=quiet(state),
        next=next((one for one in lines if one.is_next), None),
        next_words=next_words(state),
        asked=tuple(asked(one, names, since) for one in state.others),
        writing=to_write(state, names, shown),
        so_far=state.so_far,
        picture=Markup(state.so_far.picture),  # drawn by us, in the process that looks
        lines=lines,
        facts=facts(state, first_open, len(grave), as_of),
        contents=tuple(Link(text, f"#{key}") for text, key in CONTENTS if key != "others" or state.others),
    )


def newest_first(senses: Sequence[Sense], since: Mapping[str, str]) -> list[Sense]:
    """The last that was said comes first; of what was said at once, what is of the later row (`since` is in that order)."""
    place = {key: number for number, key in enumerate(since)}
    return sorted(senses, key=lambda sense: place.get(forms.sense_key(sense), len(place)), reverse=True)


def said(sense: Sense, names: Mapping[Place, DayRow], since: Mapping[str, str]) -> Said:
    """A sentence as the page shows it."""
    key = forms.sense_key(sense)
    row = names.get(sense.place) if sense.place else None
    answers = [Button(text, f"settle|{key}|{number}") for number, text in enumerate(sense.asks)]
    if sense.free:
        answers.append(Button("Take this answer", f"settle|{key}|free"))
    return Said(
        key=key,
        text=sense.text,
        remedy=sense.remedy,
        grave=sense.grave,
        since=since.get(key, ""),
        about=Link(row.what, f"#{row_id(row.place)}") if row else None,
        log=sense.log or (row.log if row else ""),
        answers=tuple(answers),
        field=f"answer~{key}" if sense.free else "",
    )


def line(row: DayRow, typed: forms.Typed, since: Mapping[str, str], *, is_next: bool) -> Line:
    """A row of the table of the day."""
    names = {row.place: row}
    fields = tuple(
        Field(
            forms.field_name(column, row.place),
            *FIELDS.get(column, (column, "")),
            text=typed.get(row.place, {}).get(column, text),
            column=column,
        )
        for column, text in row.typed.items()
    )
    sentences = sorted((said(one, names, since) for one in row.senses), key=lambda one: not one.grave)
    return Line(
        key=row_id(row.place),
        order=row.order,
        what=row.what,
        state=row.state,
        word=STATES.get(row.state, row.state),
        value=row.value,
        at=row.at,
        log=row.log,
        fields=fields,
        sentences=tuple(sentences),
        is_next=is_next,
    )


def asked(other: OtherLog, names: Mapping[Place, DayRow], since: Mapping[str, str]) -> Asked:
    """A log that no row names, as a question."""
    key = forms.log_key(other.log)
    likely = names.get(other.likely) if other.likely else None
    rows = [names[place] for place in other.may_be if place in names and place != other.likely]
    return Asked(
        key=key,
        log=other.log,
        likely=likely.what if likely else "",
        yes=Button("Yes, it is", f"give|{key}|{forms.place_text(likely.place)}") if likely else None,
        field=f"row~{key}",
        choices=tuple(Button(f"{row.order}. {row.what}", forms.place_text(row.place)) for row in rows),
        other=Button("It is of this row", f"choose|{key}"),
        sentences=tuple(said(one, names, since) for one in other.senses),
    )


def to_write(state: State, names: Mapping[Place, DayRow], shown: str) -> ToWrite:
    """What a click would write, and its lines where somebody asked to see just these."""
    writing = state.writing
    files = tuple(Lines(file, lines) for file, lines in writing.added.items() if lines)
    rows = [Link(names[place].what, f"#{row_id(place)}") for place in writing.rows if place in names]
    number, digest = sum(len(one.lines) for one in files), digest_of(writing)
    into = " and ".join(f"{counted(len(one.lines), 'line')} would go into {one.file}" for one in files)
    return ToWrite(
        counted=into,
        button=f"Write {'this line' if number == 1 else f'these {number} lines'}",
        shown=bool(files) and shown == digest,
        key=writing.key,
        digest=digest,
        files=files,
        rows=tuple(rows[:ROWS_NAMED]),
        more=len(rows[ROWS_NAMED:]),
    )


def quiet(state: State) -> str:
    """What is said where nothing is wrong."""
    if all(row.state == "open" for row in state.rows) and not state.others:
        return "No log has landed yet."
    return "Nothing is wrong with what has landed."


def next_words(state: State) -> str:
    """What is left once every row has its log."""
    if not state.rows:
        return "The batch plans no rows. A log that lands in its folders is read all the same."
    if state.writing.added:
        return "Every planned row has its log. Write what has landed, then enter the batch."
    if any(row.state == "held" for row in state.rows):
        return "Every planned row has its log. Settle what is held, then enter the batch."
    return "Every planned row is done. The batch can be entered as it lies there."


def facts(state: State, first_open: DayRow | None, grave: int, as_of: str) -> tuple[Fact, ...]:
    """The day in numbers. They stay in view beside everything else, so what is next is among them."""
    number = {name: sum(row.state == name for row in state.rows) for name in STATES}
    rows = [
        Fact("Next", first_open.what if first_open else "nothing is left to run", "#next"),
        Fact("Planned", counted(len(state.rows), "row")),
        Fact("Done", str(number["noted"])),
        Fact("Landed, not written", str(number["landed"]), "#writing" if number["landed"] else ""),
        Fact("Still to run", str(number["open"])),
    ]
    if number["held"]:
        rows.append(Fact("Held", str(number["held"])))
    if grave:
        rows.append(Fact("Wrong", counted(grave, "sentence"), "#wrong"))
    return (*rows, Fact("As of", as_of))


def html_of(
    templates: Environment, page: WatchPage, *, style: Mapping[str, str], scripts: Sequence[str], events: str
) -> str:
    """The page as HTML. Addresses: style of the site, the watch and the icon; scripts; events."""
    context: dict[str, Any] = {"page": page, "style": style, "scripts": scripts, "events": events, "forms": forms}
    return templates.get_template("desk/watch.html").render(context)
