"""From judged roles to role charts: which runs are drawn, and what their lines are called."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.charts.role_chart import Answered, RoleSeries, Target, role_figure
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing
from builder.pages.parts.drawing import two_sentences
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.role_words import percentile_text
from builder.under_load.roles import RoleResult
from catalog.method import METHOD_NUMBER
from catalog.records import Role

US_PER_MS = 1000.0
MARKED = (50, 90, 99)


def role_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    role: Role,
    shown: Mapping[str, tuple[int, RoleResult]],
    *,
    key: str,
    title: str,
    client: str,
    of_devices: int,
    spoken: str,
) -> Drawing | None:
    """The chart of one role over devices; None where no log has requests.

    shown       device -> position on the page, and the run that is drawn
    client      the client series that played the role, in words
    of_devices  how many devices did the workload, drawn or not
    """
    lines = [_series(catalogue, results, device, position, result) for device, (position, result) in shown.items()]
    drawn = [line for line in lines if line is not None]
    if not drawn:
        return None
    target = None
    if role.target_ms is not None and role.target_share is not None:
        target = Target(role.target_ms, role.target_share)
    figure = role_figure(
        key=key,
        title=title,
        series=drawn,
        target=target,
        notes=_notes(results, site, role, [r for _, r in shown.values()], client, of_devices, len(drawn)),
        spoken=two_sentences(spoken),
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)), own_table=True)


def _series(
    catalogue: Catalogue, results: Results, device: str, position: int, result: RoleResult
) -> RoleSeries | None:
    station = result.station
    if station is None or result.planned is None:
        return None
    log = catalogue.logs.get(("station", station.station_id), {})
    if "ordered" not in log or "rank" not in log:
        return None
    failed = result.failed or 0
    percentiles = {p.percent: p for p in result.percentiles}
    return RoleSeries(
        position=position,
        label=device_name(results.bench, device),
        detail=f"{station.firmware}, " + (f"{failed} of {result.planned} failed" if failed else "all answered"),
        waits_ms=tuple(us / US_PER_MS for us in log["ordered"].samples),
        ranks=log["rank"].samples,
        planned=result.planned,
        answered=tuple(Answered(p, percentiles[p].ms, percentile_text(result, p)) for p in MARKED if p in percentiles),
    )


def _notes(
    results: Results,
    site: SiteContext,
    role: Role,
    outcomes: Sequence[RoleResult],
    client: str,
    of_devices: int,
    drawn: int,
) -> list[str]:
    stations = [r.station for r in outcomes if r.station is not None]
    dates = sorted(s.date for s in stations)
    planned = [r.planned for r in outcomes if r.planned]
    first, last = min(planned), max(planned)
    each = str(first) if first == last else f"{first} to {last}"
    notes = [
        f"{client}, role {role.role_id}; {each} planned requests a line, {wording.date_range(dates[0], dates[-1])}; "
        "of several runs of a device the one with the lowest on-time share.",
        "Marks: 50, 90 and 99 % of the planned requests answered. An open mark at the right edge: so many never were.",
    ]
    older = [
        f"{device_name(results.bench, s.device)} {s.firmware} ({mark})"
        for s in stations
        if (mark := older_mark(results, s.device, s.firmware))
    ]
    if older:
        notes.append(f"Firmware that is not the current one: {wording.listing(older)}.")
    if drawn < of_devices:
        notes.append(f"Drawn: {drawn} of {of_devices} devices, those last in the order; the table has all.")
    notes.append(f"{site.title}, Method {METHOD_NUMBER}.")
    return notes
