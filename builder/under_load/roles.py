"""One client's role in a run with several clients at once: what was asked, what came, and the verdict.

Figures come from the digest of the role's log (catalog.digesting.digests); requests that failed or were never made
rank after every finished one (method.md, section 6).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from typing import Literal

from builder import wording
from builder.metrics.proportions import Requests, effective_requests, share_shown
from builder.metrics.voice import CallQuality, call_quality, known_codec
from builder.pairs import refusals
from builder.pairs.refusals import Refusal
from builder.under_load.noted import WITHOUT_LOG, Noted, noted_of
from catalog.digesting.latency import PERCENTS, Apdex, Percentile, RankInterval, counted_apdex, is_thin, rank_interval
from catalog.figure_names import joined_id
from catalog.marks import requests_to_show
from catalog.records import Role, Station

FEWEST_COMPARED = 20
"""A log of fewer requests is shown and not compared. [1]"""

RoleVerdict = Literal["met", "not-met", "did-not-finish", "not-tested", "no-verdict"]
Digest = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class UntilCollapse:
    """What was seen before a run broke off: only ever shown under that label, and never ranked.

    made         requests made by then. [1]
    percentiles  percent -> latency over the requests made; None: the rank fell among the failed. [ms]
    """

    made: int
    on_time_share: float | None
    percentiles: Mapping[int, float | None]


@dataclass(frozen=True, slots=True)
class Shown:
    """A stream as it was shown; start_delay_s None: nothing ever was. Times in s."""

    start_delay_s: float | None
    shown_s: float
    stalls: int
    stalled_s: float
    late_segments: int
    lost_segments: int
    stalling_quality: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleResult:
    """One role of one run.

    station        None where nobody played the role
    empty          of several seats of the role that nobody sat in, the number of this one, from 1; 0 where somebody did
    series         client series of its setup; "" without a station
    certain        for a role met or not met: whether this many requests show it beyond the count of this one run
    good_verdict   whether its share of good requests was met, or why not judged; None without a mark for good ones
    effective      independent requests equivalent to the planned ones; None where the log does not say
    failed         planned requests that were not answered: failed, or never made
    percentiles    over planned requests
    until          only where the run did not finish
    survived_s     how long it lasted, where it did not finish and that is known [s]
    noted          what its row says itself, without a log; nothing else is known of its requests then
    """

    mix: str
    role: Role
    station: Station | None
    series: str
    verdict: RoleVerdict
    sentence: str
    empty: int = 0
    certain: bool = False
    good_verdict: RoleVerdict | None = None
    planned: int | None = None
    made: int | None = None
    finished: int | None = None
    on_time: int | None = None
    good_on_time: int | None = None
    effective: float | None = None
    percentiles: tuple[Percentile, ...] = ()
    voice: CallQuality | None = None
    apdex: Apdex | None = None
    page_mos: float | None = None
    shown: Shown | None = None
    until: UntilCollapse | None = None
    survived_s: float | None = None
    noted: Noted | None = None

    @property
    def without_target(self) -> bool:
        """Played and logged, but the workload sets no target for it: neither met nor missing."""
        return (
            self.verdict == "not-tested"
            and self.planned is not None
            and (self.role.target_ms is None or self.role.target_share is None)
        )

    @property
    def failed(self) -> int | None:
        return None if self.planned is None or self.finished is None else self.planned - self.finished

    @property
    def on_time_share(self) -> float | None:
        """Requests answered within the target / planned; None without a target. [1]"""
        return None if self.on_time is None or not self.planned else self.on_time / self.planned

    @property
    def missed(self) -> bool:
        """Fewer requests were answered in time than its target asks for, whatever ended the run."""
        share = self.role.target_share
        return share is not None and self.on_time is not None and not _reached(self.on_time, share, self.planned or 0)

    @property
    def none_late(self) -> bool:
        """Every planned request was answered in time, by its log or as its row says itself."""
        share = self.on_time_share if self.noted is None else self.noted.on_time_share
        return share == 1

    @property
    def good_on_time_share(self) -> float | None:
        """Requests answered within what is good / planned; None without such a mark. [1]"""
        return None if self.good_on_time is None or not self.planned else self.good_on_time / self.planned

    @property
    def requests(self) -> Requests | None:
        """The role's requests in time as a share that can be judged; None without a target or with too few requests."""
        if self.on_time is None or self.effective is None or not self.planned or self.planned < FEWEST_COMPARED:
            return None
        return Requests(self.on_time, self.planned, self.effective)

    @property
    def figure(self) -> str:
        """Id of the figure: the run, the client or the empty seat, and the role."""
        nobody = f"empty-{self.empty}" if self.empty > 1 else ""
        return joined_id("role", self.mix, self.station.client if self.station else nobody, self.role.role_id)


