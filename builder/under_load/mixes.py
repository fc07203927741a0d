"""Runs with several clients at once, judged role by role (method.md, section 6)."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from sqlite_utils import Database

from builder import wording
from builder.bench.bench import Bench, Subject
from builder.bench.bridging import load_bridge_tests, series_of_setups
from builder.metrics.fairness import jain_index
from builder.under_load.arrangements import Arrangement, Place, Recipe, Seat, sections
from builder.under_load.collapses import Mix, mixes
from builder.under_load.noted import WITHOUT_LOG
from builder.under_load.role_names import count_words, role_name
from builder.under_load.roles import Digest, RoleResult, role_result
from builder.under_load.tested import tested_subject
from catalog import queries
from catalog.figure_names import subject_id
from catalog.records import Client, Role, Settings, Station, Workload

# Endings that are not the device's doing: such a run counts neither for nor against it.
EXCLUSIONS = {
    "client fault": "a client fault ended the run, so it does not count",
    "aborted": "the run was aborted, so it does not count",
    "not possible": "the run was not possible",
}

Played = tuple[Station | None, Digest | None]
NOBODY: Played = (None, None)


@dataclass(frozen=True, slots=True)
class Fairness:
    """How evenly roles with equal offered load were served; index None: none was served."""

    roles: tuple[str, ...]
    kind: str
    index: float | None


@dataclass(frozen=True, slots=True)
class MixResult:
    """One run.

    arrangement which machines played what, and where
    entered     where its first row stands: batch, file and row
    incomplete  a role was not tested although the run counts: nobody played it, or its log is missing, be it that
                figures were noted then
    common_s    time that all its logs cover; None where no log says [s]
    """

    mix: Mix
    arrangement: Arrangement
    entered: tuple[str, str, int]
    roles: tuple[RoleResult, ...]
    fairness: tuple[Fairness, ...]
    common_s: float | None

    @property
    def excluded(self) -> str:
        """Why the run counts neither way; "" where it does."""
        return EXCLUSIONS.get(self.mix.outcome, "")

    @property
    def incomplete(self) -> bool:
        return not self.excluded and any(
            r.noted is not None or (r.verdict == "not-tested" and not r.without_target) for r in self.roles
        )

    @property
    def seats(self) -> tuple[int, ...]:
        """How many roles each machine played, most first. A machine is one client: it may play several roles."""
        played = Counter(r.station.client for r in self.roles if r.station is not None)
        return tuple(sorted(played.values(), reverse=True))

    @property
    def settings(self) -> str:
        """What all its machines were set to; "" where that is what the bench always has, or not one for all."""
        named = {r.station.settings or "" for r in self.roles if r.station is not None}
        return named.pop() if len(named) == 1 else ""

    @property
    def met(self) -> int:
        """Roles that were met."""
        return sum(r.verdict == "met" for r in self.roles)

    @property
    def sentence(self) -> str:
        """The run in one sentence."""
        if self.excluded:
            return wording.capital(self.excluded) + "."
        missed = [f"{role_name(r.role)} ({count_words(r)})" for r in self.roles if r.verdict == "not-met"]
        short = f", not {wording.listing(missed)}" if missed else ""
        parts = [f"{self.met} of {wording.count(len(self.roles), 'role')} met{short}"]
        if self.mix.outcome == "did not finish":
            parts.insert(0, f"broke off {self.mix.ended}".rstrip())
        missing = [r.role.role_id for r in self.roles if r.verdict == "not-tested" and not r.without_target]
        if missing:
            parts.append(
                f"incomplete, for {wording.listing(missing)} {'was' if len(missing) == 1 else 'were'} not tested"
            )
        noted = [role_name(r.role) for r in self.roles if r.noted is not None]
        if noted:
            parts.append(f"{wording.listing(noted)} {WITHOUT_LOG}")
        return wording.capital("; ".join(parts)) + "."


def load_mixes(db: Database, *, judged: Callable[..., list[MixResult]] | None = None) -> list[MixResult]:
    """Every run of a copy of a catalogue, judged, by date and id.

    judged  gives what `judged_mixes` gives for the same arguments, which hold nothing that it does not rest on
    """
    clients, stations = queries.clients(db), queries.stations(db)
    return (judged or judged_mixes)(
        stations,
        queries.workloads(db),
        {owner: digest for owner, digest in queries.digests(db).items() if owner[0] == "station"},
        clients,
        series=series_of_setups(load_bridge_tests(db), clients),
        settings=queries.named_settings(db),
    )


def judged_mixes(
    stations: Sequence[Station],
    workloads: Sequence[Workload],
    digests: Mapping[tuple[str, int], Digest],
    clients: Sequence[Client],
    *,
    series: Mapping[tuple[str, str | None], str],
    settings: Mapping[str, Settings] = MappingProxyType({}),
) -> list[MixResult]:
    """Judge every run.

    series    that of each client setup and driver after bridge tests (bench/bridging.py)
    settings  by every id they have
    """
    plans = {(w.workload_id, w.version): w for w in workloads}
    setups = {c.client_id: c for c in clients}
    members: dict[str, list[Station]] = defaultdict(list)
    for station in stations:
        members[station.mix].append(station)
    results: list[MixResult] = []
    for mix in mixes(stations):
        plan = plans[mix.workload, mix.version]
        played: list[Played] = [(s, digests.get(("station", s.station_id))) for s in members[mix.mix]]
        roles = [
            role_result(
                mix.mix,
                role,
                station,
                digest,
                series=_series(station, setups, series),
                excluded=EXCLUSIONS.get(mix.outcome) or EXCLUSIONS.get(station.outcome if station else "", ""),
                empty=empty,
            )
            for role in plan.roles
            for empty, (station, digest) in _in_seats(plan, role, played)
        ]
        common = next((d["common_s"] for _, d in played if d and "common_s" in d), None)
        present = [station for station, _ in played if station is not None]
        entered = min((s.batch_id, s.source_file, s.source_row or 0) for s in present)
        arrangement = _arrangement(plan, present, setups, series, settings)
        results.append(MixResult(mix, arrangement, entered, tuple(roles), _fairness(roles), common))
    return results


def _in_seats(plan: Workload, role: Role, played: Sequence[Played]) -> Iterator[tuple[int, Played]]:
    """Those who played a role, behind 0; then each further seat of it that nobody sat in, behind its number."""
    members = [one for one in played if one[0] is not None and one[0].role == role.role_id]
    yield from ((0, one) for one in members)
    seats = sum(role.role_id in seat for seat in plan.seats) or 1
    yield from ((empty, NOBODY) for empty in range(1, seats - len(members) + 1))


def mix_subject(bench: Bench, results: Sequence[MixResult], text: str, *, unit: str | None = None) -> Subject:
    """The subject that "device" or "device@firmware" names, by its runs with several clients.

    Without a firmware the latest public one that has such runs; without a unit the first that has any.
    Raises  UnknownName as `subject` does.
    """
    tests = [(subject_id(r.mix.device, r.settings), r.mix.unit, r.mix.firmware) for r in results]
    return tested_subject(bench, text, tests, unit=unit, what="runs with several clients at once")


def mixes_of(results: Sequence[MixResult], subject: Subject, *, workload: str | None = None) -> list[MixResult]:
    """The subject's runs, of one workload or all, by date and id."""
    return [
        r
        for r in results
        if (r.mix.device, r.mix.unit, r.mix.firmware) == (subject.device, subject.unit, subject.firmware)
        and r.settings == subject.settings
        and workload in (None, r.mix.workload)
    ]


