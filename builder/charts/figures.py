"""A figure: what a chart is, apart from how it is drawn.

A figure always has three faces that say the same: the picture (`spec`), the words (`spoken`) and the table
(`table`). None of them knows a device or a row of the catalogue; they hold labels and numbers.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from builder.charts.theme import Layout
from builder.wording import between

Spec = dict[str, Any]

MAX_SENTENCES = 2
_LONGEST_FIGURE = 24  # letters of a value with its interval, "≥ 1043.5 (1001.2–1085.8)"

# A full stop inside a number or a version ("7.10") ends nothing: an end is followed by a new start or by no more text.
_SENTENCE_END = re.compile(r"[.!?][\"'”’)\]]*(?=\s+[^\sa-z]|\s*$)")


@dataclass(frozen=True, slots=True)
class TableTwin:
    """The same figure as a table: every value of the picture, as text.

    caption  what the table holds, with its unit
    columns  headings, the first one over the row headings
    rows     cells, each row as long as *columns*
    Raises   ValueError where a row has another length.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row) != len(self.columns):
                raise ValueError(f"row {row!r} has {len(row)} cells, but there are {len(self.columns)} columns")

    @property
    def wordy(self) -> tuple[bool, ...]:
        """Of each column whether it holds words, which are read from the left and may wrap: names of rows, or longer cells."""
        columns = list(zip(*self.rows, strict=True)) or [() for _ in self.columns]
        return tuple(
            any(len(text) > _LONGEST_FIGURE or (not place and text[:1].isalpha()) for text in column)
            for place, column in enumerate(columns)
        )


@dataclass(frozen=True, slots=True)
class Figure:
    """One chart, ready to be rendered, read out or read as a table.

    key      what the figure is about, unique among the figures of a site
    title    the question it answers, ending in a question mark
    spec     Vega-Lite specification with plain colours, title and notes: whole by itself, for the download
    spoken   the answer in at most two sentences; also the text alternative of the picture
    table    the same values as a table
    notes    lines under the chart: n, client, firmware, date, method, source
    narrow   the same specification laid out for a phone; None where the wide one serves both
    drawn    lays it out anew, for stills: the layout, and how many of its *parts* are shown (None: all); the axes are
             the same whatever is shown. Left out of comparisons
    plainer  the same without a second panel, for stills, whose text is too large for two
    parts    lines or rows, that may be revealed one by one
    zooms    whether it has an axis that a reader may zoom along
    Raises   ValueError for a title that asks nothing, and for a spoken text that is empty or too long.
    """

    key: str
    title: str
    spec: Spec
    spoken: str
    table: TableTwin
    notes: tuple[str, ...]
    narrow: Spec | None = None
    drawn: Callable[[Layout, int | None], Spec] | None = field(default=None, compare=False, repr=False)
    plainer: Callable[[Layout, int | None], Spec] | None = field(default=None, compare=False, repr=False)
    parts: int = field(default=0, compare=False)
    zooms: bool = True

    def __post_init__(self) -> None:
        if not self.title.endswith("?"):
            raise ValueError(f"a chart's title is a question, got {self.title!r}")
        sentences = len(_SENTENCE_END.findall(self.spoken.strip()))
        if not 1 <= sentences <= MAX_SENTENCES:
            raise ValueError(f"spoken text has {sentences} sentences, expected 1 or {MAX_SENTENCES}: {self.spoken!r}")


def bare(spec: Spec) -> Spec:
    """*spec* without title, notes and ground: what a page shows, which sets those as text of its own.

    Relies on two habits of every specification here: the title is the top-level `title`, and the notes are
    the data set `notes`.
    """
    page = {name: value for name, value in spec.items() if name != "title"}
    page["datasets"] = {**spec.get("datasets", {}), "notes": []}
    page["background"] = None
    page["padding"] = 0 if "frame" in page["datasets"] else 2
    return page


def interval_text(low: float, high: float, *, printed: str) -> str:
    """An interval with as many decimals as the value it belongs to was *printed* with."""
    decimals = max((len(digits) for digits in re.findall(r"\d\.(\d+)", printed)), default=0)
    return between(low, high, decimals)
