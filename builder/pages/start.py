"""The start page: what do you want to decide?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.news import news
from builder.pages.parts.blocks import Link, Page
from builder.pages.parts.provenance import provenance

MOST_NEWS = 8
MOST_REVIEWS = 4


@dataclass(frozen=True, slots=True)
class Way:
    """One of the three ways in: a question, what to do with it, and where."""

    question: str
    advice: str
    links: tuple[Link, ...]


@dataclass(frozen=True, kw_only=True)
class StartPage(Page):
    """Three ways in, what changed, newest reviews."""

    template: ClassVar[str] = "start"

    ways: tuple[Way, ...]
    news: tuple[Link, ...]
    reviews: tuple[Link, ...]


def start_page(catalogue: Catalogue, results: Results, site: SiteContext) -> StartPage:
    """The start page of this build."""
    here = addresses.START
    bench = results.bench
    devices = sum(1 for d in bench.devices if bench.cells_of.get(d))
    houses = wording.count(len(bench.houses), "house")
    return StartPage(
        address=here,
        title="What do you want to decide?",
        question="What do you want to decide?",
        verdict=f"{wording.capital(wording.count(devices, 'access point'))}, "
        f"{wording.count(len(catalogue.runs), 'run')} in {houses}, compared only under the same conditions.",
        cannot_say=(
            "How your own walls are. The pages of devices and houses say what stood between, so you can find the place "
            "that is most like yours.",
            "Which device is best. There is no overall score: it depends on where you sit and on what you hold "
            "in your hand.",
        ),
        provenance=provenance(catalogue, results, site, here),
        ways=_ways(here),
        news=_news(catalogue, results, here),
        reviews=tuple(
            Link(a.title, addresses.link(here, addresses.review(a.article_id)), wording.date(a.published_utc))
            for a in list(reversed(catalogue.articles))[:MOST_REVIEWS]
        ),
    )


def _ways(here: str) -> tuple[Way, ...]:
    def to(text: str, target: str, fragment: str = "", note: str = "") -> Link:
        return Link(text, addresses.link(here, target, fragment), note)

    return (
        Way(
            "My room: would another one be better where I sit?",
            "Say what you know of your place, put the devices you think of side by side, or see who leads near, a "
            "wall or two away, and far off.",
            (
                to("What would I get here?", addresses.MY_ROOM),
                to("Any two to four devices, side by side", addresses.CHOOSER),
                to("Pairs that are compared already", addresses.PAIRS),
                to("Who leads at my loss", addresses.RANKINGS),
                to("What 70 dB means in a house", addresses.HOUSES),
            ),
        ),
        Way(
            "My office: will it hold when everybody is at work?",
            "See who waited too long while several clients worked at once, and which devices broke off, on which "
            "firmware.",
            (
                to("Who suffers when all are busy", addresses.WORKLOADS),
                to("What broke off, and when", addresses.COLLAPSES),
                to("Which features work, and with which licence", addresses.FEATURES),
                to("What it costs over the years", addresses.PRICES),
                to("Which client is most like ours", addresses.CLIENTS),
                to("What we wrote about them", addresses.REVIEWS),
            ),
        ),
        Way(
            "On the ladder: will my switch feed it, and how far does it reach?",
            "Every device's page has measured watts against its promised class, its heat, and the loss at which "
            "it falls below 100 Mbit/s.",
            (
                to("Which class feeds which device", addresses.POWER),
                to("All devices", addresses.DEVICES),
                to("Which have the same insides", addresses.INSIDES),
                to("How to repeat a test", addresses.RECIPES),
                to("How the figures are made", addresses.METHOD),
            ),
        ),
    )


def _news(catalogue: Catalogue, results: Results, here: str) -> tuple[Link, ...]:
    """The newest changes, and the way to all of them."""
    items = news(catalogue, results)
    shown = tuple(
        Link(item.text, addresses.link(here, item.address, item.fragment), f"{item.outcome}; {wording.date(item.when)}")
        for item in items[:MOST_NEWS]
    )
    return (*shown, Link("Everything that changed, and why", addresses.link(here, addresses.CHANGES))) if items else ()
