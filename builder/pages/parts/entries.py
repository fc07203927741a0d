"""Entries that many tables share: devices, dates, numbers and values with their interval, or why one is missing."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from builder import addresses, wording
from builder.bench.bounds import LIMIT_WORDS, Limit
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.pages.parts.blocks import Entry
from builder.under_load.collapses import OUTCOME_WORDS


def text_entry(text: str | None, *, missing: str = "not stated", href: str = "", note: str = "") -> Entry:
    """A text, or the reason why there is none."""
    return Entry(text=text, href=href, note=note) if text else Entry(why_missing=missing)


def link_entry(here: str, text: str, address: str, fragment: str = "", *, note: str = "") -> Entry:
    """A text, linked to the page at *address* or to the place *fragment* on it."""
    return Entry(text=text, href=addresses.link(here, address, fragment), note=note)


def device_entry(results: Results, here: str, device: str, fragment: str = "", *, note: str = "") -> Entry:
    """A device's name, linked to its page or to the place *fragment* on it."""
    return link_entry(here, device_name(results.bench, device), addresses.device(device), fragment, note=note)


def pair_entry(results: Results, here: str, a: str, b: str) -> Entry:
    """Two devices by name, linked to the page that compares them."""
    names = (device_name(results.bench, device) for device in (a, b))
    return link_entry(here, " and ".join(names), addresses.pair(a, b))


def date_entry(day: str | None, *, missing: str = "not stated", note: str = "") -> Entry:
    """A short date, sorted as a date."""
    return Entry(text=wording.short_date(day), note=note, sort_key=day) if day else Entry(why_missing=missing)


def sortable(value: float) -> str:
    """What scripts sort a value by: eight digits tell all printed ones apart, and more would weigh on every page."""
    return f"{value:.8g}"


def number_entry(
    value: float | None, words: Callable[[float], str], *, unit: str = "", missing: str = "not measured"
) -> Entry:
    """A number as *words* says it, sorted by its value."""
    return (
        Entry(why_missing=missing) if value is None else Entry(text=words(value), unit=unit, sort_key=sortable(value))
    )


def count_entry(count: int, words: str = "", *, note: str = "") -> Entry:
    """A count, by itself or in *words*, sorted by its value."""
    return Entry(text=words or str(count), note=note, sort_key=str(count))


def decibel_entry(value: float | None, *, unit: str, missing: str = "not measured") -> Entry:
    """A loss [dB] or a level [dBm]."""
    return number_entry(value, wording.decibels, unit=unit, missing=missing)


def rate_entry(
    value: float | None,
    *,
    low: float | None = None,
    high: float | None = None,
    bound: bool = False,
    limit: Limit | None = None,
    port: float | None = None,
    missing: str = "not tested",
) -> Entry:
    """A throughput [Mbit/s] without its unit, which the heading has; its interval, and what held it back.

    port  speed of the device's own port, named where that held the value back [Mbit/s]
    """
    if value is None:
        return Entry(why_missing=missing)
    interval = (
        "" if low is None or high is None else wording.in_95(wording.between(low, high, wording.rate_decimals(value)))
    )
    return Entry(
        text=wording.rate(value, bound=bound),
        interval=interval,
        note=wording.held_by_port(port) if limit == "port" and port else LIMIT_WORDS[limit] if limit else "",
        sort_key=sortable(value),
    )


def apart_entry(apart: bool, *, first: bool) -> Entry:
    """Whether a row of an order is told apart from the one above it."""
    if first:
        return Entry(why_missing="first row")
    return Entry(text="told apart" if apart else "not told apart from the row above")


def outcome_entry(outcomes: Mapping[str, int]) -> Entry:
    """How runs ended: "3 finished", "2 finished, 1 broke off"."""
    parts = [f"{outcomes[o]} {words}" for o, words in OUTCOME_WORDS.items() if outcomes.get(o)]
    return Entry(text=", ".join(parts))
