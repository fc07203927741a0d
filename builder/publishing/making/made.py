"""What a task put into the site, and the bytes in which that is kept for the next build."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import orjson

from builder import addresses
from builder.observed import Inventory, Look, Observed
from builder.pages.contents import Contents
from builder.publishing.checking.links import PageLinks
from builder.publishing.files.assets import Asset
from builder.publishing.files.scripts import data_script


@dataclass(frozen=True, slots=True)
class MadePage:
    """What the rest of the site must know of a page.

    newest    day of the newest data on it, "" for none
    indexed   belongs into lists of pages: it neither only leads on nor is the one for wrong addresses
    charts    how many are drawn on it
    links     where it leads
    warnings  what an author should look at
    """

    address: str
    title: str
    newest: str
    indexed: bool
    charts: int
    links: PageLinks
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Made:
    """What a task put into the site.

    files  address -> content
    looks  the parts of the contents it was made from
    pages  the page and its leaves; none where only data was made
    parts  of files that several tasks share: (key under which scripts are given the file, name in it, text)
    """

    files: tuple[tuple[str, bytes], ...]
    looks: frozenset[Look]
    pages: tuple[MadePage, ...] = ()
    parts: tuple[tuple[str, str, str], ...] = ()


def packed(made: Made) -> bytes:
    """A line of JSON, and then the contents of all files."""
    files = [(address, len(content)) for address, content in made.files]
    about = {"files": files, "pages": made.pages, "parts": made.parts}
    return b"\n".join([orjson.dumps(about, default=sorted), b"".join(content for _, content in made.files)])


def unpacked(content: bytes) -> Made:
    """What was `packed`, but for its looks."""
    line, _, rest = content.partition(b"\n")
    about: dict[str, Any] = orjson.loads(line)
    files, start = [], 0
    for address, length in about["files"]:
        files.append((address, rest[start : start + length]))
        start += length
    pages = tuple(_page(page) for page in about["pages"])
    return Made(tuple(files), frozenset(), pages, tuple((key, name, text) for key, name, text in about["parts"]))


def shared_files(every: Iterable[Made]) -> list[Asset]:
    """The files that tasks share, each of the parts that they gave it."""
    parts: dict[str, dict[str, str]] = defaultdict(dict)
    for made in every:
        for key, name, text in made.parts:
            parts[key][name] = text
    return [
        Asset(addresses.script_data(key), data_script(key, named, pack=False)) for key, named in sorted(parts.items())
    ]


def _page(about: dict[str, Any]) -> MadePage:
    links = about.pop("links")
    return MadePage(
        **(about | {"warnings": tuple(about["warnings"])}),
        links=PageLinks(
            tuple(map(tuple, links["inside"])), tuple(map(tuple, links["wrong"])), frozenset(links["fragments"])
        ),
    )


def inventory_of(contents: Contents | None) -> Inventory:
    """The contents, noted down to the cells of a device in a group. None where they are still to come."""
    opened = ("catalogue", "results", "results.bench", "results.bench.grouped", "results.bench.limits", "site")
    return Inventory(contents, opened=opened)


def observed(inventory: Inventory, looks: set[Look]) -> Contents:
    """The contents of an inventory for one task, whose *looks* are noted."""
    watched: Any = Observed(inventory, looks)
    return Contents(watched.catalogue, watched.results, watched.site)
