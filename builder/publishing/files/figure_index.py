"""Every published throughput by its size, so that a number from a video or a review leads to where it was measured.

Values lie in files by their size, each of as many steps of `STEP` Mbit/s as hold `ROWS_A_FILE`, so that a search reads a few
of them: at 400 devices it is 20 kB of 500, packed.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from builder import addresses, wording
from builder.bench.bounds import LIMIT_WORDS
from builder.bench.cells import Cell, cell_figure
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.publishing.files.number_claims import beside_cell, beside_window
from builder.windows.ranking import Ranked, Ranking
from builder.windows.standing import WINDOW_WORDS, interval_text, rate_text

STEP = 10
"""Files begin and end at multiples of this. [Mbit/s]"""
ROWS_A_FILE = 60


class Row(NamedTuple):
    """One published value.

    printed   its number as pages print it, which is also what it is found by
    beside    what is printed behind its unit: its interval, what held it back
    place     at which spot and loss; or in which window
    when      day and firmware
    measured  the group, in words
    elsewhere what the same device gave with the same link in other places, a sentence; "" where it was tested in no other
    """

    fragment: str
    page: str
    name: str
    printed: str
    beside: str
    place: str
    when: str
    measured: str
    elsewhere: str


def figure_files(results: Results) -> list[int]:
    """From which value on each file has figures; it ends where the next begins. [Mbit/s]"""
    cells = (cell for device in results.bench.devices for cell in results.bench.cells_of.get(device, ()))
    printed = [wording.rate(cell.mean, bound=cell.bound) for cell in cells if cell.mean is not None]
    printed += [rate_text(entry) for ranking in results.rankings.values() for entry in ranking.ranked]
    return _starts(map(_size, printed))


def figure_key(start: int) -> str:
    """The key under which scripts find the file that begins at a value."""
    return f"sizes/{start}"


def figure_index(results: Results) -> dict[str, Any]:
    """Key -> its rows as columns, in the order of their fragments, so that likes stand together and pack well."""
    rows = sorted(_rows(results))
    starts = _starts(_size(row.printed) for row in rows)
    by_file: dict[int, list[Row]] = {start: [] for start in starts}
    for row in rows:
        by_file[starts[bisect_right(starts, _size(row.printed)) - 1]].append(row)
    return {
        figure_key(start): {
            field: list(column) for field, column in zip(Row._fields, zip(*of_file, strict=True), strict=True)
        }
        for start, of_file in by_file.items()
    }


def _size(printed: str) -> float:
    """The value that is printed, whether or not it is "at least". [Mbit/s]"""
    return float(printed.lstrip("≥ "))


def _starts(sizes: Iterable[float]) -> list[int]:
    steps = Counter(int(size // STEP) for size in sizes)
    starts: list[int] = []
    room = 0
    for step, of_step in sorted(steps.items()):
        if room <= 0:
            starts.append(step * STEP)
            room = ROWS_A_FILE
        room -= of_step
    return starts


def _rows(results: Results) -> Iterator[Row]:
    for device_id in results.bench.devices:
        for cell in results.bench.cells_of.get(device_id, ()):
            if cell.mean is not None:
                yield _cell_row(results, cell, cell.mean)
    for ranking in results.rankings.values():
        for entry in ranking.ranked:
            yield _window_row(results, ranking, entry)


def _cell_row(results: Results, cell: Cell, mean: float) -> Row:
    loss = cell.attenuation_db if not cell.group.several_links else None  # each link has one of its own
    at = "" if loss is None else f", {wording.decibels(loss)} dB"
    return Row(
        fragment=cell_figure(cell),
        page=addresses.device(cell.device),
        name=device_name(results.bench, cell.device),
        printed=wording.rate(mean, bound=cell.bound),
        beside=LIMIT_WORDS[cell.limit] if cell.limit else "",
        place=f"{_place(cell)}{at}",
        when=f"{wording.date(cell.date)}, firmware {cell.firmware}",
        measured=results.names[cell.group].text,
        elsewhere=beside_cell(results, cell),
    )


def _place(cell: Cell) -> str:
    return (
        f"at {cell.spot}" if cell.spot else "at a set attenuation" if cell.attenuation_db is not None else "at a level"
    )


def _window_row(results: Results, ranking: Ranking, entry: Ranked) -> Row:
    beside = (wording.in_95(interval_text(entry)), "" if entry.port is None else wording.held_by_port(entry.port))
    return Row(
        fragment=entry.figure,
        page=addresses.ranking(ranking.group),
        name=device_name(results.bench, entry.subject.device),
        printed=rate_text(entry),
        beside="; ".join(text for text in beside if text),
        place=f"{wording.lowered(WINDOW_WORDS[ranking.window])}, as the mean over {wording.db_range(*ranking.range)} dB",
        when=f"firmware {entry.subject.firmware}",
        measured=results.names[ranking.group].text,
        elsewhere=beside_window(results, ranking, entry),
    )
