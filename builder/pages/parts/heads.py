"""What a page's head tells programs: its address, the feeds, a preview for links to it, and what it is about.

The last is Schema.org JSON-LD: a device with a review or a price is a Product, a review a Review, the data page a
Dataset. No rating is given: there is no overall score.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from typing import Any
from urllib.parse import quote, urljoin

from markupsafe import Markup

from builder import addresses
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Frame, Page
from builder.registers.prices import latest_price
from catalog.records import Article, Price

SCHEMA = "https://schema.org"
DESCRIPTION_LETTERS = 160  # what search results commonly show of one


def with_head(around: Frame, site: SiteContext, page: Page) -> Frame:
    """The frame with what the head of *page* says to programs."""
    home = site.address
    return replace(
        around,
        description=description(page),
        atom_feed=addresses.link(page.address, addresses.ATOM_FEED),
        json_feed=addresses.link(page.address, addresses.JSON_FEED),
        canonical=urljoin(home, quote(page.address)) if home and page.canonical else "",
        preview_image=urljoin(home, quote(page.preview)) if home and page.preview else "",
        structured=Markup(_script_text({"@context": SCHEMA} | dict(page.about))) if page.about else "",
    )


def description(page: Page) -> str:
    """What a search result says below the page's title: its name and the answer, cut at a word. At most 160 characters.

    The name goes first, so that pages with one and the same answer differ.
    """
    text = page.verdict
    if page.title not in text[:DESCRIPTION_LETTERS]:
        text = f"{page.title}{'' if page.title.endswith(('?', '!', '.')) else '.'} {text}"
    if len(text) <= DESCRIPTION_LETTERS:
        return text
    return f"{text[: DESCRIPTION_LETTERS - 1].rsplit(' ', 1)[0].rstrip(',;:')} …"[:DESCRIPTION_LETTERS]


def product(catalogue: Catalogue, results: Results, site: SiteContext, device_id: str) -> dict[str, Any] | None:
    """A device as Schema.org has it, with its reviews and its latest price; None where it has neither.

    Programs that read products want a review, an offer or a rating; a bare name says nothing to them.
    """
    reviews = [review(site, article) for article in catalogue.articles if device_id in article.devices]
    price = latest_price(catalogue.prices.get(device_id, ()))
    if not reviews and price is None:
        return None
    return (
        named_product(results, site, device_id)
        | ({"review": reviews} if reviews else {})
        | ({"offers": _offer(price)} if price is not None else {})
    )


def named_product(results: Results, site: SiteContext, device_id: str) -> dict[str, Any]:
    """A device as what a review is about."""
    device = results.bench.devices[device_id]
    properties: dict[str, Any] = {
        "@type": "Product",
        "name": device_name(results.bench, device_id),
        "brand": {"@type": "Brand", "name": device.maker},
        "model": device.model,
    }
    if device.kind:
        properties["category"] = device.kind
    if device.aliases:
        properties["alternateName"] = list(device.aliases)
    return properties | url(site, addresses.device(device_id))


def review(site: SiteContext, article: Article) -> dict[str, Any]:
    """An article as Schema.org has it, without what it is about."""
    return {
        "@type": "Review",
        "name": article.title,
        "datePublished": article.published_utc,
        "inLanguage": site.language or "en",
        "author": {"@type": "Organization", "name": site.author or site.title},
        "publisher": {"@type": "Organization", "name": site.title},
    } | url(site, addresses.review(article.article_id))


def _offer(price: Price) -> dict[str, Any]:
    """A price as it was seen on a day. Whether it still holds is not known, so its end is that day, too."""
    offer: dict[str, Any] = {
        "@type": "Offer",
        "price": f"{price.amount:.2f}",
        "priceCurrency": price.currency,
        "validFrom": price.date,
        "validThrough": price.date,
    }
    if price.region:
        offer["eligibleRegion"] = price.region
    return offer


def url(site: SiteContext, address: str) -> dict[str, str]:
    """The "url" of a page; nothing where the site has no address."""
    return {"url": urljoin(site.address, quote(address))} if site.address else {}


def _script_text(about: Mapping[str, Any]) -> str:
    """JSON that is safe inside a script element: "<", ">" and "&" are escaped, so no text can end it early."""
    text = json.dumps(about, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
