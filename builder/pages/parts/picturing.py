"""Pictures of devices and articles: where they lie in the site, and their texts."""

from __future__ import annotations

import posixpath
from collections.abc import Iterable
from dataclasses import dataclass

from builder import addresses
from builder.pages.contents import Sizes
from catalog.records import Image

FORMATS = {".png": "PNG", ".jpg": "JPEG", ".jpeg": "JPEG", ".webp": "WEBP"}  # suffix -> Pillow's name
SMALLER_PX = (480, 960)  # widths made beside the largest; none is ever larger than the picture itself


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as a page shows it; *width* and *height* in px keep its place while it loads.

    href     the largest size
    sources  all sizes with their widths, as srcset has them; "" where there is only one
    """

    href: str
    alt: str
    credit: str
    width: str
    height: str
    sources: str


def each_once(images: Iterable[Image]) -> list[Image]:
    """The first of every picture; a later batch may bring the same one again for an article."""
    first: dict[str, Image] = {}
    for image in images:
        first.setdefault(image.sha256, image)
    return list(first.values())


def pictures(here: str, images: Iterable[Image], sizes: Sizes) -> tuple[Picture, ...]:
    """Pictures as the page at *here* shows them."""
    shown = []
    for image in images:
        address = image_address(image)
        width, height = sizes[address]
        smaller = [(image_address(image, w), w) for w in SMALLER_PX if image_address(image, w) in sizes]
        every = [f"{addresses.link(here, at)} {w}w" for at, w in (*smaller, (address, width))]
        sources = ", ".join(every) if smaller else ""
        shown.append(
            Picture(addresses.link(here, address), image.alt, image.credit or "", str(width), str(height), sources)
        )
    return tuple(shown)


def image_address(image: Image, width: int | None = None) -> str:
    """Where a picture lies in the site, named by its content so that a file name leaks nothing; width of a smaller one [px]."""
    return addresses.image(image.sha256, picture_suffix(image.path), width)


def picture_suffix(path: str) -> str:
    """The suffix, and so the format, in which a picture is published: its own, or .png if that is not a picture format."""
    suffix = posixpath.splitext(path)[1].lower()
    return suffix if suffix in FORMATS else ".png"
