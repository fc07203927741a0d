"""The chooser: two to four devices side by side, by the verdicts of their pairs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.cells import usual
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Link, Page
from builder.pages.parts.newest import days_tested
from builder.pages.parts.provenance import provenance
from builder.pairs.pair_parts import PAIR_WORDS, parts_of

MOST = 4
MOST_PAIRS = 24  # in the list; the page of pairs has all


@dataclass(frozen=True, slots=True)
class Pick:
    """One device: its id, its name, and the part in whose files scripts find it."""

    value: str
    text: str
    part: int


@dataclass(frozen=True, kw_only=True)
class ChooserPage(Page):
    """Devices to pick, groups to choose from, and the prepared pairs, which also work without scripts."""

    template: ClassVar[str] = "chooser"

    picks: tuple[Pick, ...]
    groups: tuple[tuple[str, str], ...]
    most: int
    root: str
    words_href: str
    words_key: str
    pairs: tuple[Link, ...]
    every_pair: Link
    rankings_href: str


def chooser_page(catalogue: Catalogue, results: Results, site: SiteContext) -> ChooserPage:
    """The page of this build."""
    here = addresses.CHOOSER
    bench = results.bench
    devices = sorted((d for d in bench.devices if bench.cells_of.get(d)), key=lambda d: device_name(bench, d))
    parts = parts_of(devices)
    groups = sorted(results.company, key=lambda g: (-results.company[g], usual(g), g.sort_key))
    return ChooserPage(
        address=here,
        title="Compare up to four",
        cautions=True,
        question="Which of these gives more where I sit?",
        verdict="Choose two devices for their verdict, or up to four for a table of all their pairs.",
        cannot_say=(
            "Which of several is best of all, unless one leads each of the others: every pair is compared over its "
            "own shared range, so the first may give more than the second, the second more than the third, and the third more than the first.",
            "How devices compare that were never tested with the same client, band, width and direction.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_tested(results, bench.devices)),
        picks=tuple(Pick(device, device_name(bench, device), parts[device]) for device in devices),
        groups=tuple((g.slug, results.names[g].text) for g in groups),
        most=MOST,
        root=addresses.link(here, addresses.START).removesuffix(addresses.START),
        words_href=addresses.link(here, addresses.script_data(PAIR_WORDS)),
        words_key=PAIR_WORDS,
        pairs=tuple(
            Link(f"{device_name(bench, a)} and {device_name(bench, b)}", addresses.link(here, addresses.pair(a, b)))
            for a, b in results.pairs[:MOST_PAIRS]
        ),
        every_pair=Link(f"All {wording.count(len(results.pairs), 'pair')}", addresses.link(here, addresses.PAIRS)),
        rankings_href=addresses.link(here, addresses.RANKINGS),
    )
