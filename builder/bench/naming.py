"""What groups, client series and places are called in front of people."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from builder import wording
from builder.bench.bench import Bench
from builder.bench.cells import Group


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


@dataclass(frozen=True, slots=True)
class GroupName:
    """A group in words: client series, band and width, direction, and what else distinguishes it from similar groups."""

    series: str
    link: str
    direction: str
    extras: tuple[str, ...]

    @property
    def text(self) -> str:
        """ "Wrenlet U2, 5 GHz, 80 MHz, down"."""
        return ", ".join([self.series, self.link, self.direction, *self.extras])

    @property
    def either_way(self) -> str:
        """The link without its client and direction: "5 GHz, 80 MHz"."""
        return ", ".join([self.link, *self.extras])


def group_names(bench: Bench) -> dict[Group, GroupName]:
    """Every group in words, as short as is unambiguous.

    Of groups of one client and link the one with most cells has the plain name; the others say in which of
    protocol, flows and security they differ from it. `conditions` says them in full.
    """
    alike: dict[Group, dict[Group, int]] = defaultdict(dict)
    for cell in (*bench.cells, *bench.cells_under):
        members = alike[_plain(cell.group)]
        members[cell.group] = members.get(cell.group, 0) + 1
    return {
        group: GroupName(
            series_name(bench, plain.series),
            f"{wording.band(plain.band)}, {wording.width(plain.width_mhz)}",
            plain.direction,
            _differing(group, min(members, key=lambda g: (-members[g], g.sort_key))),
        )
        for plain, members in alike.items()
        for group in sorted(members, key=lambda g: g.sort_key)
    }


def _plain(group: Group) -> Group:
    return replace(group, protocol=None, flows=None, security=None, method=1)


def _differing(group: Group, plain: Group) -> tuple[str, ...]:
    texts: list[str] = []
    if group.protocol != plain.protocol:
        texts.append(group.protocol or "protocol not stated")
    if group.flows != plain.flows:
        texts.append("flows not stated" if group.flows is None else wording.count(group.flows, "flow"))
    if group.security != plain.security:
        texts.append(group.security or "security not stated")
    if group.method != plain.method:
        texts.append(f"method {group.method}")
    return tuple(texts)


def conditions(group: Group) -> str:
    """A group without its client, in full: "5 GHz, 80 MHz, down, tcp, 8 flows"."""
    return wording.conditions(
        band_name=group.band,
        width_mhz=group.width_mhz,
        direction=group.direction,
        protocol=group.protocol,
        flows=group.flows,
        security=group.security,
    )


def device_name(bench: Bench, device_id: str) -> str:
    """Maker and model."""
    device = bench.devices[device_id]
    return f"{device.maker} {device.model}"
