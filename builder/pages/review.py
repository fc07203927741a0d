"""The page of a review: the text, and beside it what a reader must know of who paid."""

from __future__ import annotations

import posixpath
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.articles.markdown_text import article_html
from builder.comparisons.naming import device_name
from builder.pages.blocks import Fact, Link, Page
from builder.pages.device_register import origin_sentence
from builder.pages.material import Material
from builder.pages.pair import pair_links
from builder.pages.picturing import Picture, pictures
from builder.pages.provenance import provenance


@dataclass(frozen=True, kw_only=True)
class ReviewPage(Page):
    """One article. *text* is sanitised HTML, the only page field that is."""

    template: ClassVar[str] = "review"

    published: str
    text: str
    disclosure: tuple[Fact, ...]
    devices: tuple[Link, ...]
    pairs: tuple[Link, ...]
    pictures: tuple[Picture, ...]


def review_page(material: Material, article_id: str) -> ReviewPage:
    """The page of an article that is published at the build instant."""
    here = addresses.review(article_id)
    bench = material.bench
    article = next(a for a in material.articles if a.article_id == article_id)
    devices = [d for d in article.devices if d in bench.devices]
    own = [image for image in material.images if image.batch_id == article.batch_id]
    placed = dict(zip((image.path for image in own), pictures(here, own, material.sizes), strict=True))
    others = [i for i in material.images if i.device in devices and posixpath.basename(i.path) not in article.text]
    return ReviewPage(
        address=here,
        title=article.title,
        question=article.title,
        verdict=f"Published {wording.date(article.published_utc)}; about "
        f"{wording.listing([device_name(bench, d) for d in devices])}.",
        provenance=provenance(material, here, [c for d in devices for c in bench.cells_of.get(d, ())]),
        published=article.published_utc,
        text=article_html(article.text, folder=posixpath.dirname(article.path), pictures=placed),
        disclosure=tuple(
            Fact(device_name(bench, d), " ".join(origin_sentence(u) for u in bench.devices[d].units)) for d in devices
        ),
        devices=tuple(Link(device_name(bench, d), addresses.link(here, addresses.device(d))) for d in devices),
        pairs=pair_links(material, here, _pairs(material, devices)),
        pictures=pictures(here, others, material.sizes),
    )


def _pairs(material: Material, devices: list[str]) -> list[tuple[str, str]]:
    """Pairs among the devices; of a review of one device, that device's pairs."""
    among = [pair for pair in material.pairs if set(pair) <= set(devices)]
    return among or [pair for pair in material.pairs if set(pair) & set(devices)]
