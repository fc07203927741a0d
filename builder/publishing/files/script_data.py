"""Files beside the pages, as tasks: data that scripts read when a reader asks for it, rows of downloads, feeds, pictures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder import addresses
from builder.observed import digest_of
from builder.pages.as_published import DatedValue
from builder.pages.contents import Catalogue, Contents, Results, SiteContext, compose
from builder.pages.my_room import room_groups
from builder.pages.parts.device_card import device_card
from builder.pages.prices import YEARS, answers_data, answers_key
from builder.pages.search import ARTICLES_KEY, DATA_KEY
from builder.pairs.pair_parts import PAIR_WORDS, cards_key, parts_of
from builder.publishing.files.assets import Asset
from builder.publishing.files.device_rows import device_rows, left_out
from builder.publishing.files.feeds import atom_feed, json_feed
from builder.publishing.files.figure_index import figure_index
from builder.publishing.files.pair_data import pair_blocks, pair_data, pair_devices, pair_words
from builder.publishing.files.preview_images import preview_image
from builder.publishing.files.room_data import beside_rooms, room_data
from builder.publishing.files.scripts import data_script
from builder.publishing.files.search_index import article_index, search_index

# What a kind of task makes: key under which scripts are given the data -> the data.
Data = Mapping[str, Any]


def _words() -> Data:
    return {PAIR_WORDS: pair_words()}


def _cards(catalogue: Catalogue, results: Results, site: SiteContext, part: int, devices: Sequence[str]) -> Data:
    """Device -> (term, text, address of a page or "") of each fact on its card, for the devices of a part."""
    cards = {device: device_card(catalogue, results, site, device) for device in devices}
    named = {device: [[fact.term, fact.text, fact.href] for fact in facts] for device, facts in cards.items()}
    return {cards_key(part): named}


def _affordable(catalogue: Catalogue, results: Results, years: int) -> Data:
    return {answers_key(years): answers_data(catalogue, results, years)}


def _search(catalogue: Catalogue, results: Results, replaced: Sequence[tuple[str, str, DatedValue]]) -> Data:
    return {DATA_KEY: search_index(catalogue, results, replaced)}


def _articles(catalogue: Catalogue, results: Results, site: SiteContext) -> Data:
    return {ARTICLES_KEY: article_index(catalogue, results, site)}


_MAKERS: dict[str, Callable[..., Data]] = {
    "pair words": _words,
    "affordable": _affordable,
    "cards": _cards,
    "search data": _search,
    "search articles": _articles,
    "figures by size": figure_index,
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


@dataclass(frozen=True, slots=True)
class RowsTask(DataTask):
    """What the downloads have of one device, each under the name of its download."""

    def files(self, contents: Contents) -> list[Asset]:
        """The rows. They are no files of the site by themselves."""
        return compose(device_rows, contents, *self.arguments)


@dataclass(frozen=True, slots=True)
class FeedsTask(DataTask):
    """Both feeds, which tell the same."""

    def files(self, contents: Contents) -> list[Asset]:
        """The two documents."""
        return [Asset(addresses.ATOM_FEED, atom_feed(contents)), Asset(addresses.JSON_FEED, json_feed(contents))]


@dataclass(frozen=True, slots=True)
class PreviewTask(DataTask):
    """The picture that a link to an article brings along."""

    def files(self, contents: Contents) -> list[Asset]:
        """The picture."""
        (article,) = self.arguments
        return [Asset(addresses.preview_image(article.article_id), compose(preview_image, contents, article))]


def program_tasks(contents: Contents) -> list[DataTask]:
    """What programs read of a site: feeds and, if it has an address on the web, preview pictures."""
    articles = contents.catalogue.articles if contents.site.address else ()
    return [FeedsTask("feeds"), *(PreviewTask("preview", (article,)) for article in articles)]


def rows_tasks(catalogue: Catalogue, results: Results) -> list[RowsTask]:
    """The rows of all devices with runs, in the order of the downloads."""
    without = left_out(results)
    return [RowsTask("rows", (device, without)) for device in catalogue.runs_of]


def cards_tasks(results: Results) -> list[DataTask]:
    """The cards of the devices that the chooser offers, by the parts of their pairs."""
    members: dict[int, list[str]] = defaultdict(list)
    for device, part in parts_of(pair_devices(results)).items():
        members[part].append(device)
    return [DataTask("cards", (part, tuple(devices))) for part, devices in sorted(members.items())]


def data_tasks(
    results: Results, dated: Mapping[tuple[str, str], tuple[DatedValue, ...]] | None = None
) -> list[DataTask]:
    """All data of a site. Devices with results are looked at here, so that no task depends on all of them.

    dated  what each publication was the first to print, by device and instant
    """
    replaced = tuple((*key, value) for key, values in sorted((dated or {}).items()) for value in values if value.until)
    return [
        DataTask("pair words"),
        DataTask("search data", (replaced,)),
        DataTask("search articles"),
        DataTask("figures by size"),
        *(DataTask("affordable", (years,)) for years in YEARS),
        *cards_tasks(results),
        *(DataTask("room", (group, beside)) for group, beside in beside_rooms(results, room_groups(results))),
        *(DataTask("pairs of a block", (block,)) for block in pair_blocks(results)),
    ]
