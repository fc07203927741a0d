"""Which pages a site has, each as a task: its kind, and the arguments of the function that composes it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from dataclasses import dataclass
from typing import Any

from builder import addresses
from builder.bench.bench import Bench
from builder.observed import digest_of
from builder.pages.as_published import DatedValue, as_published_page
from builder.pages.changes import changes_page
from builder.pages.chooser import chooser_page
from builder.pages.client import client_page
from builder.pages.collapses import collapses_page
from builder.pages.contents import Catalogue, Contents, Results, compose
from builder.pages.data import data_page
from builder.pages.device import device_page
from builder.pages.features import features_page
from builder.pages.firmware import firmware_page
from builder.pages.glossary import glossary_page
from builder.pages.house import house_page
from builder.pages.insides import insides_page
from builder.pages.listing import (
    clients_page,
    devices_page,
    houses_page,
    pairs_page,
    recipes_page,
    reviews_page,
)
from builder.pages.method import method_page
from builder.pages.my_room import my_room_page
from builder.pages.not_found import not_found_page
from builder.pages.pair import pair_page
from builder.pages.parts.blocks import Page
from builder.pages.parts.played_roles import role_keys
from builder.pages.pointer import Target, former_page, frame_page, short_page, short_targets, workload_version_page
from builder.pages.power import power_page
from builder.pages.prices import YEARS, prices_page
from builder.pages.ranking import ranking_page
from builder.pages.ranking_list import rankings_page
from builder.pages.recipe import recipe_page, recipe_pages
from builder.pages.review import article_page
from builder.pages.search import search_page
from builder.pages.start import start_page
from builder.pages.workload import role_page, workload_page, workloads_page
from builder.publishing.changing.history import dates_of


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of page.

    make     composes a page of it
    address  where it lies, or how that follows from the arguments of *make*; None for pages that only lead on
    """

    make: Callable[..., Page | None]
    address: str | Callable[..., str] | None = None


KINDS = {
    "start": Kind(start_page, addresses.START),
    "devices": Kind(devices_page, addresses.DEVICES),
    "device": Kind(device_page, lambda device, dates: addresses.device(device)),
    "as published": Kind(as_published_page, lambda device, since, values: addresses.as_published(device, since)),
    "pairs": Kind(pairs_page, addresses.PAIRS),
    "pair": Kind(pair_page, addresses.pair),
    "rankings": Kind(rankings_page, addresses.RANKINGS),
    "ranking": Kind(ranking_page, addresses.ranking),
    "recipes": Kind(recipes_page, addresses.RECIPES),
    "recipe": Kind(recipe_page, addresses.recipe),
    "collapses": Kind(collapses_page, addresses.COLLAPSES),
    "features": Kind(features_page, addresses.FEATURES),
    "power": Kind(power_page, addresses.POWER),
    "insides": Kind(insides_page, addresses.INSIDES),
    "firmware": Kind(firmware_page, addresses.FIRMWARE),
    "prices": Kind(prices_page, addresses.prices),
    "workloads": Kind(workloads_page, addresses.WORKLOADS),
    "workload": Kind(workload_page, addresses.workload),
    "workload version": Kind(workload_version_page, addresses.workload_version),
    "role": Kind(role_page, addresses.role),
    "clients": Kind(clients_page, addresses.CLIENTS),
    "client": Kind(client_page, addresses.client),
    "houses": Kind(houses_page, addresses.HOUSES),
    "house": Kind(house_page, addresses.house),
    "reviews": Kind(reviews_page, addresses.REVIEWS),
    "review": Kind(article_page, addresses.review),
    "my room": Kind(my_room_page, addresses.MY_ROOM),
    "chooser": Kind(chooser_page, addresses.CHOOSER),
    "search": Kind(search_page, addresses.SEARCH),
    "method": Kind(method_page, addresses.METHOD),
    "glossary": Kind(glossary_page, addresses.GLOSSARY),
    "changes": Kind(changes_page, addresses.CHANGES),
    "not found": Kind(not_found_page, addresses.NOT_FOUND),
    "data": Kind(data_page, addresses.DATA),
    "former": Kind(former_page),
    "framed": Kind(frame_page),
    "short": Kind(short_page),
}


