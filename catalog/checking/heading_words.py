"""What the heading above a column of results says: "Laptop down", "Run 2", "65 dB", "Up (Mbit/s)"."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from catalog.checking.cells import NOT_AVAILABLE
from catalog.checking.headers import heading_of
from catalog.checking.names import fold
from catalog.reading.decimal_marks import plain, readings, unit_text
from catalog.reading.format import DIRECTION_WORDS, OUTCOME_WORDS
from catalog.reading.rawtable import TOTALS
from catalog.units import possible_units

_REPEAT = re.compile(r"(?:run|rep|repeat|repetition|test|try|pass|lauf|messung)[ .#]*(\d{1,2})|#(\d{1,2})", re.I)
_LOSS = re.compile(r"-?(\d+(?:[.,]\d+)?) ?dB", re.I)
_BRACKETS = re.compile(r"[(\[][^()\[\]]*[)\]]")


@dataclass(frozen=True)
class HeadingWords:
    """What one text of a heading says, each as the batch format writes it.

    name  what is left of it, for whatever the column is of
    """

    direction: str | None = None
    repeat: str | None = None
    loss_db: str | None = None
    total: bool = False
    name: str = ""


def heading_words(text: str) -> HeadingWords:
    """Take the directions, repeats, losses and units out of a heading."""
    rest = plain(text)
    repeat = _REPEAT.search(rest)
    loss = _LOSS.search(rest)
    for match in (repeat, loss):
        rest = rest.replace(match.group(), " ") if match else rest
    direction = None
    left = []
    for word in _BRACKETS.sub(lambda found: _not_a_unit(found.group()), rest).replace("_", " ").split():
        bare = word.strip("()[]:,;-–").casefold()
        if bare in DIRECTION_WORDS and direction is None:
            direction = DIRECTION_WORDS[bare]
        elif bare and not possible_units(bare.replace("mbps", "Mbit/s")) and not _names_throughput(bare):
            left.append(word.strip("()[]:,;"))
    return HeadingWords(
        direction,
        (repeat[1] or repeat[2]) if repeat else None,
        loss[1].replace(",", ".") if loss else None,
        fold(text).rstrip(":") in TOTALS or fold(left[0] if left else "") in TOTALS,
        " ".join(left),
    )


def is_number(text: str) -> bool:
    """Whether a cell holds a number, alone or with a unit that is known."""
    if not readings(plain(text)):
        return False
    unit = unit_text(text)
    return not unit or bool(possible_units(unit))


def is_result(text: str) -> bool:
    """Whether a cell can be a result: a number, how the attempt ended, or that there was none."""
    return is_number(text) or fold(text) in OUTCOME_WORDS or fold(text) in NOT_AVAILABLE


def are_results(texts: Sequence[str]) -> bool:
    """Whether the cells of a column are results, at least half of them numbers."""
    filled = [text for text in texts if text]
    return bool(filled) and all(map(is_result, filled)) and 2 * sum(map(is_number, filled)) >= len(filled)


def _names_throughput(word: str) -> bool:
    match = heading_of(word, "runs")
    return isinstance(match, tuple) and match[0].name == "throughput"


def _not_a_unit(bracketed: str) -> str:
    return "" if possible_units(bracketed.strip("()[] ")) else bracketed
