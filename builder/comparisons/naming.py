"""What groups, client series and places are called in front of people."""

from __future__ import annotations

from builder import wording
from builder.comparisons.bench import Bench
from builder.comparisons.cells import Cell, Group


def series_name(bench: Bench, series: str) -> str:
    """The name of a client series: that of the setup it began with, or of the driver that began it."""
    first = bench.clients.get(series)
    if first is not None:
        return first.name
    for client in bench.clients.values():
        for driver in client.drivers:
            if driver.series == series and client.series != series:
                return f"{client.name} with driver {driver.version}"
    return next((client.name for client in bench.clients.values() if client.series == series), series)


def group_name(bench: Bench, group: Group) -> str:
    """A group in words: "Wrenlet U2, 5 GHz, 80 MHz, down"."""
    return f"{series_name(bench, group.series)}, {link_name(group)}"


def link_name(group: Group) -> str:
    """A group without its client: "5 GHz, 80 MHz, down"."""
    return wording.conditions(
        band_name=group.band, width_mhz=group.width_mhz, direction=group.direction, protocol=group.protocol,
        flows=group.flows, security=group.security,
    )  # fmt: skip


def device_name(bench: Bench, device_id: str) -> str:
    """Maker and model."""
    device = bench.devices[device_id]
    return f"{device.maker} {device.model}"


def place_name(bench: Bench, cell: Cell) -> str:
    """Where a cell was measured: a spot with its house, "typed attenuation", or "level only"."""
    if cell.spot is not None:
        return f"{cell.spot}, {bench.houses[cell.house].name}"
    return "typed attenuation" if cell.attenuation_db is not None else "level only"