def alike_runs(mixes: Iterable[MixResult]) -> list[list[MixResult]]:
    """Runs in groups whose arrangements are alike (arrangements.sections). mixes: in the order of entry."""
    by_id = {mix.mix.mix: mix for mix in mixes}
    return [[by_id[mix] for mix in group] for group in sections({m: r.arrangement for m, r in by_id.items()})]


def worst_of(results: Iterable[MixResult]) -> MixResult | None:
    """The run that went worst: one that broke off, then by the share of tested roles met, then by the lowest share.

    Of equals the latest. Runs that count neither way, or have no figures, are left out; None where none is left.
    """
    judged = [r for r in results if not r.excluded and any(role.planned for role in r.roles)]
    latest_first = sorted(judged, key=lambda r: (r.mix.date, r.mix.mix), reverse=True)
    return min(latest_first, key=_how_bad, default=None)


def _how_bad(result: MixResult) -> tuple[bool, Fraction, float]:
    tested = sum(role.verdict != "not-tested" for role in result.roles)
    shares = [role.on_time_share for role in result.roles if role.on_time_share is not None]
    met = Fraction(result.met, tested) if tested else Fraction(1)
    return result.mix.outcome != "did not finish", met, min(shares, default=1.0)


def _arrangement(
    plan: Workload,
    stations: Sequence[Station],
    setups: Mapping[str, Client],
    series: Mapping[tuple[str, str | None], str],
    settings: Mapping[str, Settings],
) -> Arrangement:
    """The machines of one run, in the order of their seats in the workload."""
    order: dict[str, int] = {}
    for role in [*(role for seat in plan.seats for role in seat), *(role.role_id for role in plan.roles)]:
        order.setdefault(role, len(order))
    played: dict[str, list[Station]] = defaultdict(list)
    for station in sorted(stations, key=lambda s: order[s.role]):
        played[station.client].append(station)
    by_client = dict(sorted(played.items(), key=lambda one: _seat_number(plan, {s.role for s in one[1]})))
    recipes = {role.role_id: recipe_of(role) for role in plan.roles}
    seats = []
    for client_id, members in by_client.items():
        first, client = members[0], setups[client_id]
        seats.append(
            Seat(
                client=client_id,
                name=client.name,
                series=_series(first, setups, series),
                build=(client.amendment, *_radio(client, first.band)),
                band=first.band,
                width_mhz=first.width_mhz,
                settings=_conditions(first, settings),
                place=Place(_spot(first), first.attenuation_db),
                recipes=tuple(sorted(recipes[station.role] for station in members)),
                roles=tuple(station.role for station in members),
            )
        )
    return Arrangement(tuple(seats), max(station.planned_s for station in stations))


