"""Search: where is it? Everything that has a name and a page, as lists; scripts search through it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Link, Page, Section
from builder.pages.parts.played_roles import versions_of
from builder.pages.parts.provenance import provenance
from builder.pages.parts.topics import topics

DATA_KEY = "search"
ARTICLES_KEY = "search-articles"


@dataclass(frozen=True, slots=True)
class Named:
    """One thing with a page.

    names  its name first, then what else leads to it, each with the reason: "also called", "has the part"
    """

    kind: str
    address: str
    names: tuple[tuple[str, str], ...]


@dataclass(frozen=True, kw_only=True)
class SearchPage(Page):
    """A field for scripts, and lists by kind."""

    template: ClassVar[str] = "search"

    root: str
    topics: tuple[Link, ...]
    sections: tuple[Section, ...]


def search_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SearchPage:
    """The page of this build."""
    here = addresses.SEARCH
    named = everything_named(catalogue, results)
    kinds = list(dict.fromkeys(n.kind for n in named))
    return SearchPage(
        address=here,
        title="Search",
        question="Where is it?",
        verdict="Find a device, a part, a feature, a word, a review or a correction by name, or a figure by its number: "
        "“560” finds what was measured near it.",
        provenance=provenance(catalogue, results, site, here),
        root=addresses.link(here, addresses.START).removesuffix(addresses.START),
        topics=tuple(Link(topic.question, addresses.link(here, topic.address)) for topic in topics()),
        sections=tuple(
            Section(
                kind.replace(" ", "-") + "s",
                wording.capital(kind) + "s",
                links=tuple(_link(here, n) for n in named if n.kind == kind),
            )
            for kind in kinds
        ),
    )


def _link(here: str, named: Named) -> Link:
    also = [name for name, why in named.names if why == "also called"]
    return Link(named.names[0][0], addresses.link(here, named.address), f"also {wording.listing(also)}" if also else "")


def everything_named(catalogue: Catalogue, results: Results) -> list[Named]:
    """Devices, clients, houses, workloads and reviews, each kind in order of name."""
    kinds = (
        _devices(catalogue, results),
        _clients(results),
        _houses(results),
        _workloads(catalogue),
        _reviews(catalogue),
    )
    return [named for kind in kinds for named in sorted(kind, key=lambda n: (n.names[0][0], n.address))]


def _devices(catalogue: Catalogue, results: Results) -> Iterator[Named]:
    for device_id, device in results.bench.devices.items():
        also = [device.model, *device.aliases, device_id]
        parts = dict.fromkeys(part.marking for part in catalogue.parts.get(device_id, ()))
        features = dict.fromkeys(feature.feature for feature in catalogue.features.get(device_id, ()))
        yield Named(
            "device",
            addresses.device(device_id),
            (
                (device_name(results.bench, device_id), ""),
                *((name, "also called" if name in device.aliases else "") for name in dict.fromkeys(also)),
                *((marking, "has the part") for marking in parts),
                *((feature, "has evidence on") for feature in features),
            ),
        )


def _clients(results: Results) -> Iterator[Named]:
    for client_id, client in results.bench.clients.items():
        names = [(client.name, ""), (client_id, "")]
        if client.adapter:
            names.append((client.adapter, "has the adapter"))
        yield Named("client", addresses.client(client_id), tuple(names))


def _houses(results: Results) -> Iterator[Named]:
    for house_id, house in results.bench.houses.items():
        yield Named("house", addresses.house(house_id), ((house.name, ""), (house_id, "")))


def _workloads(catalogue: Catalogue) -> Iterator[Named]:
    for workload_id in dict.fromkeys(workload_id for workload_id, _ in catalogue.workloads):
        newest = versions_of(catalogue, workload_id)[0]
        yield Named("workload", addresses.workload(workload_id), ((newest.title, ""), (workload_id, "")))


def _reviews(catalogue: Catalogue) -> Iterator[Named]:
    for article in catalogue.articles:
        yield Named("review", addresses.review(article.article_id), ((article.title, ""),))