@dataclass(frozen=True, slots=True)
class Task:
    """A page to make: its kind, and the arguments of its maker besides the contents."""

    kind: str
    arguments: tuple[Any, ...] = ()

    @property
    def key(self) -> str:
        """Distinguishes it from every other task of a site, and is the same in every build."""
        return f"{self.kind} {digest_of(self.arguments)}"

    @property
    def address(self) -> str:
        """Where its page lies, without making it; leaves and charts lie beside it."""
        address = KINDS[self.kind].address
        assert address is not None, f"a {self.kind} page only leads on"
        return address if isinstance(address, str) else address(*self.arguments)

    def page(self, contents: Contents) -> Page:
        """The page, composed. Raises BuildRefused where an article says what the catalogue does not carry."""
        page = compose(KINDS[self.kind].make, contents, *self.arguments)
        assert page is not None, self
        return page


def all_pages(
    catalogue: Catalogue,
    results: Results,
    *,
    dated: Mapping[tuple[str, str], tuple[DatedValue, ...]],
) -> list[Task]:
    """Every page but the data page, which waits for all downloads, and those that only lead on, in the site's order.

    dated  what each publication was the first to print, by device and instant
    """
    bench = results.bench
    return [
        Task("start"),
        Task("devices"),
        *(Task("device", (device, dates_of(dated, device))) for device in bench.devices),
        *(Task("as published", (*key, values)) for key, values in sorted(dated.items())),
        Task("pairs"),
        *(Task("pair", pair) for pair in results.pairs),
        Task("rankings"),
        *(Task("ranking", (group,)) for group in results.groups),
        Task("recipes"),
        *(Task("recipe", page) for page in recipe_pages(results)),
        Task("collapses"),
        Task("features"),
        Task("power"),
        Task("insides"),
        Task("firmware"),
        *(Task("prices", (years,)) for years in YEARS),
        Task("workloads"),
        *(Task("workload", (workload,)) for workload in sorted({workload for workload, _ in catalogue.workloads})),
        *(Task("workload version", version) for version in sorted(catalogue.workloads)),
        *(Task("role", key) for key in role_keys(results)),
        Task("clients"),
        *(Task("client", (client,)) for client in bench.clients),
        Task("houses"),
        *(Task("house", (house,)) for house in bench.houses),
        Task("reviews"),
        *(Task("review", (article.article_id,)) for article in catalogue.articles),
        Task("my room"),
        Task("chooser"),
        Task("search"),
        Task("method"),
        Task("glossary"),
        Task("changes"),
        Task("not found"),
    ]


def pages_of_things(catalogue: Catalogue, bench: Bench) -> set[str]:
    """Where pages lie that are there whatever was measured: every list, and a page of each thing and review."""
    kinds = (kind.address for kind in KINDS.values())
    return {
        *(address for address in kinds if isinstance(address, str)),
        *map(addresses.device, bench.devices),
        *map(addresses.client, bench.clients),
        *map(addresses.house, bench.houses),
        *(addresses.review(article.article_id) for article in catalogue.articles),
    }


def former_pages(contents: Contents, there: Set[str], formerly: Iterable[str], moved: Iterable[str]) -> list[Task]:
    """A page for each address of an earlier build that has gone, if everything it names may be seen.

    there  addresses of all files that this build's pages bring, which include charts that stand alone
    moved  those of kinds that lie elsewhere now, if what they were about is on this site
    """
    frames = {here for here in moved if here not in there and addresses.framed_picture(here) in there}
    gone = {*formerly, *(here for here in moved if not here.startswith(addresses.FIGURES))} - there - frames
    return [
        *(Task("framed", (here,)) for here in sorted(frames)),
        *(Task("former", (here,)) for here in sorted(gone) if former_page(*contents, here) is not None),
    ]


def short_pages(pages: Iterable[Target]) -> list[Task]:
    """The page behind each short link to one of *pages*."""
    return [Task("short", link) for link in short_targets(pages)]
