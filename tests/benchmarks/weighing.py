"""Rows of what a reader fetches: pages, the data of tools, and a chart as it is drawn."""

from __future__ import annotations

import gzip
from collections import Counter
from collections.abc import Iterable, Sequence

from rows import Figure, Limit, Place, Row


def _pages(place: Place) -> dict[str, bytes]:
    _ = place.first
    return {path.relative_to(place.site).as_posix(): path.read_bytes() for path in place.site.rglob("*.html")}


def heaviest(place: Place) -> Figure:
    pages = _pages(place)
    name = max(pages, key=lambda page: len(pages[page]))
    return Figure(value=len(pages[name]) / 1000, beside=f"{name}; without style sheet and script")


def _of_devices(place: Place) -> Sequence[bytes]:
    return [page for name, page in _pages(place).items() if name.startswith("devices/") and name.count("/") == 2]


def device_raw(place: Place) -> Figure:
    pages = sorted(map(len, _of_devices(place)))
    return Figure(
        value=pages[-1] / 1000,
        beside=f"the heaviest of {len(pages)}; half are below {pages[len(pages) // 2] / 1000:.0f} kB",
    )


def device_packed(place: Place) -> Figure:
    pages = sorted(_gzip(_of_devices(place)))
    return Figure(value=pages[-1] / 1000, beside=f"gzip; half are below {pages[len(pages) // 2] / 1000:.0f} kB")


def chooser(place: Place) -> Figure:
    """The most one choice of four devices can fetch: its words, the six heaviest files of pairs, four cards."""
    _ = place.first
    scripts = place.site / "scripts"
    words = _gzip([(scripts / "pairs" / "words.js").read_bytes()])
    pairs = sorted(_gzip(p.read_bytes() for p in (scripts / "pairs").glob("*-*.js")))
    cards = sorted(_gzip(p.read_bytes() for p in (scripts / "cards").glob("*.js")))
    most = sum(words) + sum(pairs[-6:]) + sum(cards[-4:])
    return Figure(
        value=most / 1000, beside=f"gzip; of {len(pairs):,} files of pairs with {sum(pairs) / 1e6:.2f} MB, and cards"
    )


def my_room(place: Place) -> Figure:
    """The file of a group. Where a device is chosen, its pairs with all others are fetched, too, for all groups."""
    _ = place.first
    rooms = sorted(_gzip(p.read_bytes() for p in (place.site / "scripts" / "rooms").rglob("*.js")))
    pairs: Counter[str] = Counter()
    for path in (place.site / "scripts" / "pairs").glob("*-*.js"):
        packed = _gzip([path.read_bytes()])[0]
        for part in set(path.stem.split("-")):
            pairs[part] += packed
    one = max(pairs.values(), default=0)
    beside = f"gzip, the heaviest of {len(rooms)} groups; the pairs of one device, all groups, {one / 1000:.0f} kB"
    return Figure(value=rooms[-1] / 1000, beside=beside)


def search(place: Place) -> Figure:
    _ = place.first
    scripts = place.site / "scripts"
    names = _gzip(p.read_bytes() for p in scripts.glob("search*.js"))
    sizes = sorted(_gzip(p.read_bytes() for p in (scripts / "sizes").glob("*.js")))
    return Figure(
        value=(sum(names) + sum(sizes[-3:])) / 1000,
        beside=f"gzip; names {sum(names) / 1000:.0f} kB, the rest for a number",
    )


def chart(place: Place) -> Figure:
    _ = place.first
    took = place.inside("drawn", place.site)
    ratio = took["vega_ms"] / took["drawer_ms"]
    beside = f"ms of processor time a chart, of {took['charts']}; vl-convert {took['vega_ms']:.1f} ms, {ratio:.0f} times as long"
    return Figure(value=took["drawer_ms"], beside=beside)


def _gzip(contents: Iterable[bytes]) -> list[int]:
    return [len(gzip.compress(content, mtime=0)) for content in contents]


ROWS = (
    Row("heaviest page", Limit(250, "kB"), heaviest),
    Row("heaviest device page", Limit(250, "kB"), device_raw),
    Row("heaviest device page, packed", Limit(60, "kB"), device_packed),
    Row("data of the chooser, one choice", Limit(150, "kB"), chooser),
    Row("data of my room, one group", Limit(150, "kB"), my_room),
    Row("data of the search, one number", Limit(150, "kB"), search),
    Row("a chart drawn", None, chart),
)
