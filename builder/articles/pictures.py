"""Pictures of an article: placed with size, words and credit; one that nobody registered is refused by its line."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from html import escape, unescape
from typing import Protocol

# How wide a picture is shown (site_templates/css/parts.css): as wide as the screen, at most as running text.
SHOWN = "(max-width: 42rem) 100vw, 40rem"

_IMAGE = re.compile(r'<img\b[^>]*?\bsrc="([^"]*)"[^>]*>')


class Picture(Protocol):
    """Where a picture of an article lies, seen from its page, what it shows, and its sizes in px."""

    @property
    def href(self) -> str: ...
    @property
    def alt(self) -> str: ...
    @property
    def credit(self) -> str: ...
    @property
    def width(self) -> str: ...
    @property
    def height(self) -> str: ...
    @property
    def sources(self) -> str: ...


def place_pictures(html: str, *, folder: str, pictures: Mapping[str, Picture]) -> tuple[str, list[str]]:
    """The HTML with its pictures placed, and the names of those that nobody registered.

    folder    the article's folder inside its batch: pictures are named from there, or from the batch
    pictures  path inside the batch -> picture
    """
    missing: list[str] = []

    def placed(match: re.Match[str]) -> str:
        named = unescape(match[1])
        near, far = posixpath.normpath(posixpath.join(folder, named)), posixpath.normpath(named)
        picture = pictures.get(near) or pictures.get(far)
        if picture is None or not picture.alt.strip():
            missing.append(named)
            return ""
        credit = f"<br><small>{escape(picture.credit)}</small>" if picture.credit else ""
        size = f'width="{picture.width}" height="{picture.height}"'
        if picture.sources:
            size += f' srcset="{escape(picture.sources)}" sizes="{SHOWN}"'
        return f'<img src="{escape(picture.href)}" alt="{escape(picture.alt)}" {size}>{credit}'

    return _IMAGE.sub(placed, html), missing
