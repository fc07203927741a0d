"""What there is to measure: the cells a device can be tested in, and how far its tests have come."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from sqlite_utils import Database

from catalog import queries
from catalog.errors import UnknownName
from catalog.figure_names import split_settings
from catalog.records import Device, Run

REPEATS = 3  # practice: the fewest that show a spread worth its name

State = Literal["done", "fewer repeats", "did not finish", "not possible", "missing"]
STATES: tuple[State, ...] = ("done", "fewer repeats", "did not finish", "not possible", "missing")


@dataclass(frozen=True, slots=True, order=True)
class PlannedCell:
    """One cell to measure; protocol, flows and security as in the tests it is to be compared with."""

    client: str
    driver: str | None
    band: str
    width_mhz: int
    direction: str
    spot: str
    house: str
    protocol: str | None
    flows: int | None
    security: str | None


@dataclass(frozen=True, slots=True)
class Covered:
    """A planned cell and what has come of it."""

    cell: PlannedCell
    state: State
    finished: int
    ended_otherwise: int


@dataclass(frozen=True)
class Coverage:
    """How far a device's tests have come.

    settings    those that the device was tested under; None for how the bench always tests
    like        the device whose cells are the plan
    days_left   until the unit goes back: unit -> days from today, negative once it has gone
    """

    device: str
    settings: str | None
    like: str
    cells: tuple[Covered, ...]
    days_left: dict[str, int]

    @property
    def counts(self) -> dict[State, int]:
        """State -> number of cells, every state named."""
        by_state = Counter(c.state for c in self.cells)
        return {state: by_state[state] for state in STATES}

    @property
    def share(self) -> float:
        """Share of planned cells that have a value or a reason; 1 for an empty plan."""
        open_cells = sum(1 for c in self.cells if c.state in ("missing", "fewer repeats"))
        return 1 - open_cells / len(self.cells) if self.cells else 1.0

    def to_json(self) -> dict[str, Any]:
        """The document of `coverage --json`."""
        return {
            "device": self.device,
            "settings": self.settings,
            "like": self.like,
            "planned": len(self.cells),
            "share": self.share,
            "counts": dict(self.counts),
            "days_left": self.days_left,
            "cells": [
                {
                    "client": c.cell.client,
                    "driver": c.cell.driver,
                    "band": c.cell.band,
                    "width_mhz": c.cell.width_mhz,
                    "direction": c.cell.direction,
                    "house": c.cell.house,
                    "spot": c.cell.spot,
                    "state": c.state,
                    "finished": c.finished,
                    "ended_otherwise": c.ended_otherwise,
                }
                for c in self.cells
            ],
        }


def planned_cells(db: Database, like: str, *, of: str | None = None) -> list[PlannedCell]:
    """Every cell in which *like* was measured at a spot, as far as device *of* has a radio for it.

    Clients that were withdrawn are left out; of several drivers the one of the last run is taken.
    Raises  UnknownName for a device that is not in the catalogue.
    """
    devices = {d.device_id: d for d in queries.devices(db)}
    gone = {w.id for w in queries.withdrawals(db) if w.what == "client"}
    wanted = _device(devices, of) if of is not None else None
    _device(devices, like)
    last_driver: dict[str, str | None] = {}
    runs = [r for r in queries.runs(db, devices=[like]) if _is_of(r, like, None) and r.client not in gone]
    for run in sorted(runs, key=lambda r: r.at_utc):
        last_driver[run.client] = run.driver
    cells = {_cell(r, last_driver[r.client]) for r in runs if wanted is None or _can(wanted, r)}
    return sorted(cells, key=_order)


def reference_device(db: Database, *, of: str | None = None) -> str:
    """The device to plan by where none is named: the reference of the house with most runs of device *of*.

    Without runs of it, of the house with most runs of its reference. Raises  UnknownName where no house has one.
    """
    houses = [(h.house_id, h.reference_device) for h in queries.houses(db) if h.reference_device]
    asked = [of or "", *(reference for _, reference in houses)]
    runs = Counter((r.house, r.device) for r in queries.runs(db, devices=asked))
    candidates = [(-runs[house, of or ""], -runs[house, reference], reference) for house, reference in houses]
    if not candidates:
        raise UnknownName("No house has a reference device to plan by. Name a device with --like.")
    return min(candidates)[2]


def coverage(db: Database, device: str, *, like: str | None = None, today: date) -> Coverage:
    """How many of the cells that *like* (else the reference device) was measured in *device* has been measured in.

    device  its id, or "device+settings": then its runs under these, planned like those that name none

    Once *device* has runs, only the houses it was tested in count.
    Raises  UnknownName for a device that is not in the catalogue.
    """
    devices = {d.device_id: d for d in queries.devices(db)}
    known = queries.named_settings(db)
    device, named = split_settings(device, known)
    settings = known[named].settings_id if named else None
    subject = _device(devices, device)
    like = like or reference_device(db, of=device)
    by_cell: dict[tuple[object, ...], list[Run]] = {}
    for run in queries.runs(db, devices=[device]):
        if _is_of(run, device, settings):
            by_cell.setdefault(_link(_cell(run, run.driver)), []).append(run)
    houses = {run.house for runs in by_cell.values() for run in runs}
    planned = [c for c in planned_cells(db, like, of=device) if not houses or c.house in houses]
    cells = tuple(_covered(cell, by_cell.get(_link(cell), ())) for cell in planned)
    days = {u.unit_id: (date.fromisoformat(u.returned) - today).days for u in subject.units if u.returned}
    return Coverage(device, settings, like, cells, days)


def _is_of(run: Run, device: str, settings: str | None) -> bool:
    """Whether a run is one of a device under settings, at a spot."""
    return run.device == device and run.settings == settings and run.spot is not None


def _device(devices: dict[str, Device], name: str) -> Device:
    if name not in devices:
        from rapidfuzz import process

        near = [match for match, _, _ in process.extract(name, list(devices), limit=3, score_cutoff=50)]
        raise UnknownName(f"There is no device {name!r}. {'Nearest: ' + ', '.join(near) + '.' if near else ''}".strip())
    return devices[name]


def _can(device: Device, run: Run) -> bool:
    """Whether the device has a radio for the run's bands and width; one without registered radios may have any."""
    if not device.radios:
        return True
    widest = {r.band: r.max_width_mhz for r in device.radios}
    return all(band in widest for band in run.band.split("+")) and run.width_mhz <= max(
        widest[band] for band in run.band.split("+")
    )


