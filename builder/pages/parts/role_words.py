"""Roles of a workload in words: kinds, verdicts, what is asked of each, and what its log holds besides percentiles."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from builder import wording
from builder.under_load.role_names import stalled_text
from builder.under_load.roles import RoleResult, RoleVerdict, too_few
from catalog.records import Role

KIND_WORDS: Mapping[str, str] = {
    "stream": "watching a picture",
    "pages": "opening pages",
    "voice": "talking",
    "fetch": "fetching files",
    "upload": "sending files",
    "game": "playing",
}
VERDICT_WORDS: Mapping[RoleVerdict, str] = {
    "met": "met in this run",
    "not-met": "not met in this run",
    "did-not-finish": "broke off",
    "not-tested": "not tested",
    "no-verdict": "no verdict",
}
NUMBER_WORDS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def machines_words(seats: Sequence[int]) -> str:
    """ "4 machines at once, one of them with two roles"; machines are counted, not roles.

    seats  roles of each machine, most first
    """
    text = f"{wording.count(len(seats), 'machine')} at once"
    several = Counter(roles for roles in seats if roles > 1)
    if not several:
        return text
    if len(seats) == 1:
        return f"1 machine with {_word(seats[0])} roles at once"
    parts = [f"{_word(machines)} of them with {_word(roles)} roles" for roles, machines in several.items()]
    return f"{text}, {wording.listing(parts)}"


def machines_counted(seats: Sequence[int]) -> str:
    """The same where "at once" stands beside it, as in the heading of a column."""
    return machines_words(seats).replace(" at once", "", 1)


def _word(number: int) -> str:
    return NUMBER_WORDS.get(number, str(number))


def verdict_note(result: RoleResult) -> str:
    """Whether a role's verdict holds beyond its run: "shown", or why so few requests do not show it."""
    target = result.role.target_share
    if result.verdict not in ("met", "not-met") or result.on_time is None or not result.planned or target is None:
        return ""
    return (
        "shown" if result.certain else f"not shown: {too_few(result.on_time, result.planned, target, result.effective)}"
    )


def role_figures(result: RoleResult) -> list[str]:
    """What the log holds besides percentiles: voice quality, page scores, stalls, and the time until a collapse."""
    texts: list[str] = []
    voice, shown, until = result.voice, result.shown, result.until
    if voice is not None and voice.one_way_ms is not None:
        text = f"{wording.milliseconds(voice.one_way_ms)} ms one way (half the round trip and one packet)"
        text += f", {wording.percent(voice.loss)} lost"
        if voice.r is not None and voice.mos is not None:
            text += f", R {wording.number(voice.r, 1)}, MOS {wording.number(voice.mos, 2)}"
        texts.append(text)
    if result.apdex is not None:
        small = ", a small group" if result.apdex.small_group else ""
        target = wording.milliseconds(result.apdex.target_ms)
        texts.append(f"Apdex {wording.number(result.apdex.score, 2)} for {target} ms{small}")
    if result.page_mos is not None:
        texts.append(f"page score {wording.number(result.page_mos, 2)} of 5")
    if shown is not None:
        began = (
            "never began" if shown.start_delay_s is None else f"began after {wording.number(shown.start_delay_s, 1)} s"
        )
        texts.append(f"{began}, {stalled_text(shown.stalls, shown.stalled_s)}")
    if until is not None:
        share = "" if until.on_time_share is None else f" {wording.percent(until.on_time_share)} on time,"
        known = [f"{p} % within {wording.milliseconds(ms)} ms" for p, ms in until.percentiles.items() if ms is not None]
        texts.append(f"until it broke off, of {until.made} made:{share} {', '.join(known)}".rstrip(", "))
    return texts


def percentile_text(result: RoleResult, percent: int) -> str:
    """A percentile as printed: "812" or "failed", followed by "thin" where few requests lie beyond it."""
    percentile = next((p for p in result.percentiles if p.percent == percent), None)
    if percentile is None and result.noted is not None and percent in result.noted.percentiles:
        return f"{wording.milliseconds(result.noted.percentiles[percent])}, as noted then"
    if percentile is None:
        return "not tested" if result.noted is None else "not noted"
    text = "failed" if percentile.ms is None else wording.milliseconds(percentile.ms)
    return f"{text}, thin" if percentile.thin else text


def target_text(role: Role) -> str:
    """ "95.0 % of the planned requests within 1000 ms"; "" without a target."""
    if role.target_ms is None or role.target_share is None:
        return ""
    return (
        f"{wording.percent(role.target_share)} of the planned requests within {wording.milliseconds(role.target_ms)} ms"
    )


def good_text(role: Role) -> str:
    """ "95.0 % within 250 ms", which is more than enough; "" without such a mark."""
    if role.good_ms is None or role.good_share is None:
        return ""
    return f"{wording.percent(role.good_share)} within {wording.milliseconds(role.good_ms)} ms"


def good_note(result: RoleResult) -> str:
    """Whether a role was good in its run; "" without such a mark and where the run did not finish."""
    return {"met": "good in this run", "not-met": "not good in this run"}.get(result.good_verdict or "", "")


def marks_text(role: Role) -> str:
    """Both marks of a role: what is enough, then what is good; "" without any."""
    good = good_text(role)
    return "; ".join(filter(None, (target_text(role), f"good: {good}" if good else "")))


def recipe_text(role: Role) -> str:
    """The keys of a role's recipe in words; missing keys are left out."""
    recipe: Mapping[str, Any] = role.recipe
    parts: list[str] = []
    if "rate_mbit_s" in recipe:
        parts.append(f"a stream of {wording.trimmed(recipe['rate_mbit_s'], 1)} Mbit/s")
    if "segment_s" in recipe:
        parts.append(f"in segments of {wording.trimmed(recipe['segment_s'], 1)} s")
    if "start_buffer_s" in recipe:
        parts.append(f"shown once {wording.trimmed(recipe['start_buffer_s'], 1)} s are buffered")
    if "resources" in recipe:
        size = f" of {wording.trimmed(recipe['resource_kib'], 1)} KiB" if "resource_kib" in recipe else ""
        parts.append(f"pages of {wording.count(int(recipe['resources']), 'resource')}{size}")
    if "pause_s" in recipe:
        low, high = recipe["pause_s"]
        parts.append(f"a pause of {wording.trimmed(low, 1)} to {wording.trimmed(high, 1)} s after each")
    if "packet_ms" in recipe:
        codec = f", {recipe['codec']}" if recipe.get("codec") else ""
        parts.append(f"a packet each {wording.trimmed(recipe['packet_ms'], 1)} ms both ways{codec}")
    if "file_mib" in recipe:
        at_once = f", {recipe['at_once']} at once" if recipe.get("at_once", 1) > 1 else ""
        parts.append(f"one file of {wording.trimmed(recipe['file_mib'], 1)} MiB after another{at_once}")
    return wording.capital(", ".join(parts))
