"""Cells: the repeats of one thing under one set of conditions, and the group they may be compared in."""

from __future__ import annotations

import math
import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from operator import attrgetter

from builder.bench.bounds import Limit, Limits, is_bound
from builder.metrics.intervals import standard_deviation
from builder.wording import rounded
from catalog.figure_names import joined_id, subject_id
from catalog.method import MEDIAN_VARIANCE
from catalog.records import Run, Whereabouts

Place = tuple[str, ...]
SortKey = tuple[tuple[int, str], ...]

# What the runs of one cell have in common, beside series and place; and the same with the place of a marked spot.
_ALIKE = (
    "device",
    "unit",
    "firmware",
    "client",
    "driver",
    "session",
    "settings",
    "band",
    "width_mhz",
    "direction",
    "protocol",
    "flows",
    "security",
    "method",
    "of_runs",
)
_alike, _alike_at_spot = attrgetter(*_ALIKE), attrgetter(*_ALIKE, "house", "spot", "spot_since")


@dataclass(frozen=True, slots=True)
class Group:
    """What may be compared: everything here is equal, nothing else is matched silently.

    protocol, flows and security left out are "not stated", which matches only itself.
    """

    series: str
    band: str
    width_mhz: int
    direction: str
    protocol: str | None
    flows: int | None
    security: str | None
    method: int

    @property
    def several_links(self) -> bool:
        """A client on several bands at once: one attenuation does not describe it."""
        return "+" in self.band

    @property
    def sort_key(self) -> tuple[object, ...]:
        return (
            self.band,
            self.direction,
            self.width_mhz,
            self.series,
            self.protocol or "",
            self.flows or 0,
            self.security or "",
            self.method,
        )

    @property
    def slug(self) -> str:
        """The group as part of a figure's id or an address: "wrenlet-u2~5~80~down"."""
        parts = [self.series, self.band, str(self.width_mhz), self.direction]
        parts += [str(extra) for extra in (self.protocol, self.flows, self.security) if extra is not None]
        if self.method != 1:
            parts.append(f"method{self.method}")
        return joined_id(*parts)


