"""The list of pages for search engines (sitemaps.org, protocol 0.9). It needs whole addresses, so the site's own."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import quote, urljoin
from xml.etree import ElementTree as Xml

SITEMAP = "http://www.sitemaps.org/schemas/sitemap/0.9"


def sitemap(pages: Iterable[str], *, home: str) -> bytes:
    """The list of *pages*, which are addresses inside the site: of those that are pages of their own.

    home  the site's address, ending in a slash
    """
    Xml.register_namespace("", SITEMAP)
    urls = Xml.Element(f"{{{SITEMAP}}}urlset")
    for page in pages:
        entry = Xml.SubElement(urls, f"{{{SITEMAP}}}url")
        Xml.SubElement(entry, f"{{{SITEMAP}}}loc").text = urljoin(home, quote(page))
    Xml.indent(urls)
    document: bytes = Xml.tostring(urls, encoding="utf-8", xml_declaration=True)
    return document + b"\n"
