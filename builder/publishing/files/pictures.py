"""Pictures of articles and devices: turned upright, in the sizes a page needs, and without any metadata.

Only pictures that the public copy names are ever read; their bytes lie in the catalogue, never in the copy.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from PIL import ExifTags, ImageCms, ImageOps
from PIL import Image as Raster

from builder.pages.parts.picturing import FORMATS, SMALLER_PX, image_address, picture_suffix
from catalog import queries
from catalog.connection import open_catalog
from catalog.errors import BuildRefused
from catalog.reading.pictures import NotAPicture, decoded
from catalog.records import Image

LONGEST_SIDE_PX = 1600
JPEG_QUALITY = 85
_ON_ITS_SIDE = (5, 6, 7, 8)  # Exif 2.32, table 6: values of Orientation that change width for height


def write_pictures(catalog: Path, images: Sequence[Image], folder: Path) -> dict[str, tuple[int, int]]:
    """Write the published sizes of each picture below *folder*: address -> width and height in px.

    images  the pictures a public copy names
    Raises  BuildRefused: a picture's bytes are missing, or are not a PNG, JPEG or WebP.
    """
    if not images:
        return {}
    db = open_catalog(catalog, readonly=True)
    written: dict[str, tuple[int, int]] = {}
    for image in images:
        address = image_address(image)
        if address in written:
            continue
        content = queries.raw_content(db, image.sha256)
        if content is None:
            raise BuildRefused(f"The picture {image.path} of batch {image.batch_id} is missing from the catalogue.")
        (folder / address).parent.mkdir(parents=True, exist_ok=True)
        for size, published in published_sizes(content, image):
            at = image_address(image, None if address not in written else size[0])
            (folder / at).write_bytes(published)
            written[at] = size
    db.close()
    return written


def published_sizes(content: bytes, image: Image) -> list[tuple[tuple[int, int], bytes]]:
    """A picture as it is published, the largest first: width and height [px], and the file.

    The pixels and nothing else, its colours in sRGB; never larger than it came, the same bytes each time.
    Raises  BuildRefused: the bytes are not a PNG, JPEG or WebP, or there are too many pixels; `check` says the same.
    """
    try:
        opened = decoded(content)
    except NotAPicture as wrong:
        raise BuildRefused(
            f"The picture {image.path} of batch {image.batch_id} cannot be published. {wrong.sentence} {wrong.remedy}"
        ) from wrong
    upright = _plain_mode(_in_srgb(ImageOps.exif_transpose(opened)))
    return [(size, _encoded(upright, size, image)) for size in _sizes(*upright.size)]


def sizes_of(content: bytes) -> list[tuple[int, int]]:
    """The sizes of `published_sizes`, read from the head of a picture without decoding it. [px]"""
    with Raster.open(io.BytesIO(content)) as opened:
        on_its_side = opened.getexif().get(ExifTags.Base.Orientation) in _ON_ITS_SIDE
        return _sizes(*(reversed(opened.size) if on_its_side else opened.size))


def _sizes(width: int, height: int) -> list[tuple[int, int]]:
    """The published sizes of an upright picture, the largest first. [px]"""
    largest = min(1.0, LONGEST_SIDE_PX / max(width, height))
    full = max(1, round(width * largest)), max(1, round(height * largest))
    return [full, *((w, max(1, round(full[1] * w / full[0]))) for w in reversed(SMALLER_PX) if w < full[0])]


def _plain_mode(picture: Raster.Image) -> Raster.Image:
    """The picture in colours that every format here can hold: 16 bits per channel and printers' inks are converted."""
    if picture.mode.startswith("I"):
        return Raster.fromarray((np.asarray(picture, dtype=np.uint32) >> 8).astype(np.uint8))
    return picture if picture.mode in ("1", "L", "LA", "P", "RGB", "RGBA") else picture.convert("RGB")


def _encoded(upright: Raster.Image, size: tuple[int, int], image: Image) -> bytes:
    smaller, clear = size != upright.size, "transparency" in upright.info
    if upright.mode in ("P", "1") and (smaller or clear):  # colours of a palette cannot be mixed
        upright = upright.convert("RGBA" if clear else "RGB")
    if smaller:
        upright = upright.resize(size, Raster.Resampling.LANCZOS, reducing_gap=3.0)
    bare = Raster.new(upright.mode, upright.size)
    if upright.mode == "P" and upright.palette is not None:
        bare.putpalette(upright.getpalette() or [])
    bare.paste(upright)
    kind = FORMATS[picture_suffix(image.path)]
    if kind == "JPEG" and bare.mode not in ("RGB", "L"):
        bare = bare.convert("RGB")
    stream = io.BytesIO()
    bare.save(stream, kind, **({"quality": JPEG_QUALITY} if kind != "PNG" else {"optimize": True}))
    return stream.getvalue()


def _in_srgb(picture: Raster.Image) -> Raster.Image:
    """The picture with the colours its profile meant: the profile goes with the metadata, and a browser takes sRGB."""
    profile = picture.info.get("icc_profile")
    if not profile or picture.mode not in ("RGB", "CMYK"):
        return picture
    try:
        return (
            ImageCms.profileToProfile(picture, io.BytesIO(profile), ImageCms.createProfile("sRGB"), outputMode="RGB")
            or picture
        )
    except ImageCms.PyCMSError:
        return picture  # a damaged profile says nothing
