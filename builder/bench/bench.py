"""A whole catalogue's results in memory: everything comparisons look at, read once."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Protocol

from sqlite_utils import Database

from builder.bench.bounds import Limits, limits
from builder.bench.bridging import bridge_tests, series_of_setups
from builder.bench.cells import Cell, Group, cells, natural
from builder.bench.decisions import Decision, decisions
from builder.bench.reference import learnt, relative_slopes
from builder.bench.scatter import Scatter
from builder.bench.settings import AS_ALWAYS, in_words
from builder.bench.tracks import Track, track
from builder.bench.weighted import Match
from builder.observed import asked_once
from catalog import queries
from catalog.errors import UnknownName
from catalog.figure_names import SETTINGS_SIGN, parts_of_subject, split_settings, subject_id
from catalog.method import Constants
from catalog.records import BridgeValue, Ceiling, Client, Device, Epoch, Firmware, House, Run, Settings


class CellsOfRuns(Protocol):
    """What `cells` does."""

    def __call__(
        self, runs: Iterable[Run], limits: Limits, *, series: Mapping[tuple[str, str | None], str]
    ) -> list[Cell]: ...


@dataclass(frozen=True)
class Bench:
    """Devices, clients, houses and all cells of one (public) copy of a catalogue."""

    devices: Mapping[str, Device]
    clients: Mapping[str, Client]
    houses: Mapping[str, House]
    limits: Limits
    scatter: Scatter
    cells: Sequence[Cell]  # tested as always
    cells_of: Mapping[str, Sequence[Cell]]  # by device, or by device and settings (`figure_names.subject_id`)
    decisions: Mapping[str, Decision] = field(default_factory=dict)  # on odd sessions, by session
    cells_under: Sequence[Cell] = ()  # tested under settings
    settings: Mapping[str, Settings] = field(default_factory=dict)  # by every id they have
    epochs: Mapping[tuple[str, str, str], Sequence[Epoch]] = field(default_factory=dict)  # by house, spot and band

    @property
    def constants(self) -> Constants:
        """The constants in force."""
        return self.scatter.constants

    @cached_property
    def cells_in(self) -> Mapping[Group, Mapping[str, Sequence[Cell]]]:
        """Group -> device -> its cells there, both in the order of the cells."""
        results: dict[Group, dict[str, list[Cell]]] = {}
        for cell in self.cells:
            results.setdefault(cell.group, {}).setdefault(cell.subject_id, []).append(cell)
        return results

    def cells_in_group(self, group: Group) -> list[Cell]:
        """The cells of all devices in a group, device by device."""
        return [cell for of_device in self.cells_in[group].values() for cell in of_device]

    @cached_property
    def session_days(self) -> Mapping[str, str]:
        """Session -> its day, of those with cells."""
        return {cell.session: cell.date for cell in reversed(self.cells)}

    def cells_with(self, device: str, group: Group | None = None) -> Sequence[Cell]:
        """A device's cells, of one group or all; under settings where *device* is the id of such a subject."""
        return self.cells_of.get(device, ()) if group is None else self.grouped.get(device, {}).get(group, ())

    @cached_property
    def grouped(self) -> Mapping[str, Mapping[Group, Sequence[Cell]]]:
        """Device -> group -> its cells there, in the order of the cells; also by the ids of subjects under settings."""
        results: dict[str, dict[Group, list[Cell]]] = {}
        for cell in (*self.cells, *self.cells_under):
            results.setdefault(cell.subject_id, {}).setdefault(cell.group, []).append(cell)
        return results

    @cached_property
    def tested(self) -> Mapping[str, Set[tuple[str, str]]]:
        """Device, or device and settings -> (unit, firmware) of its cells."""
        return {subject: frozenset((c.unit, c.firmware) for c in cells) for subject, cells in self.cells_of.items()}

    @cached_property
    def settings_of(self) -> Mapping[str, Sequence[str]]:
        """Device -> the settings it was tested under with one client, in the order in which these were entered."""
        order = {one.settings_id: number for number, one in enumerate(self.settings.values())}
        tested: dict[str, set[str]] = defaultdict(set)
        for cell in self.cells_under:
            tested[cell.device].add(cell.settings or "")
        return {device: sorted(settings, key=lambda one: order[one]) for device, settings in tested.items()}

    def every_cell(self, device: str) -> list[Cell]:
        """A device's cells whatever they were tested under, those without settings first."""
        return [cell for subject in self.subject_ids(device) for cell in self.cells_of.get(subject, ())]

    def subject_ids(self, device: str) -> list[str]:
        """The device, and the device with each of the settings it was tested under."""
        return [device, *(subject_id(device, one) for one in self.settings_of.get(device, ()))]

    @asked_once
    def line(self, subject: Subject, group: Group, match: Match) -> Track | None:
        """The subject's joined line in a group, joined once; None where none of its cells has a place on the axis."""
        return track(cells_of_subject(self, subject, group), match=match)

    @asked_once
    def relative_slope(self, group: Group) -> float | None:
        """How steeply values of a group fall, by its reference devices: the median of slope / value. [1 per dB]"""
        references = sorted({house.reference_device for house in self.houses.values() if house.reference_device})
        slopes = relative_slopes(
            self.houses, [cell for device in references for cell in self.cells_with(device, group)]
        )
        return statistics.median(slopes) if slopes else None

    @cached_property
    def subjects(self) -> Mapping[str, Subject]:
        """Device -> the subject that its name alone stands for (`subject`)."""
        return {device: _subject(self, device, None, "") for device in self.devices}


