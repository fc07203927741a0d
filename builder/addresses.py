"""Every address of the site, and links from one to another.

An address is a path inside the site with forward slashes ("devices/x/index.html"). Made of ids, never of titles;
links are relative and name the file, because a folder opened from disk has no index.
"""

from __future__ import annotations

import base64
import hashlib
import posixpath
import re
from typing import TYPE_CHECKING
from urllib.parse import quote, unquote, urlencode

from catalog.figure_names import joined_id

if TYPE_CHECKING:
    from builder.bench.cells import Group  # which loads numpy

START = "index.html"
NOT_FOUND = "404.html"
DEVICES = "devices/index.html"
PAIRS = "pairs/index.html"
RANKINGS = "rankings/index.html"
CLIENTS = "clients/index.html"
RECIPES = "repeat/index.html"
HOUSES = "houses/index.html"
REVIEWS = "reviews/index.html"
METHOD = "method/index.html"
DATA = "data/index.html"
WORKLOADS = "workloads/index.html"
COLLAPSES = "collapses/index.html"
FEATURES = "features/index.html"
POWER = "power/index.html"
PRICES = "prices/index.html"
PRICE_YEARS = 3  # of the page that links to prices lead to
INSIDES = "insides/index.html"
FIRMWARE = "firmware/index.html"
GLOSSARY = "glossary/index.html"
CHANGES = "changes/index.html"
MY_ROOM = "my-room/index.html"
CHOOSER = "chooser/index.html"
SEARCH = "search/index.html"
ATOM_FEED = "feed.xml"
JSON_FEED = "feed.json"
SITEMAP = "sitemap.xml"
STILLS = "stills"
FIGURES = "figures"
# Where earlier builds had what lies elsewhere now: former_frame, former_recipe, and what is packed.
MOVED = (
    "figures/*.html",
    "repeat/*--*/index.html",
    "data/*.json",
    "data/*-semicolon.csv",
    "data/*.db",
    "figures/*.json",
)


LONGEST = 150  # bytes of a file or folder name but for its suffix; common file systems take 255
_HALF = 90  # of a name that is made of two
ZOOM_FILES = "scripts/charts/"
_PARTS_OF_ZOOMS = 64  # the same for every catalogue, so that no page changes for the number of others


def part(text: str, longest: int = LONGEST) -> str:
    """A file or folder name for an escaped id: itself, or where it is too long its beginning and 64 bits of its hash."""
    if len(text) <= longest:
        return text
    return f"{text[: longest - 17]}~{hashlib.sha256(text.encode()).hexdigest()[:16]}"


def half(thing_id: str) -> str:
    """An id in a name that is made of two."""
    return part(joined_id(thing_id), _HALF)


def device(device_id: str) -> str:
    """The page of a device."""
    return f"devices/{part(joined_id(device_id))}/index.html"


def prices(years: int) -> str:
    """What everything costs over so many years; three of them are the page of prices itself."""
    return PRICES if years == PRICE_YEARS else f"prices/over-{years}-year{'s' if years > 1 else ''}.html"


def as_published(device_id: str, since: str) -> str:
    """What the publication of the instant *since* (UTC text) was the first to print of a device."""
    return f"devices/{part(joined_id(device_id))}/published/{since[:19].replace(':', '')}/index.html"


def pair(one: str, other: str) -> str:
    """The page of two devices; the order of the two makes no difference."""
    first, second = sorted((one, other))
    return f"pairs/{half(first)}--{half(second)}/index.html"


def ranking(group: Group) -> str:
    """The ranking of a group, all its windows on one page."""
    return f"rankings/{part(group.slug)}/index.html"


def workload(workload_id: str) -> str:
    """A workload in all its versions, over all devices."""
    return f"workloads/{part(joined_id(workload_id))}/index.html"


def workload_version(workload_id: str, version: int) -> str:
    """One version of a workload; leads to the workload's page."""
    return f"workloads/{part(joined_id(workload_id, str(version)))}/index.html"


def role(workload_id: str, role_id: str, number: int, place: int) -> str:
    """One role of a workload, over the devices.

    number  1, or which of several machines with that role
    place   of the arrangement among those of the workload, from 0
    """
    more = () if number == 1 else (str(number),)
    tail = f"~in-{place + 1}" if place else ""
    return f"workloads/{part(joined_id(workload_id))}/{part(joined_id('role', role_id, *more))}{tail}.html"


def recipe(device_id: str, number: int = 1) -> str:
    """How to repeat what a device was tested for; of a device with very many client setups, a page of several."""
    return f"repeat/{part(joined_id(device_id))}/{'index' if number == 1 else number}.html"


def former_recipe(device_id: str, client_id: str) -> str:
    """Where earlier builds had a page for a device with one client setup."""
    return f"repeat/{half(device_id)}--{half(client_id)}/index.html"


