"""Pictures: which are accepted, decided by decoding them, so that what enters can be published."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.Image import Image as Raster

FORMATS = ("PNG", "JPEG", "WEBP")  # Pillow's names
MAX_PIXELS = 50_000_000  # four bytes each while a page's sizes are made


class NotAPicture(ValueError):
    """Why a file is not taken as a picture: a sentence, what to do, and a stable code."""

    def __init__(self, sentence: str, remedy: str, code: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.remedy = remedy
        self.code = code


def decoded(content: bytes) -> Raster:
    """The picture in *content* with its pixels, and its `format` one of FORMATS.

    Raises  NotAPicture: other bytes, a damaged file, or more pixels than MAX_PIXELS.
    """
    from PIL import Image, UnidentifiedImageError  # slow to import, and most batches have none

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # the limit here is lower
            picture = Image.open(io.BytesIO(content), formats=FORMATS)
        if picture.width * picture.height <= MAX_PIXELS:
            picture.load()
            return picture
    except UnidentifiedImageError as failure:
        raise NotAPicture(
            "This is not a PNG, JPEG or WebP picture.", "Export it again; a drawing as PNG.", "not-an-image"
        ) from failure
    except Image.DecompressionBombError:
        pass
    except Exception as failure:  # damaged files raise whatever their decoder raises
        raise NotAPicture(
            "The picture is damaged and cannot be decoded.", "Export it again from its source.", "not-an-image"
        ) from failure
    raise NotAPicture(
        f"The picture has more than {MAX_PIXELS // 10**6} million pixels.",
        "Export it smaller: 8000 × 6000 is more than any page shows.",
        "image-too-large",
    )