@dataclass(frozen=True, slots=True)
class Subject:
    """One unit of a device with one firmware, under settings or none: what a comparison has on either side.

    note      what was chosen where the caller left it open; "" where nothing was
    settings  "" for how the bench always tests
    under     the same in words, as they stand in a sentence
    """

    device: str
    unit: str
    firmware: str
    maker: str
    model: str
    note: str = ""
    settings: str = ""
    under: str = ""

    @property
    def id(self) -> str:
        """The device, with its settings where it has any: what its results are called by."""
        return subject_id(self.device, self.settings)


def load_bench(db: Database, *, runs: Iterable[Run] | None = None, cells_of_runs: CellsOfRuns = cells) -> Bench:
    """Read a copy of a catalogue (visibility.py) for comparing; *runs* are those of the copy, where a caller has them.

    cells_of_runs  what `cells` gives, where a caller has most of them
    """
    return bench_of(
        devices=queries.devices(db),
        clients=queries.clients(db),
        houses=queries.houses(db),
        ceilings=queries.ceilings(db),
        runs=queries.runs(db) if runs is None else runs,
        bridges=queries.bridge_values(db),
        constants=queries.method_in_force(db),
        decided=decisions(queries.sessions(db), queries.corrections(db)),
        settings=queries.named_settings(db),
        epochs=queries.epochs(db),
        cells_of_runs=cells_of_runs,
    )


def bench_of(
    *,
    devices: Sequence[Device],
    clients: Sequence[Client],
    houses: Sequence[House],
    ceilings: Sequence[Ceiling],
    runs: Iterable[Run],
    constants: Constants,
    bridges: Sequence[BridgeValue] = (),
    decided: Mapping[str, Decision] | None = None,
    settings: Mapping[str, Settings] | None = None,
    epochs: Sequence[Epoch] = (),
    cells_of_runs: CellsOfRuns = cells,
) -> Bench:
    """A bench from its records. Setups that a bridge test proved equal go on in one series.

    What was tested under settings stands apart: nothing is learnt from it, and only who names the settings meets it.
    """
    caps = limits(ceilings, devices, houses)
    result = cells_of_runs(runs, caps, series=series_of_setups(bridge_tests(bridges, houses, caps), clients))
    cells_of: dict[str, list[Cell]] = defaultdict(list)
    for cell in result:
        cells_of[cell.subject_id].append(cell)
    as_always = [cell for cell in result if cell.settings is None]
    at_spots: dict[tuple[str, str, str], list[Epoch]] = defaultdict(list)
    for epoch in epochs:
        at_spots[epoch.house, epoch.spot, epoch.band].append(epoch)
    return Bench(
        devices={d.device_id: d for d in devices},
        clients={c.client_id: c for c in clients},
        houses={h.house_id: h for h in houses},
        limits=caps,
        scatter=learnt(houses, as_always, constants),
        cells=as_always,
        cells_of=dict(cells_of),
        decisions=decided or {},
        cells_under=[cell for cell in result if cell.settings is not None],
        settings=settings or {},
        epochs=dict(at_spots),
    )


