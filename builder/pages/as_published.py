"""What a publication printed about a device, under a lasting link: the value then, and whether it still holds.

One page per device and publication: every figure of the device that the site first printed on that day. A figure that
was replaced since keeps its old value here, with a notice and the way to the new one; one that was taken back keeps none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Link, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage

KIND_WORDS = {
    "cell": "Measured value",
    "window": "Mean over a window",
    "reach": "Reach",
    "pair": "Comparison",
    "role": "Role of a workload",
    "longrun": "Long run",
    "longwaits": "Long run of requests",
    "heat": "Rise of a surface",
    "power": "Power",
    "price": "Price",
}


@dataclass(frozen=True, slots=True)
class DatedValue:
    """A figure as one publication printed it.

    text   as it was printed; "" for one that was taken back
    until  instant of the publication that replaced it or took it back; "" while it holds
    why    the reason
    now    what replaced it; "" where nothing did
    moved  instant of the publication that first printed that
    """

    figure: str
    text: str
    until: str = ""
    why: str = ""
    now: str = ""
    moved: str = ""


@dataclass(frozen=True, kw_only=True)
class AsPublishedPage(SectionedPage):
    """One device and one publication."""

    grows: ClassVar[bool] = True


def as_published_page(
    catalogue: Catalogue, results: Results, site: SiteContext, device_id: str, since: str, values: Sequence[DatedValue]
) -> AsPublishedPage:
    """The page of the figures of a device that were first published at the instant *since* (UTC text)."""
    here = addresses.as_published(device_id, since)
    name, day = device_name(results.bench, device_id), wording.date(since)
    changed = sum(1 for value in values if value.until)
    verdict = f"{wording.count(len(values), 'figure')} of {name} came with this publication; "
    verdict += f"{changed} {'is' if changed == 1 else 'are'} no longer as printed." if changed else "all still hold."
    return AsPublishedPage(
        address=here,
        title=f"{name} as published on {day}",
        question=f"What did we say of {name} on {day}?",
        verdict=verdict,
        provenance=provenance(catalogue, results, site, here),
        intro=(
            "Each row has an address of its own that lasts: a figure that is replaced keeps its old value here, with a "
            "notice; one that is taken back keeps no value.",
        ),
        sections=(
            Section(
                "values",
                "As printed then, and now",
                tables=(_table(here, device_id, since, values),),
                links=(Link(f"{name} now", addresses.link(here, addresses.device(device_id)), "all that holds today"),),
            ),
        ),
    )


def dated_links(here: str, device_id: str, dates: Sequence[str]) -> tuple[Link, ...]:
    """Links to a device's dated pages, newest first."""
    return tuple(
        Link(
            f"As published on {wording.date(since)}, {since[11:16]} UTC",
            addresses.link(here, addresses.as_published(device_id, since)),
            "addresses that keep the value of that day",
        )
        for since in sorted(dates, reverse=True)
    )


def _table(here: str, device_id: str, since: str, values: Sequence[DatedValue]) -> Table:
    columns: list[Column[DatedValue]] = [
        Column("Figure", _figure, sentence=True),
        Column("As published", lambda v: text_entry(v.text, missing="taken back"), sentence=True),
        Column("Since then", lambda v: _standing(here, device_id, v), sentence=True),
    ]
    return table_of(
        values,
        columns,
        key="published",
        caption=f"Figures first published on {wording.date(since)}, {since[11:16]} UTC",
        row_key=lambda v: v.figure,
    )


def _figure(value: DatedValue) -> Entry:
    kind = value.figure.split("~")[0]
    return Entry(text=KIND_WORDS.get(kind, kind), note=value.figure, href=f"#{value.figure}")


def _standing(here: str, device_id: str, value: DatedValue) -> Entry:
    if not value.until:
        return Entry(text="still so", href=addresses.link(here, addresses.device(device_id)))
    day = wording.date(value.until)
    if value.now:
        target = addresses.as_published(device_id, value.moved)
        return Entry(text=f"Replaced on {day}: now {value.now}", note=value.why, href=addresses.link(here, target))
    what = "No longer shown" if value.text else "Taken back"
    return Entry(text=f"{what} since {day}", note=value.why)
