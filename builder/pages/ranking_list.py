"""The list of all rankings."""

from __future__ import annotations

from collections.abc import Sequence

from builder import addresses, wording
from builder.bench.cells import Group
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.listing import ListingPage
from builder.pages.parts.blocks import Entry, Section
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import count_entry, device_entry, link_entry, text_entry
from builder.pages.parts.newest import days_of
from builder.pages.parts.overview import overview
from builder.pages.parts.overview_words import client_of
from builder.pages.parts.provenance import provenance
from builder.windows.ranking import Ranking
from builder.windows.standing import interval_text, name, port_text, rate_text


def rankings_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ListingPage:
    """Every ranking, the group with most devices first; groups of one device, in which nobody leads, by themselves."""
    here = addresses.RANKINGS
    shown = overview(catalogue, results, site, here)
    ranked = [group for group in results.groups if _devices_in(results, group) > 1]
    alone = [group for group in results.groups if _devices_in(results, group) == 1]
    return ListingPage(
        address=here,
        title="Rankings",
        question="Which is fastest where I sit?",
        verdict="Pick the link that is most like yours: only results with the same client, band, width and direction "
        "are ranked together.",
        intro=(
            "Every ranking has three windows of loss: near, about a wall or two away, and far. How many walls lose as much "
            "differs from house to house; the houses' pages say what stood between in these tests.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_of(results.bench.cells)),
        table=table_of(
            ranked,
            (
                Column("Group", lambda g: _ranking_entry(results, here, g)),
                Column("Devices", lambda g: count_entry(_devices_in(results, g)), numeric=True),
                Column("Fastest a wall or two away", lambda g: _leader_entry(results.ranking(g, "middle"))),
                Column("Client's Wi-Fi", lambda g: _standard_entry(results, g)),
            ),
            key="rankings",
            caption="Rankings",
            repeats=True,
        ).or_none,
        picture=shown.drawing if shown else None,
        all=shown.all if shown else None,
        apart=_alone(results, here, alone) if alone else None,
    )


def _devices_in(results: Results, group: Group) -> int:
    return len({cell.device for cell in results.cells[group]})


def _alone(results: Results, here: str, groups: Sequence[Group]) -> Section:
    """Groups in which one device was tested: what it gives, without a word of leading."""
    table = table_of(
        groups,
        (
            Column("Group", lambda g: link_entry(here, results.names[g].text, addresses.ranking(g))),
            Column("Device", lambda g: device_entry(results, here, results.cells[g][0].device)),
            Column("Middle window, Mbit/s", lambda g: _only_entry(results.ranking(g, "middle")), numeric=True),
            Column("Client's Wi-Fi", lambda g: _standard_entry(results, g)),
        ),
        key="alone",
        caption="Groups in which one device was tested",
    )
    return Section(
        "one-device", "Tested on one device only", ("There is nothing to compare these with yet.",), tables=(table,)
    )


def _standard_entry(results: Results, group: Group) -> Entry:
    """The standard of the client: a reader knows that of the own machine."""
    client = client_of(results, group)
    return text_entry(wording.generation(client.amendment) if client else None)


def _only_entry(ranking: Ranking) -> Entry:
    if not ranking.ranked:
        return Entry(why_missing="window not covered")
    only = ranking.ranked[0]
    return Entry(
        text=rate_text(only),
        interval=wording.in_95(interval_text(only)),
        sort_key=repr(only.value),
        note="" if only.port is None else wording.held_by_port(only.port),
    )


def _ranking_entry(results: Results, here: str, group: Group) -> Entry:
    name = results.names[group]
    return link_entry(here, name.short, addresses.ranking(group), note=name.machine)


def _leader_entry(ranking: Ranking) -> Entry:
    if not ranking.ranked:
        return Entry(why_missing="no device covers it")
    level = [entry for entry in ranking.ranked if entry.best == 1]
    first = ranking.ranked[0]
    if len(ranking.ranked) == 1:
        return Entry(text=f"only {name(first.subject)} covers it", note=f"{rate_text(first)} Mbit/s{port_text(first)}")
    gives = f"{rate_text(first)} Mbit/s{port_text(first)}"
    if len(level) == 1:
        return Entry(text=name(level[0].subject), note=gives)
    return Entry(text=f"{len(level)} devices, not told apart", note=f"the first of them {gives}")