def role_result(
    mix: str,
    role: Role,
    station: Station | None,
    digest: Digest | None,
    *,
    series: str,
    excluded: str,
    empty: int = 0,
) -> RoleResult:
    """The result of one role.

    digest    figures of its log; None or without requests: nothing to judge
    excluded  why the whole run does not count (a client fault, an abort); "" where it does
    empty     without a station: which of the seats of the role that nobody sat in, from 1
    """
    base = RoleResult(
        mix=mix, role=role, station=station, series=series, verdict="not-tested", sentence="", empty=empty
    )
    if role.good_ms is not None and role.good_share is not None:
        base = replace(base, good_verdict="not-tested")
    if station is None:
        return _not_tested(base, "nobody played this role in the run")
    if excluded:
        return _not_tested(base, excluded)
    if digest is None and (noted := noted_of(station)) is not None:
        return _as_noted(base, role, station, noted)
    if digest is None:
        return _not_tested(base, "its log is missing")
    if "planned" not in digest:
        return _not_tested(base, "its log holds rates, not requests")
    return _with_figures(base, role, station, digest)


def _as_noted(base: RoleResult, role: Role, station: Station, noted: Noted) -> RoleResult:
    said = f"{wording.capital(WITHOUT_LOG)}: {noted.text}."
    if station.outcome == "did not finish":
        verdict, sentence, _ = _verdict(role, station, None, 0, None)
        return replace(base, verdict=verdict, sentence=f"{sentence} {said}", noted=noted, survived_s=station.ended_at_s)
    if why := noted.unjudged(role):
        return replace(base, verdict="no-verdict", sentence=f"{said} No verdict: {why}.", noted=noted)
    met = noted.meets(role)
    asked = f"{wording.mark_share(role.target_share or 0.0)} are asked for"
    return replace(
        base,
        verdict="met" if met else "not-met",
        sentence=f"{'Met' if met else 'Not met'} in this run, {said[:1].lower()}{said[1:-1]}; {asked}.",
        noted=noted,
    )


def _with_figures(base: RoleResult, role: Role, station: Station, digest: Digest) -> RoleResult:
    planned, finished = int(digest["planned"]), int(digest["finished"])
    on_time = int(digest["on_time"]) if "on_time" in digest else None
    collapsed = station.outcome == "did not finish"
    good_on_time = int(digest["good_on_time"]) if "good_on_time" in digest else None
    effective = _effective(digest, planned)
    verdict, sentence, certain = _verdict(role, station, on_time, planned, effective)
    return replace(
        base,
        verdict=verdict,
        sentence=sentence,
        certain=certain,
        good_verdict=_good_verdict(role, good_on_time, planned, collapsed=collapsed),
        planned=planned,
        made=int(digest["made"]),
        finished=finished,
        on_time=on_time,
        good_on_time=good_on_time,
        effective=effective,
        percentiles=tuple(_percentile(digest, percent, planned, finished) for percent in PERCENTS),
        voice=_voice(role, digest, planned, finished),
        apdex=_apdex(role, digest, planned),
        page_mos=digest.get("page_mos"),
        shown=_shown(digest),
        until=_until(digest, on_time) if collapsed else None,
        survived_s=station.ended_at_s if collapsed else None,
    )


def _effective(digest: Digest, planned: int) -> float | None:
    """By the larger of two correlations in a row, of waits and of lateness; None where the digest has none."""
    lags, times = (
        [digest[f"{series}_{figure}"] for series in ("waits", "late") if f"{series}_{figure}" in digest]
        for figure in ("lag_one", "correlation_requests")
    )
    return effective_requests(planned, max(lags), max(times, default=1.0)) if lags else None


def _verdict(
    role: Role, station: Station, on_time: int | None, planned: int, effective: float | None
) -> tuple[RoleVerdict, str, bool]:
    share = None if on_time is None else f"{wording.percent(on_time / planned)} of {planned} planned requests"
    if station.outcome == "did not finish":
        how = f" ({station.ended_by})" if station.ended_by else ""
        lived = (
            f" after {wording.clock(station.ended_at_s)} of {wording.clock(station.planned_s)}{how}"
            if station.ended_at_s is not None
            else how
        )
        kept = f" {share} came within {_target(role)}." if share else ""
        return "did-not-finish", f"Broke off{lived}.{kept}", False
    if on_time is None or role.target_ms is None or role.target_share is None:
        return "not-tested", "Not tested: the workload sets no target for this role.", False
    met = _reached(on_time, role.target_share, planned)
    shown = effective is not None and share_shown(Requests(on_time, planned, effective), role.target_share)
    asked = f"{share} came within {_target(role)}; {wording.mark_share(role.target_share)} are asked for."
    if not shown:
        asked += f" Not shown: {too_few(on_time, planned, role.target_share, effective)}."
    return ("met", f"Met in this run: {asked}", shown) if met else ("not-met", f"Not met in this run: {asked}", shown)


