"""Which pages a site has, each as a task: the function that composes it, and what that is told besides the contents."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Set
from dataclasses import dataclass
from typing import Any

from builder import addresses
from builder.observed import text_of
from builder.pages.as_published import DatedValue, as_published_page
from builder.pages.changes import changes_page
from builder.pages.chooser import chooser_page
from builder.pages.client import client_page
from builder.pages.collapses import collapses_page
from builder.pages.contents import Catalogue, Contents, Results, compose
from builder.pages.data import data_page
from builder.pages.device import device_page
from builder.pages.features import features_page
from builder.pages.glossary import glossary_page
from builder.pages.house import house_page
from builder.pages.insides import insides_page
from builder.pages.listing import (
    clients_page,
    devices_page,
    houses_page,
    pairs_page,
    rankings_page,
    recipes_page,
    reviews_page,
)
from builder.pages.method import method_page
from builder.pages.my_room import my_room_page
from builder.pages.not_found import not_found_page
from builder.pages.pair import pair_page
from builder.pages.parts.blocks import Page
from builder.pages.pointer import Target, former_page, short_page, short_targets
from builder.pages.power import power_page
from builder.pages.prices import prices_page
from builder.pages.ranking import ranking_page
from builder.pages.recipe import recipe_keys, recipe_page
from builder.pages.review import article_page
from builder.pages.search import search_page
from builder.pages.start import start_page
from builder.pages.workload import role_keys, role_page, workload_page, workloads_page
from builder.publishing.changing.history import dates_of

MAKERS: dict[str, Callable[..., Page | None]] = {
    "start": start_page,
    "devices": devices_page,
    "device": device_page,
    "as published": as_published_page,
    "pairs": pairs_page,
    "pair": pair_page,
    "rankings": rankings_page,
    "ranking": ranking_page,
    "recipes": recipes_page,
    "recipe": recipe_page,
    "collapses": collapses_page,
    "features": features_page,
    "power": power_page,
    "insides": insides_page,
    "prices": prices_page,
    "workloads": workloads_page,
    "workload": workload_page,
    "role": role_page,
    "clients": clients_page,
    "client": client_page,
    "houses": houses_page,
    "house": house_page,
    "reviews": reviews_page,
    "review": article_page,
    "my room": my_room_page,
    "chooser": chooser_page,
    "search": search_page,
    "method": method_page,
    "glossary": glossary_page,
    "changes": changes_page,
    "not found": not_found_page,
    "data": data_page,
    "former": former_page,
    "short": short_page,
}


# Where the pages of a kind lie, for what their makers are told; leaves and charts lie beside them.
ADDRESSES: dict[str, Callable[..., str]] = {
    "start": lambda: addresses.START,
    "devices": lambda: addresses.DEVICES,
    "device": lambda device, dates: addresses.device(device),
    "as published": lambda device, since, values: addresses.as_published(device, since),
    "pairs": lambda: addresses.PAIRS,
    "pair": addresses.pair,
    "rankings": lambda: addresses.RANKINGS,
    "ranking": addresses.ranking,
    "recipes": lambda: addresses.RECIPES,
    "recipe": addresses.recipe,
    "collapses": lambda: addresses.COLLAPSES,
    "features": lambda: addresses.FEATURES,
    "power": lambda: addresses.POWER,
    "insides": lambda: addresses.INSIDES,
    "prices": lambda: addresses.PRICES,
    "workloads": lambda: addresses.WORKLOADS,
    "workload": addresses.workload,
    "role": lambda workload, version, place, role: addresses.role(workload, version, role, place),
    "clients": lambda: addresses.CLIENTS,
    "client": addresses.client,
    "houses": lambda: addresses.HOUSES,
    "house": addresses.house,
    "reviews": lambda: addresses.REVIEWS,
    "review": addresses.review,
    "my room": lambda: addresses.MY_ROOM,
    "chooser": lambda: addresses.CHOOSER,
    "search": lambda: addresses.SEARCH,
    "method": lambda: addresses.METHOD,
    "glossary": lambda: addresses.GLOSSARY,
    "changes": lambda: addresses.CHANGES,
    "not found": lambda: addresses.NOT_FOUND,
    "data": lambda *told: addresses.DATA,
}


@dataclass(frozen=True, slots=True)
class Task:
    """A page to make: its kind, and what its maker is told besides the contents."""

    kind: str
    told: tuple[Any, ...] = ()

    @property
    def key(self) -> str:
        """What tells it from every other task of a site, and is the same in every build."""
        return f"{self.kind} {text_of(self.told)}"

    @property
    def address(self) -> str:
        """Where its page lies, without making it. Not for pages that only lead on."""
        return ADDRESSES[self.kind](*self.told)

    def page(self, contents: Contents) -> Page:
        """The page, composed. Raises BuildRefused where an article says what the catalogue does not carry."""
        page = compose(MAKERS[self.kind], contents, *self.told)
        assert page is not None, self.key
        return page


def all_pages(
    catalogue: Catalogue,
    results: Results,
    *,
    data: tuple[Any, ...],
    dated: Mapping[tuple[str, str], tuple[DatedValue, ...]],
) -> list[Task]:
    """Every page of its own, in the order of the site.

    data   what the data page is told: the downloads and the meanings of their columns
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
        *(Task("recipe", key) for key in recipe_keys(results)),
        Task("collapses"),
        Task("features"),
        Task("power"),
        Task("insides"),
        Task("prices"),
        Task("workloads"),
        *(Task("workload", version) for version in sorted(catalogue.workloads)),
        *(Task("role", key) for key in role_keys(catalogue, results)),
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
        Task("data", data),
    ]


def former_pages(contents: Contents, there: Set[str], formerly: Iterable[str]) -> list[Task]:
    """A page for each address of an earlier build that is not *there* any more, and whose things may all be seen.

    there  addresses of everything that the pages of this build bring: charts that stand alone come with theirs
    """
    return [
        Task("former", (here,)) for here in sorted(set(formerly) - there) if former_page(*contents, here) is not None
    ]


def short_pages(pages: Iterable[Target]) -> list[Task]:
    """The page behind each short link to one of *pages*."""
    return [Task("short", link) for link in short_targets(pages)]
