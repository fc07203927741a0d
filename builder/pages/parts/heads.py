"""What a page's head tells programs: its own address, the feeds, a preview for links to it, and what it is about.

The last is Schema.org JSON-LD: a device is a Product, a review a Review, the data page a Dataset. No rating is given:
there is no overall score.
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
from builder.pages.contents import DEFAULT_LICENCE, Catalogue, Results, SiteContext
from builder.pages.data import DataPage
from builder.pages.device import DevicePage
from builder.pages.not_found import NotFoundPage
from builder.pages.parts.blocks import Frame, Page
from builder.pages.pointer import PointerPage
from builder.pages.review import ReviewPage
from catalog.records import Article

SCHEMA = "https://schema.org"
_FORMATS = {"csv": "text/csv", "json": "application/json", "db": "application/vnd.sqlite3"}


def with_head(around: Frame, catalogue: Catalogue, results: Results, site: SiteContext, page: Page) -> Frame:
    """The frame with what the head of *page* says to programs."""
    home = site.address
    article = _article(catalogue, page)
    about = structured_data(catalogue, results, site, page)
    return replace(
        around,
        atom_feed=addresses.link(page.address, addresses.ATOM_FEED),
        json_feed=addresses.link(page.address, addresses.JSON_FEED),
        canonical=urljoin(home, quote(page.address))
        if home and not isinstance(page, NotFoundPage | PointerPage)
        else "",
        preview_image=urljoin(home, quote(addresses.preview_image(article.article_id))) if home and article else "",
        structured=Markup(_script_text(about)) if about else "",
    )


def structured_data(catalogue: Catalogue, results: Results, site: SiteContext, page: Page) -> dict[str, Any] | None:
    """What the page is about as JSON-LD; None for pages that are about no single thing."""
    if isinstance(page, DevicePage):
        return {"@context": SCHEMA} | _product(results, site, page.device)
    article = _article(catalogue, page)
    if article is not None:
        return {"@context": SCHEMA} | _review(results, site, article)
    if isinstance(page, DataPage):
        return {"@context": SCHEMA} | _dataset(site, page)
    return None


def _article(catalogue: Catalogue, page: Page) -> Article | None:
    if not isinstance(page, ReviewPage):
        return None
    return next(a for a in catalogue.articles if a.article_id == page.article)


def _product(results: Results, site: SiteContext, device_id: str) -> dict[str, Any]:
    device = results.bench.devices[device_id]
    found: dict[str, Any] = {
        "@type": "Product",
        "name": device_name(results.bench, device_id),
        "brand": {"@type": "Brand", "name": device.maker},
        "model": device.model,
    }
    if device.kind:
        found["category"] = device.kind
    if device.aliases:
        found["alternateName"] = list(device.aliases)
    return found | _address(site, addresses.device(device_id))


def _review(results: Results, site: SiteContext, article: Article) -> dict[str, Any]:
    about = [_product(results, site, d) for d in article.devices if d in results.bench.devices]
    return {
        "@type": "Review",
        "name": article.title,
        "datePublished": article.published_utc,
        "inLanguage": site.language or "en",
        "author": {"@type": "Organization", "name": site.author or site.title},
        "itemReviewed": about[0] if len(about) == 1 else about,
    } | _address(site, addresses.review(article.article_id))


def _dataset(site: SiteContext, page: DataPage) -> dict[str, Any]:
    return {
        "@type": "Dataset",
        "name": f"Results of {site.title}",
        "description": page.verdict,
        "license": f"https://spdx.org/licenses/{site.licence or DEFAULT_LICENCE}.html",
        "creator": {"@type": "Organization", "name": site.author or site.title},
        "isAccessibleForFree": True,
        "variableMeasured": [
            {"@type": "PropertyValue", "name": name, "unitText": unit}
            for name, unit in (("throughput", "Mbit/s"), ("attenuation", "dB"), ("received level", "dBm"))
        ],
        "distribution": [
            {
                "@type": "DataDownload",
                "name": row.head.text,
                "encodingFormat": _FORMATS.get(row.head.text.rpartition(".")[2], "text/plain"),
                "contentUrl": urljoin(site.address, addresses.download(row.head.text))
                if site.address
                else row.head.href,
            }
            for row in page.downloads.rows
        ],
    } | _address(site, page.address)


def _address(site: SiteContext, address: str) -> dict[str, Any]:
    return {"url": urljoin(site.address, quote(address))} if site.address else {}


def _script_text(about: Mapping[str, Any]) -> str:
    """JSON that no text in it can end early: "<" is written as its number."""
    text = json.dumps(about, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
