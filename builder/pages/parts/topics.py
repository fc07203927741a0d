"""The topics of the site: its lists and registers, each with what people type when they look for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from builder import addresses
from builder.pages.parts.frame import QUESTIONS

# What a page is also called. The name of its folder, with spaces for hyphens, leads to it, too.
WORDS: Mapping[str, tuple[str, ...]] = {
    addresses.MY_ROOM: ("signal", "dBm", "speed at home"),
    addresses.CHOOSER: ("compare", "shortlist", "side by side"),
    addresses.RANKINGS: ("ranking", "fastest", "best", "who leads"),
    addresses.PAIRS: ("comparisons", "against each other"),
    addresses.HOUSES: ("decibel", "walls", "spots", "attenuation in a house"),
    addresses.WORKLOADS: ("several clients at once", "office", "latency", "video calls", "roles"),
    addresses.COLLAPSES: ("crash", "broke off", "gave up", "restart"),
    addresses.FEATURES: ("licence", "licences", "license", "subscription"),
    addresses.DEVICES: ("access points", "models"),
    addresses.POWER: ("PoE", "power over Ethernet", "switch", "injector", "class of power", "watts"),
    addresses.PRICES: ("price", "cost", "cheapest", "licence fees", "money", "buy"),
    addresses.INSIDES: ("parts", "chips", "processor", "memory", "teardown", "markings"),
    addresses.REVIEWS: ("articles", "videos", "films", "tests"),
    addresses.METHOD: ("how it is measured", "statistics", "intervals", "refused"),
    addresses.CLIENTS: ("laptop", "phone", "adapters", "streams"),
    addresses.RECIPES: ("repeat a test", "recipes", "at home"),
    addresses.DATA: ("download", "CSV", "JSON", "SQLite", "licence of the data"),
    addresses.CHANGES: ("news", "new devices", "retests", "firmware retests", "corrections", "feed", "RSS", "Atom"),
    addresses.GLOSSARY: ("terms", "meaning", "definitions"),
}


@dataclass(frozen=True, slots=True)
class Topic:
    """A page that leads on: the question it answers, where it lies, and other words for it."""

    question: str
    address: str
    words: tuple[str, ...]


def topics() -> list[Topic]:
    """Every topic once, in the order of the ways through the site; the search itself is none."""
    return [
        Topic(question, address, (_folder(address), *WORDS.get(address, ())))
        for _, ways in QUESTIONS
        for question, address in ways
        if address != addresses.SEARCH
    ]


def _folder(address: str) -> str:
    return address.split("/")[0].replace("-", " ")