def under_settings(bench: Bench, text: str) -> Bench:
    """The bench as if it had tested under those settings alone: what a ranking of them looks at.

    Raises  UnknownName for settings nobody entered.
    """
    settings = settings_named(bench.settings, text).settings_id
    return replace(bench, cells=[cell for cell in bench.cells_under if cell.settings == settings])


def settings_named(settings: Mapping[str, Settings], text: str) -> Settings:
    """Those of *settings*, by every id they have, that *text* names.

    Raises  UnknownName for settings nobody entered.
    """
    if text not in settings:
        raise unknown_name(f"There are no settings {text!r}", text, settings)
    return settings[text]


def subject_named(
    bench: Bench,
    text: str,
    *,
    unit: str | None = None,
    tests: Iterable[tuple[str, str]] | None = None,
    what: str = "results",
) -> Subject:
    """The subject that "device", "device@firmware", "device+settings" or "device@firmware+settings" names.

    Without a firmware the latest public one that has results; without a unit the first that has results.

    tests   (unit, firmware) of what counts as a result of the device; left out: its cells
    what    what a note calls them
    Raises  UnknownName with the nearest names for a device, firmware, unit or settings nobody entered.
    """
    plain, settings = split_settings(text, bench.settings)
    device_id, _, firmware = plain.partition("@")
    if device_id not in bench.devices:
        device, sign, behind = device_id.partition(SETTINGS_SIGN)
        if sign and device in bench.devices and behind in bench.settings:
            raise UnknownName(f"Settings stand last: {device}@{firmware}{SETTINGS_SIGN}{behind}.")
        if sign and device in bench.devices:
            raise unknown_name(f"There are no settings {behind!r}", behind, bench.settings)
        raise unknown_name(f"There is no device {device_id!r}", device_id, bench.devices)
    if unit is None and not firmware and tests is None and not settings:
        return bench.subjects[device_id]
    first = bench.settings[settings].settings_id if settings else ""
    return _subject(bench, device_id, unit, firmware, tests, what, settings=first)


def subject_called(bench: Bench, names: Sequence[str]) -> Subject:
    """The subject of the names in a figure's id: device with or without settings, unit, firmware.

    Raises  UnknownName as `subject_named` does.
    """
    identifier, unit, firmware = names
    device, settings = parts_of_subject(identifier)
    return subject_named(bench, subject_id(f"{device}@{firmware}" if firmware else device, settings), unit=unit)


def _subject(
    bench: Bench,
    device_id: str,
    unit: str | None,
    firmware: str,
    tests: Iterable[tuple[str, str]] | None = None,
    what: str = "results",
    *,
    settings: str = "",
) -> Subject:
    device = bench.devices[device_id]
    cells = bench.tested.get(subject_id(device_id, settings), frozenset())
    tested = cells if tests is None else set(tests)
    notes: list[str] = []
    units = [u.unit_id for u in device.units]
    if unit is not None and unit not in units:
        raise unknown_name(f"{device.model} has no unit {unit!r}", unit, units)
    if firmware:
        versions = [f.version for f in device.firmware]
        if firmware not in versions:
            raise unknown_name(f"{device.model} has no firmware {firmware!r}", firmware, versions)
    else:
        # Where nothing of the kind was done, as if cells had been asked for.
        firmware = _latest(device, tested, unit) or _latest(device, cells, unit) or ""
        if firmware and not _is_public(device, firmware):
            notes.append(f"Only firmware that is not public has {what}; {firmware} was taken.")
    if unit is None:
        with_results = sorted({u for u, version in tested if version == firmware}, key=natural)
        others = sorted({u for u, version in cells if version == firmware}, key=natural)
        unit = next(iter([*with_results, *others]), units[0])
        if len(with_results) > 1:
            notes.append(f"Several units have {what} ({', '.join(with_results)}); unit {unit} was taken.")
    under = in_words(bench.settings[settings]) if settings else ""
    return Subject(device_id, unit, firmware, device.maker, device.model, " ".join(notes), settings, under)


