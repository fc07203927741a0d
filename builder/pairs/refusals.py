"""Refusals are results: a code for scripts and a plain sentence for people (method.md, section 11)."""

from __future__ import annotations

from dataclasses import dataclass

from builder import wording
from builder.metrics.heat import SEPARATED_FROM_K
from catalog.method import MAX_GAP_DB, MIN_KNOTS, MIN_RANGE_DB

CODES: dict[str, str] = {
    "no-shared-range": "The two were tested at losses that do not meet.",
    "range-too-short": f"They meet over less than {MIN_RANGE_DB:g} dB.",
    "too-few-spots": f"One of them has fewer than {MIN_KNOTS} measured spots inside the shared range.",
    "gap": f"They meet only across a gap of more than {MAX_GAP_DB:g} dB between measured spots.",
    "single-run": "A single run shows no spread, and none was declared or can be pooled.",
    "two-bounds": "Both values are lower bounds, so neither can be called higher.",
    "bound-within-noise": "One value is a lower bound, and its lead over the other is less than these tests can show.",
    "level-across-setups": "Levels read by different client setups are not the same scale.",
    "level-uplink": "A level read at the client says nothing of the upload.",
    "nothing-in-common": "No client series, band, width and direction in which both were tested.",
    "unequal-conditions": "They were tested under conditions that differ.",
    "spot-moved": "The spot's attenuation changed between the two tests.",
    "no-shared-spot": "No spot in one epoch at which both were tested.",
    "candidate-not-decided": "Another candidate is capped, does not cover the window, or cannot be told apart.",
    "firmware-within-noise": "The two firmwares differ by less than these tests can show.",
    "link-through-bound": "A value in the chain of an indirect comparison was limited by the client or the lab.",
    "bridges-disagree": "Two bridges of an indirect comparison differ by more than their error.",
    "finished-only-percentile": "Percentiles of finished requests alone flatter a run that broke off.",
    "too-few-runs": "How often runs break off needs 20 runs; below that there are only counts.",
    "thin-percentile": "Fewer than five planned requests lie beyond that percentile.",
    "distance-only": "Only distances are known, and the same distance loses more in one house than in another.",
    "heat-within-reading": f"Two rises less than {SEPARATED_FROM_K:g} K apart are within what a reading is good to.",
    "units-disagree": "Two units of the model differ, so nothing is said of the model.",
    "sum-of-directions": "Download and upload are two things; they share the air and are never added.",
    "company-differs": "The machines that were busy at once, or where they stood, differ.",
    "one-seat-replaced": "Another machine sat in this seat; only those of the other seats are compared.",
    "too-few-requests": "A log of fewer than 20 requests, or none, is shown and never compared.",
    "undated-price": "Without a price of a known day there is no value for money.",
}


@dataclass(frozen=True, slots=True)
class Refusal:
    """A claim that is not made: its code for scripts and its sentence for people."""

    code: str
    sentence: str


def candidate_not_decided(leader: str, place: str, why: str) -> str:
    return f"{leader} cannot be called the fastest tested {place}: {why}."


def firmware_within_noise(ahead: str, behind: str, lead: str, needed: str, *, one_day: bool) -> str:
    advice = "" if one_day else " Retest both on one day."
    return (
        f"{ahead} was {lead} Mbit/s ahead of {behind}, and a difference of {needed} or more would have "
        f"shown: not an improvement, not a loss.{advice}"
    )


def finished_only_percentile(role: str, percent: int) -> str:
    return (
        f"{role}: the {percent}th percentile of the finished requests alone leaves out what came after it broke off. "
        "It may stand only as “until it broke off”."
    )


def too_few_runs(count: str, needed: int) -> str:
    return f"{wording.capital(count)}. How often runs break off needs {needed} runs, so only the count is given."


def thin_percentile(role: str, percent: int, planned: int) -> str:
    return (
        f"{role}: of {wording.count(planned, 'planned request')} fewer than five lie beyond the {percent}th "
        "percentile, so it says little and is not claimed."
    )


def heat_within_reading(name_a: str, rise_a: str, name_b: str, rise_b: str) -> str:
    return (
        f"{name_a} rises {rise_a} above the room and {name_b} {rise_b}: not told apart, for rises less than "
        f"{SEPARATED_FROM_K:g} K apart are within what a reading is good to."
    )


def heat_unlike(name_a: str, name_b: str, what: str) -> str:
    return f"{name_a} and {name_b} were not read alike ({what}), so neither is called hotter."


def heat_without_room(name: str) -> str:
    return f"{name}: the room's temperature was not read, so there is no rise to compare."


def units_disagree(model: str, figure: str) -> str:
    return f"Two units of {model} differ, so nothing is said of the model. {figure}"


def sum_of_directions(name: str) -> str:
    return (
        f"{name}: download and upload were measured one after the other and share the same air, so their sum is a rate that "
        "nobody saw."
    )


def undated_price(names: str) -> str:
    return f"{names}: no price with a date is known, so nothing is said of value for money."


def unlike_prices(name_a: str, name_b: str, what: str) -> str:
    return f"The prices of {name_a} and {name_b} differ in {what}, so they are not set against each other."


def too_few_requests(name: str, requests: int | None, needed: int) -> str:
    """Why a role is not compared. requests: of the longest log of that device; None without a log of requests."""
    if requests is None:
        return f"no log of {name} holds requests; at least {needed} are needed"
    return f"{wording.count(requests, 'request')} on {name}; at least {needed} are needed"
