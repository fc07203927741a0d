"""From judged roles to rows of charts: what each is called, what is drawn of it, and what is said beside it."""

from __future__ import annotations

from builder import wording
from builder.charts.share_chart import ShareCell
from builder.charts.waiting_rows import DRAWN_PERCENTS, Mark, WaitingRow, Within
from builder.pages.contents import Catalogue, Results
from builder.under_load.role_names import role_name
from builder.under_load.roles import RoleResult
from catalog.marks import requests_to_show
from catalog.records import Role, Station

US_PER_MS = 1000.0


def marks_of(role: Role) -> tuple[Mark, ...]:
    """What is asked of a role, as charts draw it: its target, and what is good."""
    marks = []
    if role.target_ms is not None and role.target_share is not None:
        marks.append(Mark(role.target_ms, role.target_share))
    if role.good_ms is not None and role.good_share is not None:
        marks.append(Mark(role.good_ms, role.good_share, good=True))
    return tuple(marks)


def hardest_first(result: RoleResult) -> tuple[float, float]:
    """Sorts by the share in time, then by how long 90 % waited, the longest first; what has no figures comes last."""
    if not result.planned:
        return 2.0, 0.0
    within = next((p.ms for p in result.percentiles if p.percent == 90), None)
    share = 1.0 if result.on_time_share is None else result.on_time_share
    return share, -(float("inf") if within is None else within)


def waiting_row(catalogue: Catalogue, result: RoleResult, label: str, detail: str) -> WaitingRow:
    if not result.planned:
        return WaitingRow(label=label, detail=detail, marks=marks_of(result.role), remark=result.sentence.rstrip("."))
    within = {p.percent: Within(p.ms, p.thin) for p in result.percentiles if p.percent in DRAWN_PERCENTS}
    assert result.station is not None
    log = catalogue.logs.get(("station", result.station.station_id), {})
    answers = tuple(us / US_PER_MS for us in log["ordered"].samples) if "ordered" in log else ()
    answered = [p.ms for p in result.percentiles if p.ms is not None]
    planned = result.planned
    return WaitingRow(
        label=label,
        detail=detail,
        planned=planned,
        made=result.made or 0,
        finished=result.finished or 0,
        in_time=result.on_time,
        good_in_time=result.good_on_time,
        within=within,
        slowest_ms=answers[-1] if answers else max(answered, default=0.0 if result.finished else None),
        answers_ms=answers if within[50].thin else (),
        marks=marks_of(result.role),
        remark=_remark(result),
        missed=result.missed,
        broke_off=""
        if result.verdict != "did-not-finish"
        else broke_off_words(result.survived_s, result.station.planned_s),
    )


def _remark(result: RoleResult) -> str:
    """What was asked for, or why so few requests show nothing: "target 99 %", "too few to tell from 95 %"."""
    share = result.role.target_share
    if result.on_time is None or share is None or not result.planned:
        return "no target"
    asked = wording.mark_share(share)
    if result.verdict == "did-not-finish":
        return f"target {asked}"
    if result.certain:
        return f"{asked} shown" if result.verdict == "met" else f"target {asked}"
    needed = requests_to_show(share)
    if result.on_time == result.planned and needed is not None and result.planned < needed:
        return f"{needed} would be needed to show {asked}"
    return f"too few to tell from {asked}"


def in_time_words(result: RoleResult) -> str:
    """ "call window: 2736 of 3000 in time"."""
    if result.on_time is None:
        return f"{role_name(result.role)}: {result.finished} of {result.planned} answered"
    return f"{role_name(result.role)}: {result.on_time} of {result.planned} in time"


def broke_off_words(survived_s: float | None, planned_s: float) -> str:
    if survived_s is None:
        return "broke off"
    return f"broke off at {wording.clock(survived_s)} of {wording.clock(planned_s)}"


def seat_words(results: Results, station: Station | None, *, place: bool = True) -> str:
    """ "Wrenlet U2 · S4, 74 dB, 5 GHz"; place: with where it stood."""
    if station is None:
        return "nobody played it"
    link = link_words(station)
    where = f"{place_words(station)}, {link}" if place and place_words(station) else link
    return f"{results.bench.clients[station.client].name} · {where}"


def place_words(station: Station) -> str:
    """ "S4, 74.1 dB", with what is known."""
    loss = "" if station.attenuation_db is None else f"{wording.decibels(station.attenuation_db)} dB"
    return ", ".join(filter(None, (station.spot, loss)))


def link_words(station: Station) -> str:
    """ "5 GHz, 80 MHz"."""
    width = wording.width(station.width_mhz) if station.width_mhz else ""
    return ", ".join(filter(None, (wording.band(station.band), width)))


def share_cell(result: RoleResult | None) -> ShareCell:
    """A role on one device: its share in time, and within what time 90 % were answered. None: not played."""
    if result is not None and result.noted is not None:
        share = result.noted.on_time_share
        return ShareCell(None, "no share" if share is None else wording.percent(share), "as noted then")
    if result is None or not result.planned:
        return ShareCell(None, "not tested")
    within = next((p for p in result.percentiles if p.percent == 90), None)
    detail = "" if within is None else "90 % never" if within.ms is None else wording.duration(within.ms)
    if result.verdict == "did-not-finish":
        detail = "broke off" if result.survived_s is None else f"broke off at {wording.clock(result.survived_s)}"
    if result.on_time_share is None:
        return ShareCell(None, "no target", detail)
    share = result.on_time_share
    text = wording.mark_share(share) if share == 1 else wording.percent(share)
    return ShareCell(share, text, detail, result.missed)
