"""The start page: the picture of all devices, three ways in, and what changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.news import Item, newest
from builder.pages.parts.blocks import Drawing, Link, Page
from builder.pages.parts.newest import days_tested
from builder.pages.parts.overview import QUESTION, overview
from builder.pages.parts.overview_words import Lead, lead, machine
from builder.pages.parts.provenance import provenance
from catalog.records import Article

MOST_NEWS = 5
MOST_REVIEWS = 4
MOST_NAMED = 4


@dataclass(frozen=True, slots=True)
class Way:
    """One of the three ways in: a question, what to do with it, and where."""

    question: str
    advice: str
    links: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class Dated:
    """An entry of a list of what is new: when, where it leads, and what came of it."""

    when: str
    link: Link
    text: str


@dataclass(frozen=True, kw_only=True)
class StartPage(Page):
    """The answer with the picture of all devices, three ways in, what changed, newest reviews.

    lead        the verdict in parts, because its value stands out
    picture     None where no two devices were tested alike
    all         where all devices of the picture are listed
    everything  the way to all that changed; every_review to all reviews; cautions_at to all cautions
    """

    template: ClassVar[str] = "start"
    wide: ClassVar[bool] = True

    lead: Lead
    picture: Drawing | None
    all: Link | None
    ways: tuple[Way, ...]
    news: tuple[Dated, ...]
    everything: Link
    reviews: tuple[Dated, ...]
    every_review: Link
    cautions_at: str

    @property
    def drawings(self) -> tuple[Drawing, ...]:
        return (self.picture,) if self.picture else ()


def start_page(catalogue: Catalogue, results: Results, site: SiteContext) -> StartPage:
    """The start page of this build."""
    here = addresses.START
    shown = overview(catalogue, results, site, here)
    title, words = (shown.title, shown.lead) if shown else _without_picture(results)
    return StartPage(
        address=here,
        title=title,
        question=QUESTION,
        verdict=words.text,
        cannot_say=(
            "What your own walls take from a signal. The pages of devices and houses say what stood between.",
            "Which device is best. It depends on where you sit and on what you hold in your hand.",
        ),
        provenance=provenance(catalogue, results, site, here, days=days_tested(results, results.bench.devices)),
        lead=words,
        basis=shown.basis if shown else "",
        picture=shown.drawing if shown else None,
        all=shown.all if shown else None,
        ways=_ways(here),
        news=tuple(_dated(item, here) for item in newest(catalogue, results, MOST_NEWS)),
        everything=Link("Everything that changed, and why", addresses.link(here, addresses.CHANGES)),
        reviews=tuple(_review(results, a, here) for a in list(reversed(catalogue.articles))[:MOST_REVIEWS]),
        every_review=Link("All reviews", addresses.link(here, addresses.REVIEWS)),
        cautions_at=addresses.link(here, addresses.HOUSES, "cautions"),
    )


def _without_picture(results: Results) -> tuple[str, Lead]:
    """Name and answer of a bench in which no two devices were tested alike."""
    bench = results.bench
    tested = [device for device in bench.devices if bench.cells_of.get(device)]
    if not tested:
        return "No access point yet", Lead("Nothing was tested yet; what comes to be known stands here.")
    title = wording.capital(f"{wording.in_words(len(tested))} access {'point' if len(tested) == 1 else 'points'}")
    if not results.groups:
        return title, Lead(
            "No device was tested over a whole stretch near, a wall or two away or far off, so none is ranked. What was "
            "measured stands on the page of each device."
        )
    if len(tested) == 1:
        group = results.groups[0]
        return title, lead(results.ranking(group, "middle"), machine(results, group), upload=group.direction == "up")
    return title, Lead(
        "No two of them were tested with the same client, band and width, so none is compared with another. What each "
        "gives stands on its page."
    )


def _ways(here: str) -> tuple[Way, ...]:
    def to(text: str, target: str, fragment: str = "", note: str = "") -> Link:
        return Link(text, addresses.link(here, target, fragment), note)

    return (
        Way(
            "My room",
            "Say what you have and where you sit: who gives more than yours, and by how much?",
            (
                to("What would I get here?", addresses.MY_ROOM),
                to("Compare up to four", addresses.CHOOSER),
                to("Pairs that are compared already", addresses.PAIRS),
                to("What 70 dB means in a house", addresses.HOUSES),
                to("Which machine is most like mine?", addresses.CLIENTS),
            ),
        ),
        Way(
            "My office",
            "Several people at once: who waits, and which devices broke off?",
            (
                to("Did it cope with several at once?", addresses.WORKLOADS),
                to("What broke off, and when", addresses.COLLAPSES),
                to("Firmware that helped", addresses.FIRMWARE),
                to("Which features work?", addresses.FEATURES),
                to("What it costs over the years", addresses.PRICES),
            ),
        ),
        Way(
            "Installing it",
            "Measured watts beside the promised class, heat, and how far it reaches.",
            (
                to("Will my switch power it?", addresses.POWER),
                to("All devices", addresses.DEVICES),
                to("Same insides", addresses.INSIDES),
                to("Repeat a test at home", addresses.RECIPES),
            ),
        ),
    )


def _dated(item: Item, here: str) -> Dated:
    return Dated(
        wording.month(item.when),
        Link(item.what, addresses.link(here, item.address, item.fragment)),
        f"{item.kind}: {item.outcome}",
    )


def _review(results: Results, article: Article, here: str) -> Dated:
    about = [device_name(results.bench, device) for device in article.devices if device in results.bench.devices]
    return Dated(
        wording.month(article.published_utc),
        Link(article.title, addresses.link(here, addresses.review(article.article_id))),
        f"About {wording.listing_of_many(about, MOST_NAMED)}" if about else "",
    )
