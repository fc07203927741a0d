"""Whether every link of a built site leads somewhere, and whether nothing is fetched from outside."""

from __future__ import annotations

import posixpath
import re
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from urllib.parse import unquote, urlsplit

from builder import addresses
from builder.publishing.checking.walking import entries_below

# A tag with attributes. Our pages escape "<" in text, so whatever looks like a tag is one.
_TAG = re.compile(r"<([a-zA-Z][\w:-]*+)(\s(?:[^>\"']++|\"[^\"]*+\"|'[^']*+')*+)>")
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

    inside     (address, fragment, link as written) of what lies in the site, each address and fragment once
    wrong      (link as written, why) of links that belong in no page, wherever they lead
    fragments  the places on the page
    """

    inside: tuple[tuple[str, str, str], ...]
    wrong: tuple[tuple[str, str], ...]
    fragments: frozenset[str]


def page_links(html: str, page: str, *, home: str = "") -> PageLinks:
    """The links and places of the page at the address *page*.

    home  the site's own address on the web, if it has one: links below it are inside, too
    """
    inside: dict[tuple[str, str], str] = {}
    wrong: dict[str, str] = {}
    base = urlsplit(home).path
    tags = _TAG.findall(html)
    for fetched, target in dict.fromkeys(_targets(tags)):
        here, link = ("index.html", target.removeprefix(home)) if home and target.startswith(home) else (page, target)
        parts = urlsplit(link)
        if parts.scheme or parts.netloc:
            if fetched and parts.scheme != "data":
                wrong[target] = "it would be fetched from outside the site"
            elif parts.scheme not in ("http", "https", "mailto", "data"):
                wrong[target] = "no such kind of link belongs in a page"
        elif page == addresses.NOT_FOUND and link.startswith(
            "/"
        ):  # it is shown at any depth of the host that serves it
            if link != "/":
                inside.setdefault((unquote(parts.path.removeprefix(base)), ""), target)
        elif link.startswith("/"):
            wrong[target] = "it starts at the root of a host, so the site could not move"
        else:
            folder = posixpath.dirname(here)
            path = posixpath.normpath(posixpath.join(folder, unquote(parts.path))) if parts.path else here
            choices = "=" in parts.fragment  # what a tool on the page is to show, not a place on it
            inside.setdefault((path, "" if choices else unquote(parts.fragment)), target)
    return PageLinks(
        tuple((*goal, target) for goal, target in inside.items()), tuple(wrong.items()), frozenset(_fragments(tags))
    )


def broken_among(pages: Mapping[str, PageLinks], files: Set[str]) -> list[BrokenLink]:
    """Every link inside the site that leads nowhere, in the order of the pages.

    pages  address -> where it leads
    files  addresses of everything in the site
    """
    broken: list[BrokenLink] = []
    for name, links in sorted(pages.items()):
        broken += [BrokenLink(name, target, why) for target, why in links.wrong]
        for path, fragment, target in links.inside:
            if path not in files:
                broken.append(BrokenLink(name, target, "there is no such file"))
            elif fragment and not (path in pages and fragment in pages[path].fragments):
                broken.append(BrokenLink(name, target, "there is no such place on that page"))
    return broken


def files_below(folder: Path) -> frozenset[str]:
    """The addresses of all files of a site."""
    return frozenset(address for address, entry in entries_below(folder) if entry.is_file())


def _targets(tags: Iterable[tuple[str, str]]) -> Iterator[tuple[bool, str]]:
    """(whether a browser fetches it by itself, target) of every link of a page; *tags* are names with attributes."""
    for tag, attributes in tags:
        # Most tags are cells and words: looking for a sign of a link first is four times as quick.
        if "href" not in attributes and "src" not in attributes and "data-charts" not in attributes:
            continue
        for name, value in _ATTRIBUTE.findall(attributes):
            if name in ("href", "src", "xlink:href", "data-src", "data-charts"):
                yield (tag.lower(), name) in _FETCHED or name.startswith("data-"), unescape(value)
            elif name == "srcset":
                yield from ((True, unescape(one.split()[0])) for one in value.split(",") if one.strip())


def _fragments(tags: Iterable[tuple[str, str]]) -> set[str]:
    return {
        unescape(value)
        for _, attributes in tags
        if "id=" in attributes
        for name, value in _ATTRIBUTE.findall(attributes)
        if name == "id"
    }
