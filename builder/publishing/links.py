"""Whether every link of a built site leads somewhere, and nothing is fetched from outside."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from urllib.parse import unquote, urlsplit

# Our pages escape "<" in text, so whatever looks like a tag is one.
_TAG = re.compile(r"<([a-zA-Z][\w:-]*)((?:[^>\"']|\"[^\"]*\"|'[^']*')*)>")
_ATTRIBUTE = re.compile(r"([\w:-]+)=\"([^\"]*)\"")
_FETCHED = {
    ("link", "href"),
    ("img", "src"),
    ("script", "src"),
    ("source", "src"),
    ("iframe", "src"),
    ("image", "href"),
}


@dataclass(frozen=True, slots=True)
class BrokenLink:
    """A link of *page* to *target* that leads nowhere, or that would be fetched from outside."""

    page: str
    target: str
    why: str

    def __str__(self) -> str:
        return f"{self.page} links to {self.target}: {self.why}"


def broken_links(folder: Path, *, home: str = "") -> list[BrokenLink]:
    """Every link inside the site that leads nowhere, in the order of the pages.

    home  the site's own address on the web, if it has one: links below it are inside, too
    """
    pages = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*.html"))}
    texts = {name: path.read_text(encoding="utf-8") for name, path in pages.items()}
    fragments = {name: _fragments(text) for name, text in texts.items()}
    files = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    return [
        BrokenLink(name, target, why)
        for name, text in texts.items()
        for fetched, target in _targets(text)
        if (why := _trouble(name, target, fetched, home, files, fragments))
    ]


def _targets(text: str) -> Iterator[tuple[bool, str]]:
    """(whether a browser fetches it by itself, target) of every link of a page."""
    for tag, attributes in _TAG.findall(text):
        for name, value in _ATTRIBUTE.findall(attributes):
            if name in ("href", "src", "xlink:href", "data-src"):
                yield (tag.lower(), name) in _FETCHED or name == "data-src", unescape(value)
            elif name == "srcset":
                yield from ((True, unescape(one.split()[0])) for one in value.split(",") if one.strip())


def _fragments(text: str) -> set[str]:
    return {
        unescape(value)
        for _, attributes in _TAG.findall(text)
        for name, value in _ATTRIBUTE.findall(attributes)
        if name == "id"
    }


def _trouble(
    page: str, target: str, fetched: bool, home: str, files: set[str], fragments: Mapping[str, set[str]]
) -> str:
    if home and target.startswith(home):
        page, target = "index.html", target.removeprefix(home)
    parts = urlsplit(target)
    if parts.scheme or parts.netloc:
        if fetched and parts.scheme != "data":
            return "it would be fetched from outside the site"
        return "" if parts.scheme in ("http", "https", "mailto", "data") else "no such kind of link belongs in a page"
    if target.startswith("/"):
        return "it starts at the root of a host, so the site could not move"
    path = posixpath.normpath(posixpath.join(posixpath.dirname(page), unquote(parts.path))) if parts.path else page
    if path not in files:
        return "there is no such file"
    choices = "=" in parts.fragment  # what a tool on the page is to show, and no place on it
    if parts.fragment and not choices and unquote(parts.fragment) not in fragments.get(path, set()):
        return "there is no such place on that page"
    return ""
