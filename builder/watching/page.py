"""A state as the page that is looked at standing at a bench: what is wrong, what comes next, and what a click does."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from jinja2 import Environment
from markupsafe import Markup

from builder import wording
from builder.watching import forms
from builder.watching.page_parts import (
    Answer,
    Asked,
    Button,
    CellLine,
    Fact,
    Field,
    Line,
    Lines,
    Link,
    Said,
    ToWrite,
    WatchPage,
)
from builder.watching.states import DayRow, OtherLog, Place, Sense, State, Writing

GRAVE_AT_FIRST, OTHER_AT_FIRST = 5, 3  # sentences; the others are folded away, or what is next would be out of sight
TROUBLE_AT_FIRST = 6
ROWS_NAMED = 3
ANSWERS = {"as logged": "keep it as logged"}  # what `check` calls them in a file of answers, as a button says it
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
    told: Answer,
    decided: Sequence[tuple[str, str]] = (),
) -> WatchPage:
    """The page of a state.

    typed    what the fields of rows hold
    since    key of each sentence -> when it was first said, newest last
    shown    digest of the lines that somebody asked to see, "" for none
    run      tells this run of the watch from others
    version  what the page shows, told from what it showed before
    told     what the last click came to
    decided  by clicks, and not written yet: key and sentence
    """
    names = {row.place: row for row in state.rows}
    questions = {one.log for one in state.others}
    all_said = [said(one, names, since, questions) for one in newest_first(forms.senses(state), since)]
    grave, other = [one for one in all_said if one.grave], [one for one in all_said if not one.grave]
    first_open = next((row for row in state.rows if row.state == "open"), None)
    lines = tuple(line(row, typed, since, is_next=row is first_open) for row in state.rows)
    return WatchPage(
        title=state.title or "A bench day",
        since=as_of,
        run=run,
        token=token,
        version=version,
        told=told,
        trouble=state.trouble[:TROUBLE_AT_FIRST],
        trouble_more=state.trouble[TROUBLE_AT_FIRST:],
        grave=tuple(grave[:GRAVE_AT_FIRST]),
        grave_more=tuple(grave[GRAVE_AT_FIRST:]),
        other=tuple(other[:OTHER_AT_FIRST]),
        other_more=tuple(other[OTHER_AT_FIRST:]),
        quiet=quiet(state),
        next=next((one for one in lines if one.is_next), None),
        next_words=next_words(state),
        next_perhaps=next_perhaps(state, first_open),
        asked=tuple(asked(one, names) for one in state.others),
        writing=to_write(state, names, shown),
        decided=tuple((text, Button("Take that back", f"back|{key}")) for key, text in decided),
        so_far=state.so_far,
        picture=Markup(state.so_far.picture),  # drawn by us, in the process that looks
        cells=tuple(cell_line(cell) for cell in state.so_far.cells),
        lines=lines,
        facts=facts(state, first_open, len(grave), as_of),
        contents=tuple(Link(text, f"#{key}") for text, key in CONTENTS if key != "others" or state.others),
    )


def newest_first(senses: Sequence[Sense], since: Mapping[str, str]) -> list[Sense]:
    """The last that was said comes first; of what was said at once, what is of the later row (`since` is in that order)."""
    place = {key: number for number, key in enumerate(since)}
    return sorted(senses, key=lambda sense: place.get(forms.sense_key(sense), len(place)), reverse=True)


def said(
    sense: Sense, names: Mapping[Place, DayRow], since: Mapping[str, str], questions: Collection[str] = ()
) -> Said:
    """A sentence as the page shows it. questions: logs that no row names."""
    key = forms.sense_key(sense)
    row = names.get(sense.place) if sense.place else None
    about = Link(row.what, f"#{row_id(row.place)}") if row else None
    if sense.log in questions:
        about = Link("which row is it of?", f"#log-{forms.log_key(sense.log)}")
    labels = [wording.capital(ANSWERS.get(text, text)) for text in sense.asks]
    answers = [Button(text, f"settle|{key}|{number}") for number, text in enumerate(labels)]
    if sense.free:
        answers.append(Button("Take this answer", f"settle|{key}|free"))
    return Said(
        key=key,
        text=sense.text,
        remedy=sense.remedy,
        grave=sense.grave,
        since=since.get(key, ""),
        about=about,
        log=sense.log or (row.log if row else ""),
        column=FIELDS.get(sense.column, (sense.column, ""))[0],
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


def asked(other: OtherLog, names: Mapping[Place, DayRow]) -> Asked:
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
    )


def to_write(state: State, names: Mapping[Place, DayRow], shown: str) -> ToWrite:
    """What a click would write, and its lines where somebody asked to see just these."""
    writing = state.writing
    files = tuple(new_lines(file, lines, writing.texts[file]) for file, lines in writing.added.items() if lines)
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
        left_out=left_out(state),
    )


def new_lines(file: str, added: Sequence[str], text: str) -> Lines:
    """The lines that a file gets, and what their columns are called."""
    lines = tuple(one.rstrip("\r\n") for one in added)
    first = text.partition("\n")[0].rstrip("\r")
    return Lines(file, lines, "" if first in lines or not file.endswith(".csv") else first)


def left_out(state: State) -> str:
    """Of rows that landed and would not be written, because they are in question."""
    number = sum(row.state in ("landed", "held") and row.place not in state.writing.rows for row in state.rows)
    if not number:
        return ""
    what = "One row that has landed is left out" if number == 1 else f"{number} rows that have landed are left out"
    return f"{what}, for what is said above: repeat, correct or answer."


def cell_line(cell: Mapping[str, Any]) -> CellLine:
    """A cell as builder/watching/line_so_far.py has it."""
    return CellLine(
        device=cell["device"],
        spot=cell["spot"],
        session=cell["session"],
        value=f"{cell['value']} Mbit/s" if cell["value"] else "",
        interval=cell["interval"],
        runs=f"{cell['done']} of {cell['planned']}",
    )


def quiet(state: State) -> str:
    """What is said where nothing is wrong."""
    if forms.senses(state):
        return "Nothing has to be repeated so far."
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


def next_perhaps(state: State, first_open: DayRow | None) -> Link | None:
    """The log that may be of the row that is next, which then is not to be run twice."""
    logs = (one.log for one in state.others if first_open is not None and one.likely == first_open.place)
    log = next(logs, None)
    return None if log is None else Link(log, f"#log-{forms.log_key(log)}")


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
