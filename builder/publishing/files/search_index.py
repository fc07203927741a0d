"""What the search looks through: everything that a reader may call by a name, made from what the pages show.

Kept small for ten years of tests: pairs are two numbers, and the sections of a device's page a letter each, put
together where they are searched (site_templates/js/site_search.mjs). Figures by their size lie beside it (`figure_index`).
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from html import unescape
from typing import Any

from builder import addresses, wording
from builder.articles.bound_article import BoundArticle
from builder.bench.naming import device_name
from builder.pages.as_published import KIND_WORDS, DatedValue
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.news import news
from builder.pages.parts.looked_up import look_up
from builder.pages.parts.played_roles import role_keys, versions_of
from builder.pages.parts.terms import TERMS, term_key
from builder.pages.parts.topics import topics
from builder.pages.search import Named, everything_named
from builder.pages.tables.device_facets import device_filters
from builder.pairs.refusals import CODES
from builder.publishing.files.figure_index import figure_files
from builder.publishing.files.number_claims import number_claims
from builder.registers.features import feature_standings
from builder.traces.definitions import FIGURES
from builder.under_load.role_names import role_name, role_words
from catalog.figure_names import joined_id

MOST_NAMED = 3
MOST_LETTERS = 110

# A thing that can be found: kind, address with its fragment, name, a line on what it is, and other names with the reason.
Entry = tuple[str, str, str, str, list[tuple[str, str]]]


@dataclass(frozen=True, slots=True)
class DevicePart:
    """A section of a device's page: its fragment, its name, what else it is called, and which devices have it."""

    fragment: str
    name: str
    words: tuple[str, ...]
    there: Callable[[Catalogue, Results, str], object]


@dataclass(frozen=True, slots=True)
class PairPart:
    """A section of a pair's page, likewise."""

    fragment: str
    name: str
    words: tuple[str, ...]
    there: Callable[[Catalogue, str, str], object]


DEVICE_PARTS = (
    DevicePart("which-firmware", "firmware", ("version", "update", "changelog"), lambda c, r, d: True),
    DevicePart("feed", "power over the cable", ("PoE", "class", "watts", "port"), lambda c, r, d: True),
    DevicePart("who-paid", "who paid", ("origin", "units", "loan"), lambda c, r, d: True),
    DevicePart("corrections", "corrections and disputes", ("withdrawn", "wrong"), lambda c, r, d: True),
    DevicePart("what-works", "features and licences", ("works", "licence"), lambda c, r, d: c.features.get(d)),
    DevicePart("warm", "heat", ("warm", "temperature", "hot"), lambda c, r, d: c.heat.get(d)),
    DevicePart("inside", "parts inside", ("chips", "teardown"), lambda c, r, d: c.parts.get(d)),
    DevicePart("cost", "price", ("cost",), lambda c, r, d: c.prices.get(d)),
    DevicePart("measured", "everything measured", ("values", "spots"), lambda c, r, d: r.bench.cells_of.get(d)),
    DevicePart("together", "several clients and long runs", ("latency", "calls"), lambda c, r, d: any(r.under_load(d))),
)


# The same of pages of pairs.
PAIR_PARTS = (
    PairPart("matches", "at like loss and like level", ("attenuation", "level", "signal"), lambda c, a, b: True),
    PairPart("the-two", "what was tested, and who paid", ("firmware", "units"), lambda c, a, b: True),
    PairPart("same-insides", "same insides", ("parts", "chips"), lambda c, a, b: c.parts.get(a) and c.parts.get(b)),
)

METHOD_PARTS = (
    ("two-matches", "What is matched", ("like loss", "like level", "attenuation and level")),
    ("sure", "How sure a figure is", ("intervals", "uncertainty", "spread")),
    ("limits", "Limits in force", ("constants", "windows")),
    ("why-not", "Why there is no answer", ("refusals", "refused")),
    ("changed", "Changes of the method", ("versions",)),
)