@cache
def natural(text: str) -> SortKey:
    """Sort key in which 7.10 comes after 7.9."""
    return tuple((int(p), "") if p.isdigit() else (-1, p) for p in re.split(r"(\d+)", text) if p)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of the catalogue.

    place            spot and epoch; else the typed attenuation; else the level rounded to 1 dB
    attenuation_db   None for a place nobody calibrated. [dB]
    readings         how many readings of the spot its attenuation is the mean of; 1 where it was typed
    readings_sd_db   their standard deviation; None where there is none. [dB]
    visits           to a place its runs were made at, with the share of its finished runs
    kit              reference source and receiver; a typed attenuation belongs to its house's
    level_dbm        arithmetic mean of its finished runs' levels. [dBm]
    n, mean, sd      finished repeats, their mean and standard deviation (None below 2, and where a summary does not
                     give it); of a summary by its median, that stands in the mean's place. [1, Mbit/s, Mbit/s]
    bound            a mean with a bound in it is a bound; a median if the middle value is one
    outcomes         how many runs ended in which way
    settings         conditions that differ from how the bench always tests; None for none
    statistic        "mean" or "median", as it was noted, of a cell that is one row, a summary of n runs; None of runs
    batches          its runs came in, by id
    """

    group: Group
    device: str
    unit: str
    firmware: str
    client: str
    driver: str | None
    session: str
    date: str
    house: str
    spot: str | None
    spot_since: str | None
    place: Place
    kit: str | None
    attenuation_db: float | None
    readings: int
    readings_sd_db: float | None
    level_dbm: float | None
    channels: tuple[int, ...]
    n: int
    mean: float | None
    sd: float | None
    median: float | None
    bound: bool
    median_bound: bool
    limit: Limit | None
    outcomes: Mapping[str, int]
    run_ids: tuple[int, ...]
    visits: tuple[tuple[Visit, float], ...]
    settings: str | None = None
    statistic: str | None = None
    batches: tuple[str, ...] = ()

    @property
    def summary(self) -> str:
        """What one row says of n runs, "mean of 3"; "" where the runs are there."""
        return f"{self.statistic} of {self.n}" if self.statistic else ""

    @property
    def variance(self) -> float | None:
        """Of its mean, by how its own runs scatter [(Mbit/s)^2]; None where nobody knows that."""
        return None if self.sd is None else self.variance_of_mean(self.sd**2)

    def variance_of_mean(self, of_one: float) -> float:
        """Variance of its mean, or median, if that of one run is *of_one*. [(Mbit/s)^2]"""
        return of_one / self.n * (MEDIAN_VARIANCE if self.statistic == "median" else 1.0)

    @property
    def subject_id(self) -> str:
        """The device, with the settings it was tested under where there are any: what a result is called by."""
        return subject_id(self.device, self.settings)

    @property
    def did_not_finish(self) -> int:
        return self.outcomes.get("did not finish", 0)


def cells(
    runs: Iterable[Run],
    limits: Limits,
    *,
    series: Mapping[tuple[str, str | None], str],
    whereabouts: Iterable[Whereabouts] | None = None,
) -> list[Cell]:
    """All cells of a catalogue, in a stable order.

    series       that of each client setup and driver after bridge tests
    whereabouts  of all runs, where *runs* are some of them: visits are told from those in between
    """
    runs = list(runs)
    visits = visits_of(runs, whereabouts=whereabouts)
    grouped: dict[tuple[object, ...], list[Run]] = {}
    for run in runs:
        of_setup = series.get((run.client, run.driver), run.series)
        alike = _alike_at_spot(run) if run.spot is not None else (*_alike(run), place_of(run))
        grouped.setdefault((of_setup, alike), []).append(run)
    groups: dict[Group, Group] = {}  # equal groups are one object, so that comparing them is quick
    results: list[Cell] = []
    for members in grouped.values():
        group = group_of(members[0])
        of_setup = series.get((members[0].client, members[0].driver), group.series)
        group = group if group.series == of_setup else replace(group, series=of_setup)
        results.append(_cell(members, groups.setdefault(group, group), limits, visits))
    return sorted(results, key=_cell_order)


def group_of(run: Run) -> Group:
    """The group a run belongs to."""
    return Group(run.series, run.band, run.width_mhz, run.direction, run.protocol, run.flows, run.security, run.method)


def place_of(run: Run) -> Place:
    """Spot and epoch; without a spot the typed attenuation; without that the level rounded to 1 dB."""
    if run.spot is not None:
        return ("spot", run.house, run.spot, run.spot_since or "")
    if run.attenuation_db is not None:
        return ("loss", repr(run.attenuation_db))
    assert run.level_dbm is not None
    return ("level", str(rounded(run.level_dbm, 0)))


def _cell(members: Sequence[Run], group: Group, limits: Limits, visits: Mapping[int, Visit]) -> Cell:
    first = members[0]
    values = sorted([r.throughput_mbit_s for r in members if r.throughput_mbit_s is not None])
    caps = limits.limits_of(
        values,
        device=first.device,
        client=first.client,
        house=first.house,
        band=first.band,
        width_mhz=first.width_mhz,
        direction=first.direction,
    )
    finished = [r for r in members if r.throughput_mbit_s is not None]
    levels = [r.level_dbm for r in finished if r.level_dbm is not None]
    low, high = (len(values) - 1) // 2, len(values) // 2
    bounding = [c for c in caps if is_bound(c)]
    summed_up = first.of_runs is not None  # by itself: no other row is of its cell
    of_runs, sd = (first.of_runs or 0, first.spread_mbit_s) if summed_up else (len(values), _deviation(values))
    median = (values[low] + values[high]) / 2 if values and first.statistic != "mean" else None
    return Cell(
        group=group,
        device=first.device,
        unit=first.unit,
        firmware=first.firmware,
        client=first.client,
        driver=first.driver,
        session=first.session,
        date=first.date,
        house=first.house,
        spot=first.spot,
        spot_since=first.spot_since,
        place=place_of(first),
        kit=first.kit,
        attenuation_db=first.attenuation_db,
        readings=1 if first.attenuation_typed or not first.readings else first.readings,
        readings_sd_db=None if first.attenuation_typed else first.readings_sd_db,
        level_dbm=math.fsum(levels) / len(levels) if levels else None,
        channels=tuple(sorted({r.channel for r in finished if r.channel is not None})),
        n=of_runs if values else 0,
        mean=math.fsum(values) / len(values) if values else None,
        sd=sd,
        median=median,
        bound=bool(bounding),
        median_bound=bool(bounding) and median is not None and (is_bound(caps[low]) or is_bound(caps[high])),
        limit=bounding[0] if bounding else next((c for c in reversed(caps) if c), None),
        outcomes=_counted(tuple([outcome for r in members for outcome in [r.outcome] * (r.of_runs or 1)])),
        run_ids=tuple(sorted([r.run_id for r in members])),
        visits=_shares([visits[r.run_id] for r in finished]),
        settings=first.settings,
        statistic=first.statistic,
        batches=_named(frozenset([r.batch_id for r in members])),
    )


def _deviation(values: Sequence[float]) -> float | None:
    return standard_deviation(values) if len(values) > 1 else None


@cache
def _counted(outcomes: tuple[str, ...]) -> Mapping[str, int]:
    return Counter(outcomes)


@cache
def _named(batches: frozenset[str]) -> tuple[str, ...]:
    return tuple(sorted(batches))


def _shares(visited: Sequence[Visit]) -> tuple[tuple[Visit, float], ...]:
    if visited and visited.count(visited[0]) == len(visited):  # as nearly always
        return ((visited[0], 1.0),)
    return tuple((visit, count / len(visited)) for visit, count in Counter(visited).items())


def _cell_order(cell: Cell) -> tuple[object, ...]:
    return (
        cell.device,
        cell.group.sort_key,
        cell.unit,
        natural(cell.firmware),
        cell.client,
        natural(cell.driver or ""),
        cell.attenuation_db if cell.attenuation_db is not None else 999.0,
        -(cell.level_dbm or 0.0),
        cell.place,
        cell.session,
        cell.settings or "",
    )


# Session, client, device, unit, and how many places the two had been to that day; of runs without a clock time their cell.
Visit = tuple[str, str, str, str, object]


def visits_of(runs: Iterable[Run], *, whereabouts: Iterable[Run | Whereabouts] | None = None) -> Mapping[int, Visit]:
    """Number of a run -> its visit: runs of a client with one device unit in a session that follow each other at a place.

    Whatever firmware, settings or link were used. Runs at one instant are taken in the order they were entered in.
    Only runs with this device end a visit: measuring another device must not alter its intervals.
    Nobody knows what runs without a clock time followed: those of one cell count as one visit, which is no other cell's.
    *whereabouts* of these and further runs say what came in between; without them there are no further runs.
    """
    runs = list(runs)
    together: dict[tuple[str, str, str, str], list[Run | Whereabouts]] = defaultdict(list)
    for one in runs if whereabouts is None else whereabouts:
        if one.clocked:
            together[one.session, one.client, one.device, one.unit].append(one)
    visits: dict[int, Visit] = {
        run.run_id: (run.session, run.client, run.device, run.unit, (_alike(run), place_of(run)))
        for run in runs
        if not run.clocked
    }
    for key, members in together.items():
        before: object = None
        number = 0
        visit: Visit = (*key, 0)
        for run in sorted(members, key=attrgetter("at_utc", "run_id")):
            here = _where(run)
            if here != before:
                number += 1
                before, visit = here, (*key, number)
            visits[run.run_id] = visit
    return visits


def _where(run: Run | Whereabouts) -> tuple[object, ...]:
    """Where the client stands: a marked spot on whatever band, else the place by its loss or its level."""
    if run.spot is not None:
        return "spot", run.house, run.spot
    return run.band, run.attenuation_db, None if run.attenuation_db is not None else run.level_dbm


_BANDS = {"5": 0, "6": 1, "2.4": 2}


def usual(group: Group) -> tuple[int, str]:
    """Sort key of groups by how usual they are: 5 GHz before 6 and 2.4, downlink before uplink."""
    return _BANDS.get(group.band, len(_BANDS)), group.direction


def cell_figure(cell: Cell) -> str:
    """Id of a cell's figure: what it is about, never a row number or a value."""
    return "~".join(
        [
            joined_id("cell", cell.subject_id, cell.unit, cell.firmware, cell.client, cell.driver or ""),
            cell.group.slug,
            joined_id(*cell.place, cell.session),
        ]
    )
