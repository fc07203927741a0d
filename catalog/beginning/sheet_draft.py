"""A map for a sheet while it is written, and its columns for what stands beside the results."""

from __future__ import annotations

import json
from dataclasses import dataclass, field

from catalog.checking.day_order import is_either, shown_order
from catalog.checking.heading_words import is_number
from catalog.checking.sheet_looks import ColumnLook, SheetLook, is_month_or_day
from catalog.reading.rawtable import Exact
from catalog.reading.table_maps import folded

PLACES = frozenset({"spot", "attenuation_db", "level_dbm"})
LOSSES_DB = (20.0, 130.0)
_DAYS = (36_526, 73_050)  # day numbers of the years 2000 to 2099, by the usual date system


@dataclass
class Draft:
    """A map as far as it is written. has: columns that it has."""

    stem: str
    lines: list[str] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)
    has: set[str] = field(default_factory=set)

    def add(self, name: str, *lines: str) -> None:
        """A column with its lines."""
        self.lines += ["", f"[column.{name}]", *lines]
        self.has.add(name)


def add_beside(draft: Draft, look: SheetLook) -> None:
    """The columns beside the results; averages among the results are left out."""
    apart = look.apart()
    if apart is not None and draft.stem == "runs":
        names = ", ".join(quoted(name_of(look, column)) for column in apart)
        draft.add("when", f"from = [{names}]", *_day_order(draft, apart[0], "when"))
    beside = [column for column in look.beside if apart is None or column not in apart]
    if not look.crossed:  # what a later heading lacks is read by its own name where it stands
        beside = [column for column in beside if _always_there(look, column)]
    unnamed = []
    for column in beside:
        if column.meaning is None or column.meaning.name in draft.has:
            unnamed.append(column)
            continue
        name = column.meaning.name
        lines = [f"from = {quoted(name_of(look, column))}"]
        if column.meaning.kind in ("when", "date"):
            lines += _day_order(draft, column, name)
        draft.add(name, *lines)
    for column in unnamed:
        _add_unnamed(draft, look, column)
    if look.crossed:
        draft.left_out += [name_of(look, c) for c in look.results if any(words.total for words in c.words)]


def _always_there(look: SheetLook, column: ColumnLook) -> bool:
    """Whether every further heading has the column, too."""
    height = len(look.heading) - look.titled
    return all(
        any(folded(text) in _called(column) for row in range(top, top + height) for text in look.grid.rows.get(row, ()))
        for top in look.again
    )


def _add_unnamed(draft: Draft, look: SheetLook, column: ColumnLook) -> None:
    """A column whose heading names none: by its values the time, the loss, a place or a client, else a note."""
    name, source = name_of(look, column), f"from = {quoted(name_of(look, column))}"
    if any(words.total for words in column.words) or not any(column.texts):
        draft.left_out += [name] if look.crossed and any(column.own) else []
    elif (
        draft.stem == "runs" and "when" not in draft.has and (column.all(is_month_or_day) or column.all(_is_day_number))
    ):
        draft.add("when", source, *_day_order(draft, column, "when"))
        draft.notes.append(f"{name} holds days or months without a time of day.")
    elif draft.stem == "runs" and not draft.has & PLACES and column.all(_is_loss):
        draft.add("attenuation_db", source)
        draft.questions.append(f"Is {name} the loss in dB? It is taken for it.")
    elif draft.stem == "runs" and not column.all(is_number) and "client" not in draft.has and draft.has & PLACES:
        draft.add("client", source)
        draft.questions.append(f"Does {name} name the client? It is taken for it.")
    elif draft.stem == "runs" and not column.all(is_number) and not draft.has & PLACES:
        draft.add("spot", source)
        draft.questions.append(f"Does {name} name the spot? It is taken for it.")
    elif "note" not in draft.has and not column.all(is_number) and draft.stem == "runs":
        draft.add("note", source)
    elif any(column.own) and look.crossed:
        draft.left_out.append(name)


def _is_day_number(text: str) -> bool:
    return type(text) is Exact and is_number(text) and _DAYS[0] <= float(text) <= _DAYS[1]


def _is_loss(text: str) -> bool:
    try:
        return LOSSES_DB[0] <= float(text.replace("dB", "").replace(",", ".")) <= LOSSES_DB[1]
    except ValueError:
        return False


def _day_order(draft: Draft, column: ColumnLook, name: str) -> list[str]:
    """The key for the order of day and month, as the column shows it; a question where it does not."""
    texts = [text for text in column.texts if text]
    shown = shown_order(texts)
    if shown is not None:
        return [f"day_first = {'true' if shown == 'day first' else 'false'}"]
    if (first := next(filter(is_either, texts), None)) is not None:
        draft.questions.append(
            f"Does the day come first in {first!r}? Write day_first = true or false in [column.{name}]."
        )
    return []


def name_of(look: SheetLook, column: ColumnLook) -> str:
    """A heading that names this column and no other."""
    texts = [text for text in column.own if text]
    for text in (*texts, " ".join(texts)):
        others = [other for other in look.columns if other is not column]
        if text and not any(folded(text) in _called(other) for other in others):
            return text
    return " ".join(texts) or f"column {column.place}"


def _called(column: ColumnLook) -> set[str]:
    texts = [folded(text) for text in column.own if text]
    return {*texts, " ".join(texts)}


def quoted(text: str) -> str:
    """A text as TOML writes it."""
    return json.dumps(text, ensure_ascii=False)