def search_index(
    catalogue: Catalogue, results: Results, replaced: Sequence[tuple[str, str, DatedValue]] = ()
) -> dict[str, Any]:
    """All that can be found but articles, which follow the day.

    replaced  figures that no longer hold as they were printed: device, instant of the publication, value
    """
    bench = results.bench
    named = everything_named(catalogue, results)
    devices = [one for one in named if one.kind == "device"]
    place = {one.address: i for i, one in enumerate(devices)}
    entries = [
        *_topics(),
        *_filters(catalogue, results),
        *_terms(),
        *_features(catalogue),
        *_parts(catalogue, results),
        *(_entry(one) for one in named if one.kind == "client"),
        *(_house(catalogue, one) for one in named if one.kind == "house"),
        *(_workload(catalogue, one) for one in named if one.kind == "workload"),
        *_roles(catalogue, results),
        *_rankings(results),
        *_method(),
        *_events(catalogue, results),
        *(_replaced(results, *one) for one in replaced),
    ]
    ids = {addresses.device(device_id): device_id for device_id in bench.devices}
    shared: dict[str, int] = {}
    return {
        "entries": entries,
        "devices": [_device(catalogue, results, ids[one.address], one, shared) for one in devices],
        "shared": list(shared),
        "parts": [[part.fragment, part.name, list(part.words)] for part in DEVICE_PARTS],
        "pairs": [_pair(catalogue, place, *pair) for pair in results.pairs],
        "pairParts": [[part.fragment, part.name, list(part.words)] for part in PAIR_PARTS],
        "figures": figure_files(results),
        "claims": number_claims(catalogue, results, replaced),
    }


def article_index(catalogue: Catalogue, results: Results, site: SiteContext) -> list[Entry]:
    """Articles by title, headings, first sentence and the numbers in them."""
    return [_article(article) for article in look_up(catalogue, results, site)]


def _topics() -> Iterator[Entry]:
    for topic in topics():
        yield "page", topic.address, topic.question, "", [(word, "") for word in topic.words]


def _filters(catalogue: Catalogue, results: Results) -> Iterator[Entry]:
    """The list of devices, filtered: every choice that it offers."""
    for one in device_filters(catalogue, results, list(results.bench.devices)):
        for value, text in one.options:
            name = f"Devices by {one.label[:1].lower() + one.label[1:]}: {text}"
            yield "list", f"{addresses.DEVICES}#{one.name}={value}", name, "", [(text, "")]


def _terms() -> Iterator[Entry]:
    for term, meaning in TERMS.items():
        yield "term", f"{addresses.GLOSSARY}#{term_key(term)}", wording.capital(term), _short(meaning), []


def _features(catalogue: Catalogue) -> Iterator[Entry]:
    for name, standings in feature_standings(f for known in catalogue.features.values() for f in known).items():
        licences = dict.fromkeys(licence for s in standings for licence in s.licences)
        line = f"evidence on {wording.count(len(standings), 'device')}"
        address = f"{addresses.FEATURES}#{joined_id('feature', name)}"
        yield "feature", address, wording.capital(name), line, [(licence, "with the licence") for licence in licences]


def _parts(catalogue: Catalogue, results: Results) -> Iterator[Entry]:
    """Markings on parts, each with what it is and who has it."""
    known: dict[str, tuple[set[str], dict[str, None]]] = defaultdict(lambda: (set(), {}))
    for device_id in results.bench.devices:
        for part in catalogue.parts.get(device_id, ()):
            blocks, devices = known[part.marking]
            blocks.add(part.block)
            devices[device_name(results.bench, device_id)] = None
    for marking, (blocks, devices) in sorted(known.items()):
        line = f"{wording.listing(sorted(blocks))} in {wording.listing_of_many(list(devices), MOST_NAMED)}"
        yield "part", addresses.INSIDES, marking, line, []


def _rankings(results: Results) -> Iterator[Entry]:
    for group in results.groups:
        yield "ranking", addresses.ranking(group), results.names[group].text, "", []


def _house(catalogue: Catalogue, named: Named) -> Entry:
    """A house, also by what stands between its spots."""
    between = dict.fromkeys(e.obstacles for e in catalogue.epochs if addresses.house(e.house) == named.address)
    kind, address, name, line, others = _entry(named)
    return kind, address, name, line, [*others, *((walls, "has a spot behind") for walls in between if walls)]


def _workload(catalogue: Catalogue, named: Named) -> Entry:
    """A workload, also by its roles."""
    plans = [
        plan for (workload, _), plan in catalogue.workloads.items() if addresses.workload(workload) == named.address
    ]
    roles = dict.fromkeys(role_name(role) for plan in plans for role in plan.roles)
    kind, address, name, line, others = _entry(named)
    return kind, address, name, line, [*others, *((role, "with the role") for role in roles)]


def _roles(catalogue: Catalogue, results: Results) -> Iterator[Entry]:
    """Roles with a page of their own."""
    for workload_id, role_id, number, place in role_keys(results):
        title = versions_of(catalogue, workload_id)[0].title
        name = f"{wording.capital(role_words(role_id))}{f' {number}' if number > 1 else ''}"
        yield "role", addresses.role(workload_id, role_id, number, place), name, f"in {title}", [(title, "")]