def _cell(run: Run, driver: str | None) -> PlannedCell:
    assert run.spot is not None
    return PlannedCell(
        run.client,
        driver,
        run.band,
        run.width_mhz,
        run.direction,
        run.spot,
        run.house,
        run.protocol,
        run.flows,
        run.security,
    )


def _link(cell: PlannedCell) -> tuple[object, ...]:
    """A cell without its driver: another driver's run is a value of the same plan."""
    return (
        cell.client,
        cell.band,
        cell.width_mhz,
        cell.direction,
        cell.spot,
        cell.house,
        cell.protocol,
        cell.flows,
        cell.security,
    )


def _order(cell: PlannedCell) -> tuple[object, ...]:
    return tuple("" if part is None else part if isinstance(part, str) else f"{part:09}" for part in _link(cell))


def _covered(cell: PlannedCell, runs: Iterable[Run]) -> Covered:
    outcomes = [
        outcome
        for r in runs
        if r.outcome not in ("client fault", "aborted")
        for outcome in [r.outcome] * (r.of_runs or 1)
    ]
    finished = outcomes.count("finished")
    return Covered(cell, _state(outcomes, finished), finished, len(outcomes) - finished)


def _state(outcomes: Sequence[str], finished: int) -> State:
    if "not possible" in outcomes:
        return "not possible"
    if finished >= REPEATS:
        return "done"
    if "did not finish" in outcomes:
        return "did not finish"
    return "fewer repeats" if finished else "missing"
