"""What programs read of a site: feeds, and with an address of its own the list of pages and preview pictures."""

from __future__ import annotations

from collections.abc import Iterable
from urllib.parse import quote, urljoin
from xml.etree import ElementTree as Xml

from builder import addresses
from builder.pages.contents import Contents
from builder.publishing.files.assets import Asset
from builder.publishing.files.feeds import atom_feed, json_feed
from builder.publishing.files.preview_images import preview_image


def machine_files(contents: Contents, pages: Iterable[str]) -> list[Asset]:
    """All of them. Without the site's address nothing that needs one is made.

    pages  addresses of the pages of their own
    """
    files = [Asset(addresses.ATOM_FEED, atom_feed(contents)), Asset(addresses.JSON_FEED, json_feed(contents))]
    home = contents.site.address
    if home:
        files.append(Asset(addresses.SITEMAP, sitemap(pages, home=home)))
        files += [
            Asset(addresses.preview_image(article.article_id), preview_image(contents.results, contents.site, article))
            for article in contents.catalogue.articles
        ]
    return files


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
