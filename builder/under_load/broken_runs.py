"""Every run that broke off, whatever kind it was, and what became of the firmware it broke off on."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from builder.bench.bench import Bench, firmware_by_date
from builder.under_load.collapses import Count, Mix, count, count_long, count_single
from builder.under_load.longruns import LongRunResult
from catalog.records import LongRun, Run

Kind = Literal["several", "one", "hours"]
State = Literal["current", "older", "newer"]

NOT_THE_DEVICE = ("client fault", "aborted")


@dataclass(frozen=True, slots=True)
class BrokenRun:
    """A run that did not run to its end, or several of them in one cell.

    kind        with several clients, with one, or over hours
    survived_s  None where it was not recorded; planned_s None where the run had no plan [s]
    client      the setup; with several clients "" and *workload* says what they did
    times       how many runs of the cell ended this way [1]
    settings    those that it was tested under; "" as always, and with several clients, whose machines may differ
    """

    device: str
    unit: str
    firmware: str
    date: str
    kind: Kind
    outcome: str
    survived_s: float | None
    planned_s: float | None
    ended_by: str | None
    client: str = ""
    place: str = ""
    link: tuple[str, int, str | None] | None = None
    workload: tuple[str, int] | None = None
    times: int = 1
    settings: str = ""


def broken_runs(runs: Iterable[Run], mixes: Iterable[Mix], longruns: Iterable[LongRunResult]) -> list[BrokenRun]:
    """Runs that did not finish, or that a client fault or a person ended, newest first."""
    ended = ("did not finish", *NOT_THE_DEVICE)
    broken = [
        BrokenRun(
            m.device,
            m.unit,
            m.firmware,
            m.date,
            "several",
            m.outcome,
            m.survived_s,
            m.planned_s,
            m.ended_by,
            workload=(m.workload, m.version),
        )
        for m in mixes
        if m.outcome in ended
    ]
    broken += _in_cells(r for r in runs if r.outcome in ended)
    for long in longruns:
        run = long.run
        if run.outcome in ended:
            lived = long.duration_s
            broken.append(
                BrokenRun(
                    run.device,
                    run.unit,
                    run.firmware,
                    run.date,
                    "hours",
                    run.outcome,
                    lived,
                    None,
                    None,
                    client=run.client,
                    place=run.spot or "",
                    link=(run.band, run.width_mhz, run.direction),
                    settings=run.settings or "",
                )
            )
    return sorted(broken, key=lambda b: (b.date, b.device, b.kind, b.client, b.place), reverse=True)


def _in_cells(runs: Iterable[Run]) -> list[BrokenRun]:
    """Runs with one client, repeats of one cell together. Only their planned seconds are recorded."""
    cells: dict[BrokenRun, list[Run]] = defaultdict(list)
    for r in runs:
        cell = BrokenRun(
            r.device,
            r.unit,
            r.firmware,
            r.date,
            "one",
            r.outcome,
            None,
            None,
            None,
            client=r.client,
            place=r.spot or "",
            link=(r.band, r.width_mhz, r.direction),
            settings=r.settings or "",
        )
        cells[cell].append(r)
    return [
        replace(
            cell,
            times=len(members),
            planned_s=max((r.seconds for r in members if r.seconds is not None), default=None),
        )
        for cell, members in cells.items()
    ]


def latest_tested(bench: Bench, device: str, mixes: Iterable[Mix], longruns: Iterable[LongRun]) -> str | None:
    """The latest public firmware that was tested in any way; if none is public, the latest; None without tests."""
    tested = {firmware for subject in bench.subject_ids(device) for _, firmware in bench.tested.get(subject, ())}
    tested |= {m.firmware for m in mixes if m.device == device}
    tested |= {run.firmware for run in longruns if run.device == device}
    order = [f for f in firmware_by_date(bench.devices[device]) if f.version in tested]
    chosen = [f for f in order if f.public] or order
    return chosen[-1].version if chosen else None


def firmware_state(bench: Bench, device: str, firmware: str, *, current: str | None) -> State:
    """Whether a firmware of a device is the one that is *current*, an older or a newer (not public) one."""
    if current is None or firmware == current:
        return "current"
    order = [f.version for f in firmware_by_date(bench.devices[device])]
    return "older" if order.index(firmware) < order.index(current) else "newer"


def same_with(
    bench: Bench, broken: BrokenRun, firmware: str, mixes: Iterable[Mix], longruns: Iterable[LongRun]
) -> Count:
    """How runs of the same kind ended with another firmware."""
    if broken.kind == "several":
        return count(
            m
            for m in mixes
            if (m.device, m.firmware) == (broken.device, firmware) and (m.workload, m.version) == broken.workload
        )
    if broken.kind == "hours":
        return count_long(run for run in longruns if (run.device, run.firmware) == (broken.device, firmware))
    return count_single(c for c in bench.cells_of.get(broken.device, ()) if c.firmware == firmware)