def recipe_of(role: Role) -> Recipe:
    """What a role asks for, whatever its name."""
    return role.kind, tuple(sorted((key, repr(value)) for key, value in role.recipe.items()))


def _seat_number(plan: Workload, roles: set[str]) -> int:
    """The first seat with just these roles, else the first that has them among others, else a last one."""
    whole = (number for number, seat in enumerate(plan.seats) if roles == set(seat))
    part = (number for number, seat in enumerate(plan.seats) if roles <= set(seat))
    return next(whole, next(part, len(plan.seats)))


def _conditions(station: Station, settings: Mapping[str, Settings]) -> tuple[tuple[str, str], ...]:
    """What a machine was set to otherwise than always: key and value, in words."""
    if station.settings is None:
        return ()
    return tuple((name.replace("_", " "), str(value)) for name, value in settings[station.settings].conditions)


def _radio(client: Client, band: str) -> tuple[str, ...]:
    """Streams and largest width in a band; with several links, in each of their bands."""
    return tuple(f"{r.band}: {r.streams} x {r.max_width_mhz}" for r in client.radios if r.band in band.split("+"))


def _spot(station: Station) -> tuple[str, str, str] | None:
    return None if station.spot is None else (station.house, station.spot, station.spot_since or "")


def _fairness(roles: Sequence[RoleResult]) -> tuple[Fairness, ...]:
    """Jain's index over roles with the same offered load: equal kind, recipe, plan and time."""
    alike: dict[tuple[object, ...], list[RoleResult]] = defaultdict(list)
    for one in roles:
        if one.station is not None and one.finished is not None:
            offered = tuple(sorted((key, repr(value)) for key, value in one.role.recipe.items()))
            alike[one.role.kind, offered, one.station.planned_requests, one.station.planned_s].append(one)
    return tuple(
        Fairness(
            tuple(m.role.role_id for m in members),
            members[0].role.kind,
            jain_index([float(m.finished or 0) for m in members]),
        )
        for members in alike.values()
        if len(members) > 1
    )


def _series(station: Station | None, setups: Mapping[str, Client], series: Mapping[tuple[str, str | None], str]) -> str:
    """The series a station's setup belongs to; "" where nobody played."""
    if station is None:
        return ""
    client = setups[station.client]
    declared = next((d.series for d in client.drivers if d.version == station.driver), client.series)
    return series.get((station.client, station.driver), declared)
