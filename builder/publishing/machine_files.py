"""What programs read of a site: feeds, and with an address of its own the list of pages and preview pictures."""

from __future__ import annotations

from collections.abc import Iterable

from builder import addresses
from builder.pages.material import Material
from builder.publishing.assets import Asset
from builder.publishing.feeds import atom_feed, json_feed
from builder.publishing.preview_images import preview_image
from builder.publishing.sitemap import sitemap


def machine_files(material: Material, pages: Iterable[str]) -> list[Asset]:
    """All of them. Without the site's address nothing that needs one is made.

    pages  addresses of the pages of their own
    """
    files = [Asset(addresses.ATOM_FEED, atom_feed(material)), Asset(addresses.JSON_FEED, json_feed(material))]
    home = material.site.address
    if home:
        files.append(Asset(addresses.SITEMAP, sitemap(pages, home=home)))
        files += [
            Asset(addresses.preview_image(article.article_id), preview_image(material, article))
            for article in material.articles
        ]
    return files
