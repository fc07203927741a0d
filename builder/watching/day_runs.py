"""The runs of the day as the senses ask about them: where each stood, in which visit, and what a sentence calls it."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Group
from builder.watching.states import Measured, Place
from catalog.reading.format import FINISHED, PLANNED


@dataclass(frozen=True, slots=True, eq=False)  # a run is itself, so that it may be looked up quickly
class DayRun:
    """One run of the day.

    name     "S4 download 2", with device, client or band in front where the day has several
    cell     what its repeats share, but for the day
    visit    number of the stay at its place, in the order of the plan: device, client and place stay the same
    group    None where nothing says its series or what its row is of
    loss_db  of its spot in the band, else as typed; None where nobody knows it
    value    None of a run that has none, or not yet. [Mbit/s]
    """

    row: Measured
    name: str
    cell: tuple[object, ...]
    visit: int
    device: str
    client: str
    session: str
    house: str
    group: Group | None
    spot: str
    loss_db: float | None
    level_dbm: float | None
    value: float | None

    @property
    def at_spot(self) -> str:
        """The place in a sentence."""
        return self.spot or (f"{wording.decibels(self.loss_db)} dB" if self.loss_db is not None else "this place")


def day_runs(
    measured: Sequence[Measured], *, after: Bench, document: Mapping[str, Any], valueless: Container[Place] = ()
) -> list[DayRun]:
    """The runs among the rows of a day, in the order of the plan.

    A row that is held has the mean of its log for a value.

    after      the bench with the day's good rows
    document   batch.toml
    valueless  rows whose log may not be averaged: of a run that stopped
    """
    rows = sorted((one for one in measured if one.place[1] == "runs"), key=lambda one: one.order)
    houses = houses_of(after, document)
    series = {(cell.client, cell.driver): cell.group.series for cell in after.cells}
    named = {name: {_text(one, name) for one in rows} for name in ("device_id", "client_id", "band")}
    runs: list[DayRun] = []
    stays: dict[tuple[str, str], tuple[object, ...]] = {}
    visit = 0
    for one in rows:
        session, client, device = (_text(one, name) for name in ("session_id", "client_id", "device_id"))
        house, spot, band = houses.get(session, ""), _text(one, "spot"), _text(one, "band")
        loss = _loss(after, one, house, spot, band)
        here = (device, _text(one, "unit_id"), spot or loss)
        if stays.get((session, client)) != here:
            stays[session, client] = here
            visit += 1
        value = number_in(one, "throughput_mbit_s") or one.digest.get("mean_mbit_s")
        finished = one.values.get("outcome") in (None, "", FINISHED, PLANNED) and one.place not in valueless
        finished &= not one.values.get("of_runs")  # a summary is no repeat
        runs.append(
            DayRun(
                row=one,
                name=_name(after, one, named, spot, loss),
                cell=(*(_text(one, name) for name in _CELL), spot or loss),
                visit=visit,
                device=device,
                client=client,
                session=session,
                house=house,
                group=_group(one, series),
                spot=spot,
                loss_db=loss,
                level_dbm=number_in(one, "level_dbm"),
                value=value if finished and value and value > 0 else None,
            )
        )
    return runs


_CELL = (
    "device_id", "unit_id", "firmware", "client_id", "driver", "settings_id", "session_id", "band", "width_mhz",
    "direction", "protocol", "flows", "security",
)  # fmt: skip


def houses_of(after: Bench, document: Mapping[str, Any]) -> dict[str, str]:
    """House of each session that the catalogue or the batch knows."""
    known = {cell.session: cell.house for cell in after.cells}
    return known | {str(one.get("id")): str(one.get("house", "")) for one in sessions_in(document)}


def sessions_in(document: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """The sessions that batch.toml names."""
    sessions = document.get("session", ())
    yield from (one for one in (sessions if isinstance(sessions, list) else ()) if isinstance(one, Mapping))


def number_in(row: Measured, name: str) -> float | None:
    """A number of a row, also of one that is held, whose values are texts; None without one."""
    value = row.values.get(name)
    if isinstance(value, int | float):
        return float(value)
    try:
        return float(str(value).replace(",", ".")) if value else None
    except ValueError:
        return None


def _text(row: Measured, name: str) -> str:
    """A text of a row; of one that is held by the name of its column."""
    value = row.values.get(name)
    value = row.values.get(name.removesuffix("_id")) if value is None else value
    return "" if value is None else str(value)


def station_name(row: Measured) -> str:
    """ "drawings on wrenlet-r4 in desk-row"."""
    role = _text(row, "role_id") or _text(row, "role")
    return f"{role} on {_text(row, 'client_id')} in {_text(row, 'workload_id')}"


def mix_of(row: Measured) -> str:
    """The mix of a row of stations."""
    return _text(row, "mix_id")


def of_client(row: Measured) -> tuple[str, str]:
    """Session and client of any row: the clock that its log was written by."""
    return _text(row, "session_id"), _text(row, "client_id")


def _loss(after: Bench, row: Measured, house: str, spot: str, band: str) -> float | None:
    if not spot:
        return number_in(row, "attenuation_db")
    epochs = after.epochs.get((house, spot, band), ())
    return next((epoch.attenuation_db for epoch in epochs if epoch.valid_until is None), None)


def _group(row: Measured, series: Mapping[tuple[str, str | None], str]) -> Group | None:
    values = row.values
    of = series.get((_text(row, "client_id"), values.get("driver")))
    width = number_in(row, "width_mhz")
    if of is None or width is None:
        return None
    flows = number_in(row, "flows")
    return Group(
        series=of,
        band=_text(row, "band"),
        width_mhz=int(width),
        direction=_text(row, "direction"),
        protocol=values.get("protocol") or None,
        flows=None if flows is None else int(flows),
        security=values.get("security") or None,
        method=int(number_in(row, "method") or 1),
    )


def _name(after: Bench, row: Measured, named: Mapping[str, set[str]], spot: str, loss: float | None) -> str:
    device = _text(row, "device_id")
    model = after.devices[device].model if device in after.devices else device
    fronts = [
        model if len(named["device_id"]) > 1 else "",
        _text(row, "client_id") if len(named["client_id"]) > 1 else "",
    ]
    fronts.append(wording.band(_text(row, "band")) if len(named["band"]) > 1 else "")
    place = spot or (f"{wording.decibels(loss)} dB" if loss is not None else "")
    repeat = number_in(row, "repeat")
    ends = [place, wording.way(_text(row, "direction")), "" if repeat is None else f"{repeat:g}"]
    return " ".join(part for part in (*fronts, *ends) if part)
