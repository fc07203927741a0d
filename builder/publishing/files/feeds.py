"""Feeds of what is new: Atom (RFC 4287) and JSON Feed 1.1, from the same list as the page of changes.

Ids are made of what an entry is about and when, never of its words, so that a corrected name adds no second entry.
Dates are those of the events. Without an address of the site, links are relative, as RFC 4287 allows; JSON Feed asks
for whole ones and then has none.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from urllib.parse import quote, urljoin
from uuid import NAMESPACE_URL, UUID, uuid5
from xml.etree import ElementTree as Xml

from builder import addresses, wording
from builder.pages.contents import Catalogue, Contents, SiteContext
from builder.pages.news import Event, Item, events

ATOM = "http://www.w3.org/2005/Atom"
JSON_FEED = "https://jsonfeed.org/version/1.1"
MOST = 50


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """One entry. updated: an instant as RFC 3339 has it; link: whole with the site's address, else relative."""

    id: str
    title: str
    text: str
    kind: str
    updated: str
    link: str


def feed_entries(contents: Contents) -> list[FeedEntry]:
    """The newest entries, newest first. What came of the others is not worked out."""
    space = _namespace(contents.catalogue, contents.site)
    keyed = list(_keyed(events(contents.catalogue, contents.results)))[:MOST]
    return [
        FeedEntry(
            id=uuid5(space, key).urn,
            title=f"{item.text}: {item.outcome}",
            text=_text(item),
            kind=item.kind,
            updated=_instant(item.when),
            link=_link(contents.site, item),
        )
        for key, item in ((key, event.item) for key, event in keyed)
    ]


def _text(item: Item) -> str:
    """What came out, and why."""
    return f"{wording.capital(item.outcome)}. {item.cause}" if item.result else item.cause


def atom_feed(contents: Contents) -> bytes:
    """The Atom document (RFC 4287)."""
    entries = feed_entries(contents)
    Xml.register_namespace("", ATOM)
    feed = Xml.Element(f"{{{ATOM}}}feed", {"xml:lang": contents.site.language or "en"})
    _add(feed, "id", uuid5(_namespace(contents.catalogue, contents.site), "feed").urn)
    _add(feed, "title", f"{contents.site.title}: what is new")
    _add(feed, "updated", entries[0].updated if entries else _utc(contents.site.as_of))
    author = Xml.SubElement(feed, f"{{{ATOM}}}author")
    _add(author, "name", contents.site.author or contents.site.title)
    if contents.site.address:
        Xml.SubElement(feed, f"{{{ATOM}}}link", rel="self", href=urljoin(contents.site.address, addresses.ATOM_FEED))
    changes = urljoin(contents.site.address or "", addresses.CHANGES)
    Xml.SubElement(feed, f"{{{ATOM}}}link", rel="alternate", type="text/html", href=changes)
    for entry in entries:
        one = Xml.SubElement(feed, f"{{{ATOM}}}entry")
        _add(one, "id", entry.id)
        _add(one, "title", entry.title)
        _add(one, "updated", entry.updated)
        Xml.SubElement(one, f"{{{ATOM}}}link", rel="alternate", type="text/html", href=entry.link)
        Xml.SubElement(one, f"{{{ATOM}}}category", term=entry.kind)
        _add(one, "content", entry.text)
    Xml.indent(feed)
    document: bytes = Xml.tostring(feed, encoding="utf-8", xml_declaration=True)
    return document + b"\n"


def json_feed(contents: Contents) -> bytes:
    """The JSON Feed document (version 1.1)."""
    document: dict[str, object] = {
        "version": JSON_FEED,
        "title": f"{contents.site.title}: what is new",
        "language": contents.site.language or "en",
        "authors": [{"name": contents.site.author or contents.site.title}],
    }
    if contents.site.address:
        document["home_page_url"] = urljoin(contents.site.address, addresses.CHANGES)
        document["feed_url"] = urljoin(contents.site.address, addresses.JSON_FEED)
    document["items"] = [
        {"id": e.id, "title": e.title, "content_text": e.text, "date_published": e.updated, "tags": [e.kind]}
        | ({"url": e.link} if contents.site.address else {})
        for e in feed_entries(contents)
    ]
    return (json.dumps(document, ensure_ascii=False, indent=1) + "\n").encode()


def _keyed(every: list[Event]) -> Iterator[tuple[str, Event]]:
    """Each event with what it is about as one text. Of several alike on one day the oldest keeps the first number."""
    count: Counter[tuple[str, ...]] = Counter()
    keyed: list[tuple[str, Event]] = []
    for event in reversed(every):
        about = (event.kind, event.address, event.fragment, event.when)
        count[about] += 1
        keyed.append(("\n".join([*about, str(count[about])]), event))
    return reversed(keyed)


def _namespace(catalogue: Catalogue, site: SiteContext) -> UUID:
    """The site's own space of ids: of its address, otherwise of the first batch that may be seen."""
    named = site.address or f"likeloss:batch:{next(iter(catalogue.batches), '')}"
    return uuid5(NAMESPACE_URL, named)


def _link(site: SiteContext, item: Item) -> str:
    path = quote(item.address) + (f"#{quote(item.fragment)}" if item.fragment else "")
    return urljoin(site.address or "", path)


def _instant(when: str) -> str:
    """A date is the first instant of its day."""
    return _utc(datetime.fromisoformat(when if "T" in when else f"{when}-01"[:10] + "T00:00:00+00:00"))


def _utc(instant: datetime) -> str:
    return instant.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _add(parent: Xml.Element, name: str, text: str) -> None:
    Xml.SubElement(parent, f"{{{ATOM}}}{name}").text = wording.capital(text) if name == "title" else text
