"""What a page's head tells programs: its address, the feeds, a preview for links to it, and what it is about.

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
from builder.pages.contents import Results, SiteContext
from builder.pages.parts.blocks import Frame, Page

SCHEMA = "https://schema.org"


def with_head(around: Frame, site: SiteContext, page: Page) -> Frame:
    """The frame with what the head of *page* says to programs."""
    home = site.address
    return replace(
        around,
        atom_feed=addresses.link(page.address, addresses.ATOM_FEED),
        json_feed=addresses.link(page.address, addresses.JSON_FEED),
        canonical=urljoin(home, quote(page.address)) if home and page.canonical else "",
        preview_image=urljoin(home, quote(page.preview)) if home and page.preview else "",
        structured=Markup(_script_text({"@context": SCHEMA} | dict(page.about))) if page.about else "",
    )


def product(results: Results, site: SiteContext, device_id: str) -> dict[str, Any]:
    """A device as Schema.org has it."""
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


def url(site: SiteContext, address: str) -> dict[str, str]:
    """The "url" of a page; nothing where the site has no address."""
    return {"url": urljoin(site.address, quote(address))} if site.address else {}


def _script_text(about: Mapping[str, Any]) -> str:
    """JSON that is safe inside a script element: "<", ">" and "&" are escaped, so no text can end it early."""
    text = json.dumps(about, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
