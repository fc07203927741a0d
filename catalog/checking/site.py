"""[site] of batch.toml: the publisher, the language, and the site's address on the web."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urljoin, urlsplit

from catalog.checking import keys
from catalog.checking.keys import Key, Section
from catalog.checking.things import Things
from catalog.checking.troubles import Trouble
from catalog.reading.sources import place_of

# A language and what is behind its hyphens: RFC 5646, section 2.1, without private and grandfathered tags.
_LANGUAGE = re.compile(r"[a-z]{2,3}(?:-[A-Za-z0-9]{1,8})*")
_ADDRESS = re.compile(r"https?://[^\s/?#@\\]+(?:/[^\s?#\\]*)?")


def _language(value: Any) -> str | Trouble:
    tag = keys.text(value)
    if isinstance(tag, Trouble) or _LANGUAGE.fullmatch(tag):
        return tag
    return Trouble(f"{tag!r} is not the tag of a language.", 'Write it like "en" or "de-CH".', "unknown-word")


def _site_address(value: Any) -> str | Trouble:
    """The address of the folder that the site lies in, with the slash it ends with."""
    address = keys.text(value)
    if isinstance(address, Trouble):
        return address
    page = address.rpartition("/")[2]
    if not _ADDRESS.fullmatch(address) or page.endswith((".html", ".htm")) or not _is_followed(address):
        return Trouble(
            f"{address!r} is not the address of a site's folder on the web.",
            'Write it like "https://example.org/tests/": with https:// and no page, "?" or "#".',
            "bad-address",
            if_entered=True,
        )
    return address if address.endswith("/") else f"{address}/"


def _is_followed(address: str) -> bool:
    """Whether links below an address stay below it: its host can be read, and its path has no part that is left out."""
    whole = address if address.endswith("/") else f"{address}/"
    try:
        sound = urlsplit(whole).port != 0
        return sound and urljoin(whole, "x") == f"{whole}x"
    except ValueError:
        return False


SITE = {
    "title": Key(keys.text, "title", True),
    "author": Key(keys.text, "author"),
    "contact": Key(keys.text, "contact"),
    "language": Key(_language, "language"),
    "address": Key(_site_address, "address"),
    "licence": Key(keys.text, "licence"),
}


def _read(things: Things, section: Section, *, known: bool) -> dict[str, Any]:
    """The columns of [site]. An address that was entered before anybody looked is taken as it stands."""
    address = section.values.get("address")
    source, line = section.file.place(*section.path, "address")
    trouble = _site_address(address)
    if not isinstance(address, str) or not isinstance(trouble, Trouble):
        return section.read(SITE, known=known)
    if not things.answers.as_entered(trouble, ("batch.toml", place_of(source).table), row=line, columns=("address",)):
        return section.read(SITE, known=known)
    return section.read(SITE, known=known, others=frozenset({"address"})) | {"address": address.strip()}


def read_site(things: Things) -> None:
    """[site]: the publisher. There is only one."""
    section = things.root.child("site")
    if section is None:
        return
    known = bool(things.known.of("site"))
    row = _read(things, section, known=known)
    if "address" in row and row["address"] == f"{str(section.values['address']).strip()}/":
        things.repairs["site address without its closing slash"] += 1
    if known:
        there = things.known.of("site")[0]
        for column, value in row.items():
            if there[column] != value:
                before = there[column]
                said = f"The site's {column} is {before!r} already." if before else f"The site has no {column} so far."
                other = Trouble(said, "Use a correction.", "conflict")
                section.refuse(column, other, value)
        return
    if "title" in row:
        stored = {**dict.fromkeys(SITE), "only": 1, **row, "batch_id": things.batch_id}
        things.rows["site"] = [stored]