def _method() -> Iterator[Entry]:
    for fragment, name, words in METHOD_PARTS:
        yield "method", f"{addresses.METHOD}#{fragment}", name, "", [(word, "") for word in words]
    for code, sentence in CODES.items():
        yield "refusal", f"{addresses.METHOD}#refusal-{code}", _short(sentence), "", [(code, "")]
    for figure in FIGURES.values():
        yield "method", f"{addresses.METHOD}#figures", wording.capital(figure.name), _short(figure.meaning), []


def _events(catalogue: Catalogue, results: Results) -> Iterator[Entry]:
    """Corrections with what was and what is, withdrawals and disputes."""
    for item in news(catalogue, results, ("Correction", "Withdrawn", "Dispute")):
        address = item.address + (f"#{item.fragment}" if item.fragment else "")
        name = f"{item.what}: {item.result}" if item.result else item.what
        yield item.kind.lower(), address, name, item.cause, [(item.kind, ""), (item.cause, "")]


def _replaced(results: Results, device_id: str, since: str, value: DatedValue) -> Entry:
    """A figure that a publication printed and a later one replaced or took back."""
    kind = KIND_WORDS.get(value.figure.split("~")[0], "Figure")
    now = f"now {value.now}" if value.now else "no longer shown"
    return (
        "figure as published",
        f"{addresses.as_published(device_id, since)}#{value.figure}",
        f"{device_name(results.bench, device_id)}: {value.text or 'taken back'}",
        f"{kind.lower()}, published {wording.date(since)}, {now} since {wording.date(value.until)}: {value.why}",
        [(value.now, "now")] if value.now else [],
    )


def _entry(named: Named) -> Entry:
    (name, _), *others = named.names
    return named.kind, named.address, name, "", others


def _device(catalogue: Catalogue, results: Results, device_id: str, named: Named, shared: dict[str, int]) -> list[Any]:
    """[folder, maker, model, aliases, short link, which parts its page has, places of its markings in *shared*].

    Which features it has stands on the page of features: as names of devices they would be a third of all bytes.
    """
    device = results.bench.devices[device_id]
    has = sorted({shared.setdefault(p.marking, len(shared)) for p in catalogue.parts.get(device_id, ())})
    there = "".join(chr(ord("a") + i) for i, p in enumerate(DEVICE_PARTS) if p.there(catalogue, results, device_id))
    maker = named.names[0][0].removesuffix(device.model).strip()
    return [named.address.split("/")[1], maker, device.model, list(device.aliases), _code(named.address), there, has]


def _code(address: str) -> str:
    """What the short link to a page is called: "3m5esd"."""
    return addresses.short(address).removeprefix("go/").removesuffix(".html")


def _pair(catalogue: Catalogue, place: dict[str, int], a: str, b: str) -> list[Any]:
    """[places of the two devices, which parts its page has, and its address where it is not the two folders joined]."""
    folders = [addresses.device(one).split("/")[1] for one in sorted((a, b))]
    there = "".join(chr(ord("a") + i) for i, part in enumerate(PAIR_PARTS) if part.there(catalogue, a, b))
    pair = [place[addresses.device(a)], place[addresses.device(b)], there]
    address = addresses.pair(a, b)
    return pair if address == f"pairs/{'--'.join(folders)}/index.html" else [*pair, address]


def _article(bound: BoundArticle) -> Entry:
    html = "".join(passage.html for passage in bound.passages)
    headings = [_text(heading) for heading in re.findall(r"<h\d[^>]*>(.*?)</h\d>", html, re.DOTALL)]
    body = _text(re.sub(r"<h\d[^>]*>.*?</h\d>", " ", html, flags=re.DOTALL))
    numbers = dict.fromkeys(re.findall(r"(?<![\w.,])\d+(?:[.,]\d+)*(?!\w)", body))
    return (
        "review",
        addresses.review(bound.article.article_id),
        bound.article.title,
        _short(body),
        [
            (_short(body), ""),
            *((heading, "with the heading") for heading in headings),
            *((number, "holds the number") for number in numbers if len(number) > 1),
        ],
    )


def _text(html: str) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def _short(text: str) -> str:
    """The first sentence, cut at a word where it is long."""
    first = re.split(r"(?<=[.!?]) (?=\S)", text, maxsplit=1)[0]
    return first if len(first) <= MOST_LETTERS else f"{first[:MOST_LETTERS].rsplit(' ', 1)[0]} …"
