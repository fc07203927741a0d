"""Whether every link of a built site leads somewhere, and nothing is fetched from outside."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterator, Mapping, Set
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


@dataclass(frozen=True, slots=True)
class PageLinks:
    """Where a page leads, and the places on it that others may lead to.

    targets    (whether a browser fetches it by itself, target), each once
    """

    targets: tuple[tuple[bool, str], ...]
    fragments: frozenset[str]


def page_links(html: str) -> PageLinks:
    """The links and places of one page."""
    return PageLinks(tuple(dict.fromkeys(_targets(html))), frozenset(_fragments(html)))


def broken_links(folder: Path, *, home: str = "") -> list[BrokenLink]:
    """`broken_among` of a folder on the disk."""
    pages = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*.html"))}
    found = {name: page_links(path.read_text(encoding="utf-8")) for name, path in pages.items()}
    return broken_among(found, files_below(folder), home=home)


def broken_among(pages: Mapping[str, PageLinks], files: Set[str], *, home: str = "") -> list[BrokenLink]:
    """Every link inside the site that leads nowhere, in the order of the pages.

    pages  address -> where it leads
    files  addresses of everything in the site
    home   the site's own address on the web, if it has one: links below it are inside, too
    """
    return [
        BrokenLink(name, target, why)
        for name, links in sorted(pages.items())
        for fetched, target in links.targets
        if (why := _trouble(name, target, fetched, home, files, pages))
    ]


def files_below(folder: Path) -> frozenset[str]:
    """The addresses of all files of a site."""
    return frozenset(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


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


def _trouble(page: str, target: str, fetched: bool, home: str, files: Set[str], pages: Mapping[str, PageLinks]) -> str:
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
    there = pages[path].fragments if path in pages else frozenset()
    if parts.fragment and not choices and unquote(parts.fragment) not in there:
        return "there is no such place on that page"
    return ""
