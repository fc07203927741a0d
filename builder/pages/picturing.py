"""Pictures of devices and articles: where they lie in the site, and their words."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable
from dataclasses import dataclass

from builder import addresses
from catalog.records import Image


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as a page shows it."""

    href: str
    alt: str
    credit: str


def pictures(here: str, images: Iterable[Image]) -> tuple[Picture, ...]:
    """Pictures as the page at *here* shows them."""
    return tuple(Picture(addresses.link(here, image_address(i)), i.alt, i.credit or "") for i in images)


def image_address(image: Image) -> str:
    """Where a picture lies in the site: by content, so that its name says nothing."""
    return addresses.image(image.sha256, posixpath.splitext(image.path)[1].lower())
