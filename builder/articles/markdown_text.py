"""Markdown to sanitised HTML. Headings move down one step, since the page's own question is the first."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Mapping
from html import escape
from typing import Protocol

import markdown
import nh3

_TAGS = {
    "a", "blockquote", "br", "code", "em", "h2", "h3", "h4", "h5", "h6", "hr", "img", "li", "ol", "p", "pre", "strong",
    "table", "tbody", "td", "th", "thead", "tr", "ul",
}  # fmt: skip
_ATTRIBUTES = {"a": {"href"}, "img": {"src", "alt"}, "th": {"scope"}, "ol": {"start"}}
_SCHEMES = {"http", "https", "mailto"}
_IMAGE = re.compile(r'<img\b[^>]*?\bsrc="([^"]*)"[^>]*>')
_ALT = re.compile(r'\balt="([^"]*)"')


class Picture(Protocol):
    """Where a picture of an article lies, seen from its page, what it shows, and its size in px."""

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


def article_html(text: str, *, folder: str, pictures: Mapping[str, Picture]) -> str:
    """The HTML of an article's text.

    folder    the article's folder inside its batch: pictures are named from there, or from the batch
    pictures  path inside the batch -> picture. A picture nobody registered is left out, its words stay
    """
    raw = markdown.markdown(text, extensions=["tables", "fenced_code", "sane_lists"], output_format="html")
    lowered = re.sub(r"<(/?)h([1-5])\b", lambda m: f"<{m[1]}h{int(m[2]) + 1}", raw)
    clean = nh3.clean(lowered, tags=_TAGS, attributes=_ATTRIBUTES, url_schemes=_SCHEMES, link_rel="noopener nofollow")
    boxed = clean.replace("<table>", '<div class="scroll" tabindex="0" role="group" aria-label="Table"><table>')
    boxed = boxed.replace("</table>", "</table></div>").replace("<th>", '<th scope="col">')
    return _IMAGE.sub(lambda m: _placed(m, folder, pictures), boxed)


def _placed(found: re.Match[str], folder: str, pictures: Mapping[str, Picture]) -> str:
    named = found[1]
    picture = pictures.get(posixpath.normpath(posixpath.join(folder, named))) or pictures.get(posixpath.normpath(named))
    if picture is None:
        alt = _ALT.search(found[0])
        return f"<em>{alt[1]}</em>" if alt and alt[1] else ""
    credit = f"<br><small>{escape(picture.credit)}</small>" if picture.credit else ""
    size = f'width="{picture.width}" height="{picture.height}"'
    return f'<img src="{escape(picture.href)}" alt="{escape(picture.alt)}" {size}>{credit}'
