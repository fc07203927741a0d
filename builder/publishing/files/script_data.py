"""Every piece of data that scripts read when a reader asks for it, as tasks: each makes one file of data or several."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from builder import addresses
from builder.observed import digest_of
from builder.pages.contents import Catalogue, Contents, Results, SiteContext, compose
from builder.pages.my_room import room_groups
from builder.pages.parts.device_card import card_key, device_card
from builder.pages.search import DATA_KEY, everything_named
from builder.pairs.pair_parts import PAIR_WORDS
from builder.publishing.files.assets import Asset
from builder.publishing.files.pair_data import pair_blocks, pair_data, pair_words
from builder.publishing.files.room_data import beside_rooms, room_data
from builder.publishing.files.scripts import data_script

# What a kind of task makes: key under which scripts are given the data -> the data.
Data = Mapping[str, Any]


def _words() -> Data:
    return {PAIR_WORDS: pair_words()}


def _card(catalogue: Catalogue, results: Results, site: SiteContext, device_id: str) -> Data:
    """(term, text, address of a page or "") of each fact on a device's card."""
    facts = device_card(catalogue, results, site, device_id)
    return {card_key(device_id): [[fact.term, fact.text, fact.href] for fact in facts]}


def _search(catalogue: Catalogue, results: Results) -> Data:
    named = everything_named(catalogue, results)
    return {DATA_KEY: [{"kind": one.kind, "href": one.address, "names": one.names} for one in named]}


_MAKERS: dict[str, Callable[..., Data]] = {
    "pair words": _words,
    "card": _card,
    "search data": _search,
    "room": room_data,
    "pairs of a block": pair_data,
}


@dataclass(frozen=True, slots=True)
class DataTask:
    """Files of data to make: their kind, and the arguments of its maker besides the contents."""

    kind: str
    arguments: tuple[Any, ...] = ()

    @property
    def key(self) -> str:
        """Distinguishes it from every other task of a site, and is the same in every build."""
        return f"{self.kind} {digest_of(self.arguments)}"

    def files(self, contents: Contents) -> list[Asset]:
        """The files, each a script."""
        data = compose(_MAKERS[self.kind], contents, *self.arguments)
        return [Asset(addresses.script_data(key), data_script(key, value)) for key, value in data.items()]


def data_tasks(results: Results) -> list[DataTask]:
    """All data of a site. Devices with results are looked at here, so that no task depends on all of them."""
    bench = results.bench
    return [
        DataTask("pair words"),
        DataTask("search data"),
        *(DataTask("card", (device,)) for device in bench.devices),
        *(DataTask("room", (group, beside)) for group, beside in beside_rooms(results, room_groups(results))),
        *(DataTask("pairs of a block", (block,)) for block in pair_blocks(results)),
    ]
