"""The picture of all devices of the largest group in near, middle and far, and the sentence over it.

Start page, devices and rankings show the same figure. What may be first, ranks and intervals are those of the rankings.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from builder import addresses, wording
from builder.bench.cells import Group
from builder.bench.naming import device_name
from builder.charts.overview_chart import MOST_ROWS, overview_figure
from builder.charts.overview_rows import Cell, Row, Window
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Link
from builder.pages.parts.disputing import Disputed, disputed
from builder.pages.parts.drawing import two_sentences
from builder.pages.parts.overview_words import Lead, lead, machine
from builder.windows.ranking import NotRanked, Ranked, Ranking, rank_figure
from builder.windows.standing import WINDOW_HEADINGS, name, rate_text
from catalog.method import METHOD_NUMBER, WINDOW_NAMES

DAGGER = "†"
MOST_LEFT_OUT = 6
QUESTION = "Which one gives more where you sit?"

Rankings = Mapping[str, Ranking]  # by window


@dataclass(frozen=True, slots=True)
class Overview:
    """The picture on one page.

    title       what it shows, as the name of a page: "Ten access points, near and far"
    lead        the answer over it
    basis       what the answer holds for
    all         where all devices of the group are listed
    """

    drawing: Drawing
    title: str
    lead: Lead
    basis: str
    all: Link


def overview(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> Overview | None:
    """The picture for the page at *here*; the start page brings its files. None where no two devices share a group."""
    if not results.groups:
        return None
    group = results.groups[0]
    rankings = {window: results.ranking(group, window) for window in WINDOW_NAMES}
    devices = _order(rankings)
    if len(devices) < 2:
        return None
    key = f"overview~{group.slug}"
    disputes = disputed(catalogue)
    rows = [_row(results, disputes, key, rankings, device) for device in devices[:MOST_ROWS]]
    words = lead(rankings["middle"], machine(results, group), upload=group.direction == "up")
    title = f"{wording.capital(wording.in_words(len(devices)))} access points, near and far"
    figure = overview_figure(
        key=key,
        title=QUESTION,
        rows=rows,
        windows=[Window(WINDOW_HEADINGS[w], f"{wording.db_range(*rankings[w].range)} dB") for w in WINDOW_NAMES],
        notes=_notes(catalogue, results, site, group, rankings, rows, devices),
        spoken=two_sentences(
            f"{wording.capital(wording.in_words(len(rows)))} access points near, a wall or two away and far off, each with its "
            f"interval. {words.first_sentence}"
        ),
    )
    more = f"All {len(devices)} devices" if len(devices) > MOST_ROWS else "The whole ranking"
    return Overview(
        Drawing(figure, addresses.link(here, addresses.specification(key)), borrowed=here != addresses.START),
        title,
        words,
        _basis(results, group, rankings["middle"]),
        Link(f"{more}, with firmware, runs and who is not ranked", addresses.link(here, addresses.ranking(group))),
    )


def _order(rankings: Rankings) -> list[str]:
    """Devices by their place in the middle window, then those with none by near and by far, then the others by name."""
    ranked = (entry.subject.device for w in ("middle", "near", "far") for entry in rankings[w].ranked)
    others = sorted(rankings["middle"].not_ranked, key=lambda left_out: name(left_out.subject))
    return list(dict.fromkeys([*ranked, *(left_out.subject.device for left_out in others)]))


def _row(results: Results, disputes: Disputed, key: str, rankings: Rankings, device: str) -> Row:
    record = results.bench.devices[device]
    return Row(
        record.maker,
        record.model,
        addresses.link(addresses.specification(key), addresses.device(device)),
        tuple(_cell(results, disputes, rankings[window], device) for window in WINDOW_NAMES),
    )


def _cell(results: Results, disputes: Disputed, ranking: Ranking, device: str) -> Cell:
    entry = next((e for e in ranking.ranked if e.subject.device == device), None)
    if entry is None:
        left_out = next(n for n in ranking.not_ranked if n.subject.device == device)
        return Cell(words=left_out.brief, mark=_mark(results, disputes, ranking, left_out))
    return Cell(
        value=entry.value,
        low=entry.low,
        high=entry.high,
        bound=entry.bound,
        at_port=entry.port is not None,
        first=entry.best == 1,
        text=rate_text(entry),
        rank=wording.short_ranks(entry.best, entry.worst),
        mark=_mark(results, disputes, ranking, entry),
    )


def _mark(results: Results, disputes: Disputed, ranking: Ranking, entry: Ranked | NotRanked) -> str:
    device = entry.subject.device
    if device not in disputes.open:
        return ""
    figures = [rank_figure(ranking, device)]
    if isinstance(entry, NotRanked):
        return DAGGER if disputes.marks(addresses.START, device, figures=figures) else ""
    marks = disputes.marks_of_subjects(
        results, addresses.START, [entry.subject], ranking.group, ranking.range, figures=[*figures, entry.figure]
    )
    return DAGGER if marks else ""


def _basis(results: Results, group: Group, middle: Ranking) -> str:
    text = f"{results.names[group].text}."
    if not middle.ranked:
        return text
    first = middle.ranked[0]
    ranks = str(first.best) if first.best == first.worst else f"{first.best}–{first.worst}"
    rank = f"rank {ranks} of {len(middle.ranked)}"
    if first.low is None or first.high is None:
        return f"{text} {wording.capital(rank)}."
    return f"{text} Likely {wording.between(first.low, first.high, wording.rate_decimals(first.value))}; {rank}."


def _notes(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    group: Group,
    rankings: Rankings,
    rows: list[Row],
    devices: list[str],
) -> list[str]:
    cells = [cell for row in rows for cell in row.cells]
    notes = [
        f"{wording.capital(wording.way(group.direction))} in Mbit/s, mean over each window, with its 95 % interval and the ranks it may have, sorted by the middle window. "
        "Bold: may be first there; the tests cannot tell these apart. Grey: behind the first."
    ]
    if any(cell.value is None for cell in cells):
        notes.append("Words instead of a dot: not tested over the whole window.")
    if any(cell.bound for cell in cells):
        notes.append("Arrow: at least this much, for the client or the lab was the limit.")
    shown = [
        (e, rankings[w]) for w in WINDOW_NAMES for e in rankings[w].ranked if e.subject.device in devices[:MOST_ROWS]
    ]
    ports = {name(e.subject): wording.port_speed(e.port) for e, _ in shown if e.port is not None}
    if ports:
        held = wording.listing([f"{device} ({speed})" for device, speed in ports.items()])
        notes.append(f"Two strokes behind a dot: held back by its own port: {held}.")
    if disagreeing := list(dict.fromkeys(name(e.subject) for e, _ in shown if e.units_disagree)):
        notes.append(f"Two units of {wording.listing(disagreeing)} disagree; the row is about one of them.")
    if any(cell.mark for cell in cells):
        notes.append(_disputes(catalogue, results, [d for d, row in zip(devices, rows, strict=False) if _marked(row)]))
    if len(devices) > len(rows):
        notes.append(f"Drawn: the first {len(rows)} of {len(devices)} devices.")
    if left_out := list(_left_out(catalogue, results, set(devices))):
        notes.append(f"Not in the picture: {wording.listing_of_many(left_out, MOST_LEFT_OUT)}.")
    measured = results.cells[group]
    runs = sum(cell.n for cell in measured)
    houses = wording.count(len({cell.house for cell in measured}), "house")
    notes.append(
        f"{len(devices)} devices, {wording.count(runs, 'run')} in {houses}; {site.title}, Method {METHOD_NUMBER}."
    )
    return notes


def _marked(row: Row) -> bool:
    return any(cell.mark for cell in row.cells)


def _disputes(catalogue: Catalogue, results: Results, devices: list[str]) -> str:
    """What the dagger refers to: the claim where there is one, else whose pages say it."""
    claims = [one.dispute for device in devices for one in disputed(catalogue).open[device]]
    if len(claims) == 1:
        return f"{DAGGER} Disputed by {claims[0].raised_by}: {claims[0].claim.rstrip('.')}."
    names = wording.listing_of_many([device_name(results.bench, device) for device in devices], MOST_LEFT_OUT)
    return f"{DAGGER} Disputed; the {'page' if len(devices) == 1 else 'pages'} of {names} say why."


def _left_out(catalogue: Catalogue, results: Results, shown: set[str]) -> Iterator[str]:
    """Devices that have no row, each with the reason."""
    withdrawn = {w.id for w in catalogue.withdrawals if w.what == "device"}
    for device in results.bench.devices:
        if device not in shown:
            measured = results.bench.cells_of.get(device)
            why = "withdrawn" if device in withdrawn else "tested with another client" if measured else "not tested"
            yield f"{device_name(results.bench, device)} ({why})"
