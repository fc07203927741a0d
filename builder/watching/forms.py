"""What a page's form says, in words of the state: which button was pressed, and what was typed into which row.

All of the page is one form, so that without scripts, too, no button throws away what stands in a field. Nothing that
comes back is taken for a path or a place before it was found in the state.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl

from builder.watching.states import DayRow, Place, Sense, State

Typed = Mapping[Place, Mapping[str, str]]

MOST_BYTES = 2_000_000
MOST_FIELDS = 20_000
MOST_TYPED = 2_000  # characters of a note
ACT, TOKEN, GIVEN, KEY, SHOWN = "act", "token", "given", "key", "shown"


@dataclass(frozen=True, slots=True)
class Act:
    """A button: what it does, and of what."""

    does: str
    of: tuple[str, ...] = ()


def place_text(place: Place) -> str:
    """A place as it stands in a form."""
    file, table, row = place
    return f"{row}~{table}~{file}"


def field_name(column: str, place: Place) -> str:
    """The name of the field of one column of one row."""
    return f"{column}~{place_text(place)}"


def log_key(log: str) -> str:
    """What a log is named by in a form and in an id."""
    return hashlib.sha256(log.encode(errors="surrogateescape")).hexdigest()[:16]


def sense_key(sense: Sense) -> str:
    """What tells a sentence from every other."""
    text = "\n".join((sense.code, repr(sense.place), sense.log, sense.text, sense.remedy))
    return hashlib.sha256(text.encode(errors="surrogateescape")).hexdigest()[:16]


def fields(body: bytes) -> dict[str, str]:
    """The fields of a form as browsers send it. Raises ValueError for what no form of the page sends."""
    return dict(parse_qsl(body.decode(), keep_blank_values=True, strict_parsing=True, max_num_fields=MOST_FIELDS))


def act_of(form: Mapping[str, str]) -> Act:
    """Which button was pressed; with none, as when somebody pressed Enter in a field, what is typed is kept."""
    does, *of = form.get(ACT, "").split("|")
    return Act(does or "keep", tuple(of))


def typed_in(form: Mapping[str, str], rows: Iterable[DayRow]) -> dict[Place, dict[str, str]]:
    """What the fields of a form hold, of rows that can still be typed into."""
    typed: dict[Place, dict[str, str]] = {}
    for row in rows:
        texts = {column: form.get(field_name(column, row.place)) for column in row.typed}
        one = {column: _line(text) for column, text in texts.items() if text is not None}
        if one:
            typed[row.place] = one
    return typed


def changes(typed: Typed, since: Typed) -> dict[Place, dict[str, str]]:
    """What was typed since the page was given out: what a tab left alone holds does not undo another's."""
    news: dict[Place, dict[str, str]] = {}
    for place, texts in typed.items():
        before = since.get(place, {})
        one = {column: text for column, text in texts.items() if text != before.get(column, "")}
        if one:
            news[place] = one
    return news


def together(*parts: Typed) -> dict[Place, dict[str, str]]:
    """All that is typed; a later part wins."""
    whole: dict[Place, dict[str, str]] = {}
    for part in parts:
        for place, texts in part.items():
            whole[place] = whole.get(place, {}) | dict(texts)
    return whole


def standing(state: State, drafts: Typed) -> dict[Place, dict[str, str]]:
    """What the fields of a page show."""
    return {
        row.place: {column: drafts.get(row.place, {}).get(column, text) for column, text in row.typed.items()}
        for row in state.rows
        if row.typed
    }


def place_in(state: State, text: str) -> Place | None:
    """The row that a form names; None where it is not there any more."""
    return next((row.place for row in state.rows if place_text(row.place) == text), None)


def sense_in(state: State, key: str) -> Sense | None:
    """The sentence that a form names; None where nothing says it any more."""
    return next((sense for sense in senses(state) if sense_key(sense) == key), None)


def senses(state: State) -> list[Sense]:
    """Every sentence of a state once, in running order; one of a log that no row names says which."""
    rows = (sense for row in state.rows for sense in row.senses)
    others = (replace(sense, log=other.log) for other in state.others for sense in other.senses)
    return list(dict.fromkeys([*state.senses, *rows, *others]))


def _line(text: str) -> str:
    """A typed text as a cell of a table can hold it."""
    return " ".join(text.split())[:MOST_TYPED]