def _good_verdict(role: Role, good_on_time: int | None, planned: int, *, collapsed: bool) -> RoleVerdict | None:
    if role.good_ms is None or role.good_share is None:
        return None
    if collapsed:
        return "did-not-finish"
    if good_on_time is None:
        return "not-tested"
    return "met" if _reached(good_on_time, role.good_share, planned) else "not-met"


def _reached(on_time: int, share: float, planned: int) -> bool:
    """As typed: 0.95 means 95 of 100, not the binary number next to it."""
    return on_time >= Fraction(str(share)) * planned


def too_few(on_time: int, planned: int, mark: float, effective: float | None) -> str:
    """Why a count shows nothing about a mark: "12 of 13 in time; too few to tell from 95 %".

    effective  independent requests that would say as much as those planned; None where that is not known
    """
    needed = requests_to_show(mark)
    if on_time < planned or needed is None:
        return f"{on_time} of {planned} in time; too few to tell from {wording.mark_share(mark)}"
    # They came in time together, as one does that follows another: fewer by themselves would say as much.
    worth = (
        "" if planned < needed or effective is None else f", which say as much as {math.floor(effective)} by themselves"
    )
    return f"all {planned} in time{worth}; {needed} would be needed to show {wording.mark_share(mark)}"


def _target(role: Role) -> str:
    return f"{wording.milliseconds(role.target_ms)} ms" if role.target_ms is not None else "the target"


def _percentile(digest: Digest, percent: int, planned: int, finished: int) -> Percentile:
    ends = _ends(planned, percent)

    def end(rank: int | None, figure: str) -> float | None:
        if rank is None:
            return None
        return digest[figure] if rank <= finished else math.inf

    return Percentile(
        percent=percent,
        ms=digest.get(f"p{percent}_ms"),
        thin=is_thin(percent, planned=planned),
        low_ms=end(ends.low, f"p{percent}_low_ms"),
        high_ms=end(ends.high, f"p{percent}_high_ms"),
    )


@cache
def _ends(planned: int, percent: int) -> RankInterval:
    return rank_interval(planned, percent / 100)


def _voice(role: Role, digest: Digest, planned: int, finished: int) -> CallQuality | None:
    packet_ms = role.recipe.get("packet_ms")
    if role.kind != "voice" or packet_ms is None:
        return None
    return call_quality(
        digest.get("mean_ms"),
        answered=finished,
        planned=planned,
        packet_ms=float(packet_ms),
        codec=known_codec(str(role.recipe.get("codec") or "")),
    )


def _apdex(role: Role, digest: Digest, planned: int) -> Apdex | None:
    if role.kind != "pages" or role.target_ms is None or "tolerated" not in digest:
        return None
    return counted_apdex(int(digest["on_time"]), int(digest["tolerated"]), target_ms=role.target_ms, planned=planned)


def _shown(digest: Digest) -> Shown | None:
    if "shown_s" not in digest:
        return None
    return Shown(
        start_delay_s=digest.get("start_delay_s"),
        shown_s=digest["shown_s"],
        stalls=int(digest["stalls"]),
        stalled_s=digest["stalled_s"],
        late_segments=int(digest["late_segments"]),
        lost_segments=int(digest["lost_segments"]),
        stalling_quality=digest.get("stalling_quality"),
    )


def _until(digest: Digest, on_time: int | None) -> UntilCollapse | None:
    made = int(digest["made"])
    if made == 0:
        return None
    # A log that was full when the run broke off has no separate figures for that time.
    prefix = "until_p" if made < digest["planned"] else "p"
    return UntilCollapse(
        made=made,
        on_time_share=None if on_time is None else on_time / made,
        percentiles={percent: digest.get(f"{prefix}{percent}_ms") for percent in PERCENTS},
    )


def _not_tested(base: RoleResult, why: str) -> RoleResult:
    return replace(base, sentence=f"Not tested: {why}.")


def percentile_claim(role: RoleResult, percent: int, *, finished_only: bool = False) -> Percentile | Refusal:
    """A percentile of a role as a sentence may state it.

    percent        one of catalog.digesting.latency.PERCENTS
    finished_only  over the finished requests alone
    Raises         ValueError for a role without requests, or a percentile that is not kept.
    """
    name = role.role.role_id
    if not role.percentiles:
        raise ValueError(role.sentence)
    percentile = next((p for p in role.percentiles if p.percent == percent), None)
    if percentile is None:
        kept = ", ".join(str(p.percent) for p in role.percentiles)
        raise ValueError(f"percentile {percent} is not kept; {kept} are")
    if finished_only and role.verdict == "did-not-finish":
        return Refusal("finished-only-percentile", refusals.finished_only_percentile(name, percent))
    if percentile.thin:
        return Refusal("thin-percentile", refusals.thin_percentile(name, percent, role.planned or 0))
    return percentile