def current_firmware(bench: Bench, identifier: str) -> str | None:
    """The latest public firmware that has results; if none is public, the latest that has; None without results.

    identifier  of a device, or of a subject under settings: then of the results under these
    """
    tested = bench.tested.get(identifier, frozenset())
    return _latest(bench.devices[parts_of_subject(identifier)[0]], tested, None)


def _latest(device: Device, tested: Set[tuple[str, str]], unit: str | None) -> str | None:
    """The latest public firmware with which the unit, or any, was tested; the latest at all if none is public."""
    versions = {firmware for u, firmware in tested if unit in (None, u)}
    candidates = [f for f in firmware_by_date(device) if f.version in versions]
    public = [f for f in candidates if f.public]
    return (public or candidates)[-1].version if candidates else None


def firmware_by_date(device: Device) -> list[Firmware]:
    """Oldest first. One without a release date comes after the dated ones with a smaller version."""
    order = sorted((f for f in device.firmware if f.released), key=lambda f: (f.released or "", natural(f.version)))
    for undated in sorted((f for f in device.firmware if not f.released), key=lambda f: natural(f.version)):
        smaller = [i for i, f in enumerate(order) if natural(f.version) < natural(undated.version)]
        order.insert(smaller[-1] + 1 if smaller else 0, undated)
    return order


def cells_of_subject(bench: Bench, subject: Subject, group: Group | None = None) -> list[Cell]:
    """The subject's cells, of one group or all."""
    return [c for c in bench.cells_with(subject.id, group) if c.unit == subject.unit and c.firmware == subject.firmware]


def labels(a: Subject, b: Subject) -> tuple[str, str]:
    """Short names that distinguish two subjects in a sentence, each with the settings it names."""
    if not a.settings and not b.settings:
        return _names(a, b)
    alone = same_but_settings(a, b)
    names = (a.model, b.model) if alone else _names(a, b)
    rest = f" {AS_ALWAYS}" if alone else ""
    one, other = (
        f"{name} with {side.under}" if side.settings else f"{name}{rest}"
        for name, side in zip(names, (a, b), strict=True)
    )
    return one, other


def same_but_settings(a: Subject, b: Subject) -> bool:
    """Whether two subjects are one unit with one firmware, under other settings."""
    return (a.device, a.unit, a.firmware) == (b.device, b.unit, b.firmware) and a.settings != b.settings


def _names(a: Subject, b: Subject) -> tuple[str, str]:
    if a.device != b.device:
        return (a.model, b.model) if a.model != b.model else (f"{a.maker} {a.model}", f"{b.maker} {b.model}")
    if a.firmware != b.firmware:
        return f"{a.model} ({a.firmware})", f"{b.model} ({b.firmware})"
    return f"{a.model} unit {a.unit}", f"{b.model} unit {b.unit}"


def _is_public(device: Device, version: str) -> bool:
    return any(f.version == version and f.public for f in device.firmware)


def unknown_name(sentence: str, typed: str, known: Sequence[str] | Mapping[str, object]) -> UnknownName:
    """The error for a name nobody entered, with up to three that are near it."""
    from rapidfuzz import process

    near = [match for match, _, _ in process.extract(typed, list(known), limit=3, score_cutoff=50)]
    nearest = f"Nearest: {', '.join(near)}." if near else "Nothing has a name like it."
    return UnknownName(f"{sentence}. {nearest}")
