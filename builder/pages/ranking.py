"""The ranking of a group: who leads at my loss? Near, middle and far on one page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.cells import Group
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Entry, Heading, Link, Page, Row, Section, Table
from builder.pages.parts.disputing import disputed
from builder.pages.parts.drawing import ranking_drawing
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.provenance import provenance
from builder.windows.ranking import Ranked, Ranking, rank_figure
from builder.windows.standing import interval_text, name, rate_text, reason, top_sentence
from catalog.method import WINDOW_NAMES


@dataclass(frozen=True, slots=True)
class Window:
    """One window of a ranking: its section with chart and table, and who is not ranked and why."""

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
    assumed = [name for r in rankings for entry in r.ranked for name in entry.assumed]
    return RankingPage(
        address=here,
        title=f"Ranking: {label}",
        question=f"Who leads at my loss? {label}",
        verdict=top_sentence(middle),
        cannot_say=(
            "Who leads outside the windows, or with another client, band or width: each group is ranked by itself.",
            "Which of two devices is better where their rank intervals overlap and the page says they are not "
            "separated.",
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
        title = f"Who leads {'in the middle' if ranking.window == 'middle' else ranking.window}, at {span}?"
        drawing = ranking_drawing(results, here, ranking, title=title, spoken=sentence)
        tables = (_table(catalogue, results, here, ranking, span),)
    return Window(
        Section(ranking.window, f"{ranking.window.capitalize()}: {span}", (sentence,), drawing, tables),
        _not_ranked(results, here, ranking) if ranking.not_ranked else None,
    )


def _not_ranked(results: Results, here: str, ranking: Ranking) -> Table:
    return Table(
        key=f"not-ranked-{ranking.window}",
        caption=f"Not ranked {'in the middle' if ranking.window == 'middle' else ranking.window}, and why",
        columns=(Heading("Device"), Heading("Why not", sentence=True)),
        rows=tuple(
            Row(
                Entry(
                    text=device_name(results.bench, n.who.device),
                    href=addresses.link(here, addresses.device(n.who.device)),
                ),
                (Entry(text=wording.capital(reason(n))),),
            )
            for n in ranking.not_ranked
        ),
    )


def _table(catalogue: Catalogue, results: Results, here: str, ranking: Ranking, span: str) -> Table:
    doubts = disputed(catalogue)
    return Table(
        key=f"table-{ranking.window}",
        caption=f"Mean over {span} in Mbit/s, with its 95 % interval. Rank intervals are Holm-adjusted; each "
        "holds for its device, not for all at once.",
        columns=(
            Heading("Device"),
            Heading("Rank", numeric=True),
            Heading("Mbit/s", numeric=True),
            Heading("Against the row above", sentence=True),
            Heading("Firmware, unit"),
            Heading("Runs", numeric=True),
        ),
        rows=tuple(
            _row(
                results,
                here,
                entry,
                doubts.marks_of_subjects(
                    results,
                    here,
                    [entry.who],
                    ranking.group,
                    ranking.range,
                    figures=(entry.figure, rank_figure(ranking, entry.who.device)),
                ),
                first=i == 0,
            )
            for i, entry in enumerate(ranking.ranked)
        ),
    )


def _note(entry: Ranked) -> str:
    notes = [
        "at least: the client was the limit" if entry.bound else "single run" if entry.low is None else "",
        "" if entry.port is None else wording.held_by_port(entry.port),
    ]
    return "; ".join(note for note in notes if note)


def _row(results: Results, here: str, entry: Ranked, marks: tuple[Link, ...], *, first: bool) -> Row:
    above = "" if first else "separated" if entry.apart_from_above else "not separated from the row above"
    return Row(
        Entry(
            text=name(entry.who),
            href=addresses.link(here, addresses.device(entry.who.device)),
        ),
        (
            Entry(text=wording.ranks(entry.best, entry.worst), sort_key=str(entry.best)),
            Entry(
                text=rate_text(entry),
                interval=interval_text(entry),
                note=_note(entry),
                sort_key=repr(entry.value),
                marks=marks,
            ),
            Entry(text=above) if above else Entry(why_missing="first row"),
            Entry(
                text=f"{entry.who.firmware}, {entry.who.unit}",
                note=older_mark(results, entry.who.device, entry.who.firmware),
            ),
            Entry(text=str(entry.n), sort_key=str(entry.n)),
        ),
        key=entry.figure,
    )
