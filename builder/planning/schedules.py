"""The rows of a plan in the order to be run: spots in blocks, to spare walking; drift cancels between two devices."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from builder.bench.sides import Whole
from builder.planning.costs import Costs
from builder.planning.lattices import Lattice, Side
from catalog.beginning.planned_batches import log_name


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedRow:
    """One row to be measured.

    table    runs, stations or heat; what a row of its kind does not have is left out
    order    in the plan, from 1 on; 0 until it has its place there
    day      1 for the first session
    spot     "" where the place is a typed loss, which attenuation_db then has, or plays no part
    log      name of its log inside of the batch; "" for a reading
    minutes  from the beginning of its day until it is done
    pause    minutes of rest before it, in them
    values   further columns of its table
    """

    table: str
    day: int
    device: str
    unit: str
    firmware: str
    minutes: float
    order: int = 0
    client: str = ""
    driver: str = ""
    spot: str = ""
    attenuation_db: float | None = None
    band: str = ""
    width_mhz: int | None = None
    direction: str = ""
    repeat: int | None = None
    log: str = ""
    pause: float = 0.0
    values: tuple[tuple[str, str], ...] = ()

    def to_json(self) -> dict[str, Any]:
        """A row of `plan --json`."""
        return {
            "order": self.order,
            "table": self.table,
            "day": self.day,
            "device": self.device,
            "spot": self.spot or None,
            "attenuation_db": self.attenuation_db,
            "client": self.client or None,
            "band": self.band or None,
            "width_mhz": self.width_mhz,
            "direction": self.direction or None,
            "repeat": self.repeat,
            "log": self.log or None,
            "minutes": self.minutes,
        }


@dataclass(frozen=True, slots=True)
class Block:
    """One pass of a device over the spots of a day: spot number, and the repeats made there."""

    day: int
    side: Side
    stops: tuple[tuple[int, range], ...]
    swapped: bool


def blocks_of(lattice: Lattice, repeats: Whole) -> Iterator[Block]:
    """The passes of a plan, shape (cells,): one a day, or of two devices A, B, B, A."""
    table = repeats.reshape(lattice.days, len(lattice.spots))
    day = 0
    for of_day in table.tolist():
        stops = [(spot, often) for spot, often in enumerate(of_day) if often]
        if not stops:
            continue
        day += 1
        if not lattice.both or lattice.other is None:
            whole = tuple((spot, range(1, often + 1)) for spot, often in stops)
            yield Block(day, lattice.device, whole, swapped=False)
            continue
        first = tuple((spot, range(1, (often + 1) // 2 + 1)) for spot, often in stops)
        rest = tuple((spot, range((often + 1) // 2 + 1, often + 1)) for spot, often in stops)
        order = ((lattice.device, first), (lattice.other, first), (lattice.other, rest), (lattice.device, rest))
        before = lattice.device
        for side, of_pass in order:
            yield Block(day, side, of_pass, swapped=side is not before)
            before = side


def single_runs(lattice: Lattice, repeats: Whole, costs: Costs) -> list[PlannedRow]:
    """The runs of a plan, minutes added up by day."""
    rows: list[PlannedRow] = []
    count = int(repeats.sum()) * (2 if lattice.both else 1)
    minutes, day = 0.0, 0
    for block in blocks_of(lattice, repeats):
        if block.day != day:
            minutes, day = costs.session_minutes, block.day
        minutes += costs.swap_minutes if block.swapped else 0.0
        for number, numbers in block.stops:
            spot = lattice.spots[number]
            minutes += costs.spot_minutes if len(numbers) else 0.0
            for repeat in numbers:
                minutes += costs.run_minutes
                order = len(rows) + 1
                client, driver = block.side.client
                subject = block.side.subject
                rows.append(
                    PlannedRow(
                        order=order,
                        table="runs",
                        day=block.day,
                        device=subject.device,
                        unit=subject.unit,
                        firmware=subject.firmware,
                        client=client,
                        driver=driver or "",
                        spot=spot.name or "",
                        attenuation_db=None if spot.name is not None else spot.loss_db,
                        band=lattice.group.band,
                        width_mhz=lattice.group.width_mhz,
                        direction=lattice.group.direction,
                        repeat=repeat,
                        log=log_name(order, count, spot.label, lattice.group.direction, str(repeat)),
                        minutes=minutes,
                        values=_conditions(lattice, block.side),
                    )
                )
    return rows


def _conditions(lattice: Lattice, side: Side) -> tuple[tuple[str, str], ...]:
    group = lattice.group
    stated = {
        "protocol": group.protocol,
        "flows": None if group.flows is None else str(group.flows),
        "security": group.security,
        "settings": side.subject.settings or None,
    }
    return tuple((name, value) for name, value in stated.items() if value is not None)