def client(client_id: str) -> str:
    """The page of a client setup."""
    return f"clients/{part(joined_id(client_id))}/index.html"


def house(house_id: str) -> str:
    """The page of a house and its spots."""
    return f"houses/{part(joined_id(house_id))}/index.html"


def review(article_id: str) -> str:
    """The page of a review."""
    return f"reviews/{part(joined_id(article_id))}/index.html"


def short(target: str) -> str:
    """The short link to the page at *target*: 30 bits of the target's own address, so it is the same in every build.

    Letters and digits that are not taken for one another (RFC 4648, section 6). Two targets may, very rarely, share
    one; then its page names both.
    """
    code = base64.b32encode(hashlib.sha256(target.encode()).digest())[:6].decode().lower()
    return f"go/{code}.html"


def has_short(target: str) -> bool:
    """Whether the page at *target* has a short link: devices, pairs and rankings have."""
    return re.fullmatch(r"(?:devices|pairs|rankings)/[^/]+/index\.html", target) is not None


def leaf(page: str, key: str, number: int) -> str:
    """A further page of rows of the table *key* on the page at *page*."""
    return f"{posixpath.dirname(page)}/{part(key)}-{number}.html"


def download(name: str) -> str:
    """A file for readers to take away."""
    return f"data/{name}"


def specification(figure_key: str) -> str:
    """The Vega-Lite specification behind a figure, as JSON in a zip file."""
    return f"{FIGURES}/{part(figure_key)}.json.zip"


def chart_picture(figure_key: str) -> str:
    """A figure as a picture that stands alone, in a frame of another page, too."""
    return f"{FIGURES}/{part(figure_key)}.svg"


def former_frame(picture: str) -> str:
    """Where earlier builds had a page for frames around the picture of a figure at an address."""
    return f"{picture.removesuffix('.svg')}.html"


def framed_picture(frame: str) -> str:
    """The picture that such a page was around; `former_frame` the other way."""
    return f"{frame.removesuffix('.html')}.svg"


def image(sha256: str, suffix: str, width: int | None = None) -> str:
    """A picture by its content; *suffix* with its dot. width: of a smaller one, in px."""
    return f"images/{sha256[:16]}{'' if width is None else f'-{width}'}{suffix}"


def still(figure_key: str, name: str) -> str:
    """A still of a figure, or its folder where *name* is empty."""
    return f"{STILLS}/{part(figure_key)}/{name}"


def preview_image(article_id: str) -> str:
    """The picture that a link to a review brings along elsewhere."""
    return f"reviews/{part(joined_id(article_id))}/preview.png"


def asset(name: str) -> str:
    """A file of the site's own look; its name holds its content's hash."""
    return f"assets/{name}"


def zoom_key(page: str) -> str:
    """Under what scripts are given what they draw to zoom the charts of the page at an address.

    Pages share a file by a hash of their address: one for each chart would be a tenth of a site's files. A reader who
    zooms loads most of a megabyte of library, and 80 kB of charts at 400 devices.
    """
    return f"charts/{int.from_bytes(hashlib.sha256(page.encode()).digest()[:4]) % _PARTS_OF_ZOOMS}"


def zoom_file(page: str) -> str:
    """Where that lies."""
    return script_data(zoom_key(page))


def script_data(key: str) -> str:
    """Data that a script reads when it is asked for; *key* is what it is handed over under."""
    return f"scripts/{'/'.join(map(part, key.split('/')))}.js"


def link(source: str, target: str, fragment: str = "") -> str:
    """The relative link that leads from one address to another, or to a fragment of it."""
    if fragment and source == target:
        return f"#{quote(fragment)}"
    path = quote(_path(posixpath.dirname(source), target))
    return f"{path}#{quote(fragment)}" if fragment else path


def _path(folder: str, target: str) -> str:
    """From a folder of the site to a file of it; `posixpath.relpath` asks the disk, ten times as long."""
    here, there = folder.split("/") if folder else [], target.split("/")
    same = next((n for n, (a, b) in enumerate(zip(here, there[:-1], strict=False)) if a != b), None)
    if same is None:
        same = min(len(here), len(there) - 1)
    return "/".join([*[".."] * (len(here) - same), *there[same:]])


def link_from_elsewhere(link_there: str, there: str, here: str) -> str:
    """The link from *here* to where a link leads from *there*."""
    path, _, fragment = link_there.partition("#")
    target = posixpath.normpath(posixpath.join(posixpath.dirname(there), unquote(path)))
    return link(here, target, unquote(fragment))


def link_with_choices(source: str, target: str, **choices: str) -> str:
    """The link to a page with a tool on it, with what it is to show (site_templates/js/address_state.mjs)."""
    return f"{link(source, target)}#{urlencode(choices)}"
