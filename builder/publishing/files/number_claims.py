"""What is said of a number that a reader heard elsewhere: "a video says 560": who was measured at it, where, and that it is
otherwise in other places; or that no published figure is of that size; or that it was corrected.

The sentences have slots, which js/number_answer.mjs fills with the rows of `figure_index`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from builder import wording
from builder.bench.cells import Cell
from builder.bench.naming import device_name
from builder.pages.as_published import DatedValue
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.correction_words import changed_words, condition_words
from builder.windows.ranking import Ranked, Ranking
from builder.windows.standing import WINDOW_WORDS, ranked_entry, rate_text
from catalog.method import WINDOW_NAMES

# {asked}: the number; {low}, {high}: how far figures are near it; {others}: the query's other words; the rest is of a row.
SENTENCES: Mapping[str, str] = {
    "one": "{printed} Mbit/s{beside} is what {name} gave {place}: {measured}.",
    "several": "{count} published figures are {printed} Mbit/s. One is what {name} gave {place}: {measured}.",
    "near": "No published figure is {asked} Mbit/s. Nearest is {printed}{beside}, which {name} gave {place}: {measured}.",
    "none": "No published figure lies between {low} and {high} Mbit/s: nothing measured here bears out {asked}.",
    "unfit": "No published figure between {low} and {high} Mbit/s fits “{others}”.",
}
_MOST_PLACES = 3
_LEADING = re.compile(r"^(\d+(?:\.\d+)?) Mbit/s")


def number_claims(
    catalogue: Catalogue, results: Results, replaced: Sequence[tuple[str, str, DatedValue]]
) -> dict[str, Any]:
    """The sentences, and what was said of numbers that no longer hold: (number, sentence)."""
    gone = [*_corrected(catalogue, results), *(row for one in replaced for row in _replaced(results, *one))]
    return {"sentences": dict(SENTENCES), "gone": [list(row) for row in gone]}


def _corrected(catalogue: Catalogue, results: Results) -> Iterator[tuple[str, str]]:
    for correction in catalogue.corrections:
        device, known = correction.device, _LEADING.match(f"{correction.was} Mbit/s")
        if (
            known is None
            or device not in results.bench.devices
            or " Mbit/s" not in changed_words(catalogue, correction)
        ):
            continue
        assert device is not None
        conditions = condition_words(results, correction)
        now = f"now {correction.now} Mbit/s" if correction.now else "now without a value"
        subject = f"{device_name(results.bench, device)}, {now}{f' ({conditions})' if conditions else ''}"
        yield correction.was, f"{correction.was} Mbit/s was corrected: {subject}."


def _replaced(results: Results, device_id: str, since: str, value: DatedValue) -> Iterator[tuple[str, str]]:
    if known := _LEADING.match(value.text):
        now = f"now {value.now}" if value.now else "no longer shown"
        yield (
            known[1],
            f"{known[1]} Mbit/s no longer holds: {device_name(results.bench, device_id)}, published on "
            f"{wording.date(since)}, {now}.",
        )


def beside_cell(results: Results, cell: Cell) -> str:
    """What the same device gave in other places with the same link, in a sentence: by window, else from where to where."""
    windows = [
        (ranking, entry)
        for ranking in _windows(results, cell)
        if (entry := ranked_entry(ranking, cell.device)) is not None
        and (entry.subject.unit, entry.subject.firmware) == (cell.unit, cell.firmware)
        and not _lies_in(cell, ranking)
    ]
    if windows:
        return f"Elsewhere it gave {_by_window(windows)}."
    others = [
        one
        for one in results.bench.cells_of.get(cell.device, ())
        if one is not cell
        and one.mean is not None
        and (one.group, one.unit, one.firmware) == (cell.group, cell.unit, cell.firmware)
    ]
    rates = sorted((one.mean, wording.rate(one.mean, bound=one.bound)) for one in others if one.mean is not None)
    if not rates:
        return ""
    texts = [text for _, text in rates]
    if len(texts) <= _MOST_PLACES:
        return f"Elsewhere it gave {wording.listing(texts)} Mbit/s in {_places(len(texts))}."
    return f"Elsewhere it gave {texts[0]} to {texts[-1]} Mbit/s in {_places(len(texts))}."


def beside_window(results: Results, ranking: Ranking, entry: Ranked) -> str:
    """What the device gives in the other windows of the same ranking, in a sentence."""
    others = [results.rankings.get((ranking.group, name)) for name in WINDOW_NAMES if name != ranking.window]
    known = [
        (other, found)
        for other in others
        if other is not None and (found := ranked_entry(other, entry.subject.device)) is not None
    ]
    return f"Elsewhere it gave {_by_window(known)}." if known else ""


def _lies_in(cell: Cell, ranking: Ranking) -> bool:
    low, high = ranking.range
    return cell.attenuation_db is not None and low <= cell.attenuation_db <= high


def _windows(results: Results, cell: Cell) -> list[Ranking]:
    every = [results.rankings.get((cell.group, name)) for name in WINDOW_NAMES]
    return [ranking for ranking in every if ranking is not None]


def _by_window(windows: Sequence[tuple[Ranking, Ranked]]) -> str:
    parts = [
        f"{rate_text(entry)}{'' if number else ' Mbit/s'} {wording.lowered(WINDOW_WORDS[ranking.window])}"
        for number, (ranking, entry) in enumerate(windows)
    ]
    return wording.listing(parts)


def _places(number: int) -> str:
    return "one other place" if number == 1 else f"{wording.in_words(number)} other places"
