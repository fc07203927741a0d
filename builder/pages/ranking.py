"""The ranking page of a group: which device leads in the near, the middle and the far window."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.cells import Group
from builder.bench.summed_up import AS_NOTED, NO_SPREAD
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Entry, Link, Page, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.disputing import Disputed, disputed
from builder.pages.parts.drawing import ranking_drawing
from builder.pages.parts.entries import apart_entry, count_entry, device_entry
from builder.pages.parts.firmware_marks import firmware_entry
from builder.pages.parts.provenance import provenance
from builder.windows.ranking import NotRanked, Ranked, Ranking, rank_figure
from builder.windows.standing import WINDOW_WORDS, any_rank, interval_text, rate_text, top_sentence
from catalog.method import WINDOW_NAMES

# Where one sits, in the middle of a sentence.
_PLACES = {window: wording.lowered(words) for window, words in WINDOW_WORDS.items()}


@dataclass(frozen=True, slots=True)
class Window:
    """One window of a ranking: its section with chart and table, and which devices are not ranked and why."""

    section: Section
    not_ranked: Table | None


@dataclass(frozen=True, kw_only=True)
class RankingPage(Page):
    """The three windows of one group."""

    template: ClassVar[str] = "ranking"
    grows: ClassVar[bool] = True

    group: str
    windows: tuple[Window, ...]

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return tuple(w.section.drawing for w in self.windows if w.section.drawing)


def ranking_page(catalogue: Catalogue, results: Results, site: SiteContext, group: Group) -> RankingPage:
    """The page of a group that can be ranked."""
    here = addresses.ranking(group)
    label = results.names[group].text
    rankings = [results.ranking(group, window) for window in WINDOW_NAMES]
    middle = next(r for r in rankings if r.window == "middle")
    assumed = [constant for r in rankings for entry in r.ranked for constant in entry.assumed]
    return RankingPage(
        address=here,
        title=f"Ranking: {label}",
        question="Which is fastest where I sit?",
        verdict=top_sentence(middle),
        cannot_say=(
            "Which is fastest outside the windows, or with another client, band or width: each group is ranked by itself.",
            "Which of two devices is better where their ranks overlap and the page says that they are not told apart.",
            "Anything of a device that does not cover a window: it is listed below the table, not guessed.",
        ),
        provenance=provenance(catalogue, results, site, here, results.cells[group], assumed=assumed),
        group=label,
        windows=tuple(_window(catalogue, results, here, r, label) for r in rankings),
    )


def _window(catalogue: Catalogue, results: Results, here: str, ranking: Ranking, label: str) -> Window:
    span = f"{wording.db_range(*ranking.range)} dB"
    sentence = top_sentence(ranking)
    drawing = None
    tables: tuple[Table, ...] = ()
    if ranking.ranked:
        title = f"Which is fastest {_PLACES[ranking.window]}, at {span}?"
        drawing = ranking_drawing(results, here, ranking, title=title, spoken=sentence)
        tables = (_table(catalogue, results, here, ranking, span),)
    return Window(
        Section(ranking.window, f"{WINDOW_WORDS[ranking.window]}: {span}", (sentence,), drawing, tables),
        _not_ranked(results, here, ranking) if ranking.not_ranked else None,
    )


def _not_ranked(results: Results, here: str, ranking: Ranking) -> Table:
    columns: list[Column[NotRanked]] = [
        Column("Device", lambda n: device_entry(results, here, n.subject.device)),
        Column(
            "Why not", lambda n: Entry(text=wording.capital(n.sentence.removeprefix("Not ranked: "))), sentence=True
        ),
    ]
    return table_of(
        ranking.not_ranked,
        columns,
        key=f"not-ranked-{ranking.window}",
        caption=f"Not ranked {_PLACES[ranking.window]}, and why",
    )


def _table(catalogue: Catalogue, results: Results, here: str, ranking: Ranking, span: str) -> Table:
    disputes = disputed(catalogue)
    columns: list[Column[Ranked]] = [
        Column("Device", lambda r: device_entry(results, here, r.subject.device)),
        Column(
            "Mbit/s",
            lambda r: _value_entry(r, _marks(disputes, results, here, ranking, r)),
            numeric=True,
            decides=True,
        ),
        Column(
            "Rank",
            lambda r: _rank_entry(r, len(ranking.ranked)),
            numeric=True,
        ),
        Column("Against the first", lambda r: _against_first(r, first=r is ranking.ranked[0])),
        Column(
            "Against the row above",
            lambda r: apart_entry(r.apart_from_above, first=r is ranking.ranked[0]),
            sentence=True,
        ),
        Column("Firmware, unit", lambda r: firmware_entry(results, r.subject)),
        Column("Runs", lambda r: count_entry(r.n, note=_noted(r)), numeric=True),
    ]
    return table_of(
        ranking.ranked,
        columns,
        key=f"table-{ranking.window}",
        caption=f"Mean over {span} in Mbit/s, with its 95 % interval. 2nd to 5th: one other was shown to give more; which "
        "of the next four ranks it has, the tests leave open. A rank says where one device may stand, not where all of "
        "them stand at once.",
        row_key=lambda r: r.figure,
    )


def _rank_entry(entry: Ranked, of: int) -> Entry:
    note = "left open by these tests" if any_rank(entry, of) else ""
    return Entry(text=wording.ranks(entry.best, entry.worst, of), note=note, sort_key=str(entry.best))


def _against_first(entry: Ranked, *, first: bool) -> Entry:
    if first:
        return Entry(why_missing="the first")
    return Entry(text="gives less" if entry.apart_from_first else "cannot be told apart")


def _marks(disputes: Disputed, results: Results, here: str, ranking: Ranking, entry: Ranked) -> tuple[Link, ...]:
    figures = (entry.figure, rank_figure(ranking, entry.subject.device))
    return disputes.marks_of_subjects(results, here, [entry.subject], ranking.group, ranking.range, figures=figures)


def _why_no_interval(entry: Ranked) -> str:
    return NO_SPREAD if entry.summaries else "single run"


def _noted(entry: Ranked) -> str:
    return f"{', '.join(entry.summaries)}, {AS_NOTED}" if entry.summaries else ""


def _value_entry(entry: Ranked, marks: tuple[Link, ...]) -> Entry:
    notes = [
        "at least this much: held back by the client"
        if entry.bound
        else _why_no_interval(entry)
        if entry.low is None
        else "",
        "" if entry.port is None else wording.held_by_port(entry.port),
    ]
    return Entry(
        text=rate_text(entry),
        interval=wording.in_95(interval_text(entry)),
        note="; ".join(note for note in notes if note),
        sort_key=repr(entry.value),
        marks=marks,
    )
