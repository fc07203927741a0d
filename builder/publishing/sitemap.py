"""The list of pages for search engines (sitemaps.org, protocol 0.9). It needs whole addresses, so the site's own."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import quote, urljoin
from xml.etree import ElementTree as Xml

from builder.pages.blocks import Page
from builder.pages.not_found import NotFoundPage
from builder.pages.pointer import PointerPage

SITEMAP = "http://www.sitemaps.org/schemas/sitemap/0.9"


def sitemap(pages: Sequence[Page], *, home: str) -> bytes:
    """Every page that is one of its own: not those that only lead on.

    home  the site's address, ending in a slash
    """
    Xml.register_namespace("", SITEMAP)
    urls = Xml.Element(f"{{{SITEMAP}}}urlset")
    for page in pages:
        if not isinstance(page, NotFoundPage | PointerPage):
            entry = Xml.SubElement(urls, f"{{{SITEMAP}}}url")
            Xml.SubElement(entry, f"{{{SITEMAP}}}loc").text = urljoin(home, quote(page.address))
    Xml.indent(urls)
    document: bytes = Xml.tostring(urls, encoding="utf-8", xml_declaration=True)
    return document + b"\n"
