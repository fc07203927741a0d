"""Where a page's figures come from: the line at its foot."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import urljoin

from builder import addresses, wording
from builder.bench.cells import Cell
from builder.bench.summed_up import rests_on
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Fact
from catalog.method import METHOD_NUMBER

MOST_BATCHES = 6
NEWEST, METHOD = "Newest data", "Method"
BRIEF = (NEWEST, METHOD)  # what a chart by itself says of where it comes from

ASSUMED_WORDS = {
    "session_spread": "day-to-day spread",
    "placement_sigma_db": "scatter of standing at a spot again",
    "slope_per_db": "how steeply values fall at a spot",
    "calibration_sigma_db": "offset of the reference source and receiver",
    "level_sigma_db": "error of one received level",
    "median_for_mean": "that a median of runs is their mean",
}


def provenance(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    cells: Iterable[Cell] = (),
    *,
    assumed: Iterable[str] = (),
    days: Iterable[str] = (),
) -> tuple[Fact, ...]:
    """The day of the newest data, method, batches, and the constants that were neither measured nor declared.

    cells  on the page
    days   of what else is on it, as the catalogue has them
    """
    cells = list(cells)
    newest = max([cell.date for cell in cells] + [day[:10] for day in days], default="")
    facts = [Fact(NEWEST, wording.date(newest), day=newest)] if newest else []
    facts.append(
        Fact(
            METHOD,
            f"Method {METHOD_NUMBER}",
            addresses.link(here, addresses.METHOD),
        )
    )
    if rests := rests_on(cells):
        facts.append(Fact("Summaries", rests))
    titles = [catalogue.batches[batch_id].title for batch_id in catalogue.batch_ids(cells)]
    if titles:
        text = "; ".join(titles[:MOST_BATCHES])
        if len(titles) > MOST_BATCHES:
            text += f"; and {wording.count(len(titles) - MOST_BATCHES, 'more batch', 'more batches')}"
        facts.append(Fact("Batches", text, addresses.link(here, addresses.DATA, "batches")))
    words = assumed_words(assumed)
    if words:
        facts.append(Fact("Assumed, by practice", words))
    if addresses.has_short(here):
        short = addresses.short(here)
        facts.append(Fact("Short link", urljoin(site.address or "", short), addresses.link(here, short)))
    return tuple(facts)


def assumed_words(assumed: Iterable[str]) -> str:
    """Constants that were neither measured nor declared, in words; "" for none."""
    return wording.listing([ASSUMED_WORDS[name] for name in dict.fromkeys(assumed)])
