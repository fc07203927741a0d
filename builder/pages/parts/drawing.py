"""From lines and rankings to charts: devices become labels, and cells become knots."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from builder import addresses, wording
from builder.bench.bench import Bench
from builder.bench.bounds import PORT_LIMITS
from builder.bench.cells import Group
from builder.bench.joined_line import SAME_X_DB
from builder.bench.tracks import Track
from builder.charts.figures import Figure
from builder.charts.label_text import LabelText
from builder.charts.range_chart import range_figure
from builder.charts.range_lines import Difference, RangeKnot, RangeSeries, RangeWindow, RulerMark
from builder.charts.ranking_chart import RankBar, ranking_figure
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Drawing
from builder.pages.parts.line_names import line_names
from builder.windows.by_client import DIRECTIONS
from builder.windows.knots import knots
from builder.windows.ranking import Ranking
from builder.windows.standing import WINDOW_HEADINGS, WINDOW_SHORT, rate_text
from catalog.method import MAX_GAP_DB, WINDOW_NAMES
from catalog.records import Epoch

# What windows are called under an axis, and where there is less room.

MOST_BARS = 20  # of a ranking chart: those that lead, as many as a screen holds

AxisMatch = Literal["attenuation", "level"]

_SENTENCE_START = re.compile(r"(?<=[.!?]) (?=[^\sa-z])")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a range chart: what it is called in the table and on the line, and what was measured.

    names  from the longest to the shortest; left out, maker and model (`line_names`)
    """

    label: str
    detail: str
    track: Track
    names: tuple[LabelText, ...] = ()


def range_drawing(
    catalogue: Catalogue,
    results: Results,
    here: str,
    *,
    key: str,
    title: str,
    match: AxisMatch,
    lines: Sequence[Line],
    notes: Sequence[str],
    spoken: str,
    shared_range: tuple[float, float] | None,
    difference: Difference | None = None,
) -> Drawing:
    """The range chart of up to six lines, with the walls of the house most of them were measured in."""
    figure = range_picture(
        results.bench,
        catalogue.epochs,
        key=key,
        title=title,
        match=match,
        lines=lines,
        notes=notes,
        spoken=spoken,
        shared_range=shared_range,
        difference=difference,
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)))


def range_picture(
    bench: Bench,
    epochs: Iterable[Epoch],
    *,
    key: str,
    title: str,
    match: AxisMatch,
    lines: Sequence[Line],
    notes: Sequence[str],
    spoken: str,
    shared_range: tuple[float, float] | None,
    difference: Difference | None = None,
) -> Figure:
    """The same without a page.

    epochs  of all spots, for the walls
    """
    tracks = [line.track for line in lines]
    names, measured = line_names(bench, tracks), knots(bench, tracks, match=match)
    group = lines[0].track.cells[0].group
    return range_figure(
        key=key,
        title=title,
        axis=match,
        series=[
            RangeSeries(
                line.label,
                line.detail,
                tuple(
                    RangeKnot(
                        k.x,
                        k.value,
                        k.low,
                        k.high,
                        k.bound,
                        wording.rate(k.value, bound=k.bound),
                        at_port=k.limit in PORT_LIMITS,
                    )
                    for k in of_line
                ),
                line.names or named,
            )
            for line, named, of_line in zip(lines, names, measured, strict=True)
        ],
        ruler=_walls(epochs, lines) if match == "attenuation" else (),
        notes=tuple(notes),
        spoken=two_sentences(spoken),
        shared_range=shared_range,
        max_gap_db=MAX_GAP_DB,
        unit=", ".join(["Mbit/s", *_direction(group.direction)]),
        windows=_windows(bench, group) if match == "attenuation" else (),
        difference=difference,
    )


def _direction(direction: str | None) -> list[str]:
    """ "download" or "upload"; nothing where it is neither."""
    return [wording.way(direction)] if direction in DIRECTIONS else []


def _windows(bench: Bench, group: Group) -> list[RangeWindow]:
    windows = []
    for window in WINDOW_NAMES:
        ends = bench.constants.window(group.band, window)
        if ends is not None:
            names = (wording.lowered(words[window]) for words in (WINDOW_HEADINGS, WINDOW_SHORT))
            windows.append(RangeWindow(*ends, *names))
    return windows


def ranking_drawing(
    results: Results, here: str, ranking: Ranking, *, title: str, spoken: str, key: str = ""
) -> Drawing:
    """The ranking chart of one window.

    key  of a chart on another page; left out, the chart is on the ranking's page, whose table shows its values
    """
    own_table = not key
    key = key or f"ranking~{ranking.group.slug}~{ranking.window}"
    figure = ranking_figure(
        key=key,
        title=title,
        bars=[
            RankBar(
                entry.subject.maker,
                entry.subject.model,
                entry.value,
                entry.low,
                entry.high,
                entry.bound,
                wording.ranks(entry.best, entry.worst, len(ranking.ranked)),
                rate_text(entry),
                wording.short_ranks(entry.best, entry.worst),
            )
            for entry in ranking.ranked[:MOST_BARS]
        ],
        unit="Mbit/s",
        notes=_ranking_notes(results, ranking, own_table=own_table),
        spoken=two_sentences(spoken),
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)), own_table=own_table)


def _ranking_notes(results: Results, ranking: Ranking, *, own_table: bool) -> list[str]:
    notes = [] if own_table else [f"{results.names[ranking.group].text}. Mean over the window, 95 % interval."]
    if len(ranking.ranked) > MOST_BARS:
        notes.append(f"Drawn: the first {MOST_BARS} of {len(ranking.ranked)}; the table of the ranking has all.")
    return notes


def two_sentences(text: str) -> str:
    """The first two sentences of a text: a chart's spoken text."""
    return " ".join(_SENTENCE_START.split(text)[:2])


def _walls(epochs: Iterable[Epoch], lines: Sequence[Line]) -> list[RulerMark]:
    """The obstacles at the spots of one house: the house of most knots, in the epochs of most cells."""
    cells = [cell for line in lines for cell in line.track.cells if cell.spot and cell.attenuation_db is not None]
    if not cells:
        return []
    house = max(sorted({c.house for c in cells}), key=lambda h: sum(c.house == h for c in cells))
    counted = Counter((c.spot, c.spot_since, c.group.band, c.attenuation_db) for c in cells if c.house == house)
    obstacles = {(e.house, e.spot, e.valid_from, e.band): e.obstacles for e in epochs}
    marks: dict[str, tuple[int, RulerMark]] = {}
    for (spot, since, band, loss), times in sorted(counted.items(), key=lambda item: (item[0][3] or 0.0, str(item[0]))):
        text = obstacles.get((house, spot or "", since or "", band))
        if spot and loss is not None and text and times > marks.get(spot, (0, None))[0]:
            marks[spot] = times, RulerMark(loss, text)
    return _apart([mark for _, mark in marks.values()])


def _apart(marks: Sequence[RulerMark]) -> list[RulerMark]:
    ordered = sorted(marks, key=lambda mark: mark.x)
    return [m for i, m in enumerate(ordered) if i == 0 or m.x - ordered[i - 1].x > SAME_X_DB]
