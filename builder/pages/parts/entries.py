"""Entries that many tables share: values with their interval, dates, outcomes, and what is not known."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from builder import wording
from builder.bench.bounds import LIMIT_WORDS, Limit
from builder.pages.parts.blocks import Entry


def text_entry(text: str | None, *, missing: str = "not stated", href: str = "", note: str = "") -> Entry:
    """A text, or what is said where there is none."""
    return Entry(text=text, href=href, note=note) if text else Entry(why_missing=missing)


def date_entry(day: str | None, *, missing: str = "not stated") -> Entry:
    """A date in words, sorted as a date."""
    return Entry(text=wording.date(day), sort_key=day) if day else Entry(why_missing=missing)


def number_entry(
    value: float | None, words: Callable[[float], str], *, unit: str = "", missing: str = "not measured"
) -> Entry:
    """A number as *words* says it, sorted by its value."""
    return Entry(why_missing=missing) if value is None else Entry(text=words(value), unit=unit, sort_key=repr(value))


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
    missing: str = "not tested",
) -> Entry:
    """A throughput [Mbit/s] without its unit, which the heading has; its interval, and what held it back."""
    if value is None:
        return Entry(why_missing=missing)
    interval = "" if low is None or high is None else wording.between(low, high, wording.rate_decimals(value))
    return Entry(
        text=wording.rate(value, bound=bound),
        interval=interval,
        note=LIMIT_WORDS[limit] if limit else "",
        sort_key=repr(value),
    )


def outcome_entry(outcomes: Mapping[str, int]) -> Entry:
    """How runs ended: "3 finished", "2 finished, 1 did not finish"."""
    order = ("finished", "did not finish", "client fault", "aborted", "not possible")
    parts = [f"{outcomes[o]} {o}" for o in order if outcomes.get(o)]
    return Entry(text=", ".join(parts))
