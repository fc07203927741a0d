"""What groups, client series and places are called in front of people."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from builder import wording
from builder.bench.bench import Bench
from builder.bench.bridging import separate_series
from builder.bench.cells import Group
from catalog.records import Client


def series_name(bench: Bench, series: str) -> str:
    """The name of a client series: that of the setup it began with, or of the driver that began it."""
    first = bench.clients.get(series)
    if first is not None:
        return first.name
    for client in bench.clients.values():
        for driver in client.drivers:
            if driver.series == series and client.series != series:
                return f"{client.name} with driver {driver.version}"
            if separate_series((client.client_id, driver.version)) == series:
                return client.name if len(client.drivers) == 1 else f"{client.name} with driver {driver.version}"
    return next((client.name for client in bench.clients.values() if client.series == series), series)


def kind_of(client: Client) -> str:
    """What machine a client is, with its article: "a laptop"; "" where nobody said."""
    machine = (client.machine or "").split(",")[0].strip()
    return wording.with_article(machine) if machine else ""


@dataclass(frozen=True, slots=True)
class GroupName:
    """A group in the words of someone who has such a machine.

    series     the client series
    kind       what machine that is: "a laptop"; "" where nobody said
    streams    "2 streams"; "" where the client's radio is not on record
    link       band and width
    direction  "download" or "upload"
    extras     what else distinguishes it from similar groups
    """

    series: str
    kind: str
    streams: str
    link: str
    direction: str
    extras: tuple[str, ...]

    @property
    def text(self) -> str:
        """ "2 streams, 5 GHz, 80 MHz, download (Wrenlet U2, a laptop)"."""
        return f"{self.short} ({self.machine})"

    @property
    def short(self) -> str:
        """Where the client is said elsewhere: "2 streams, 5 GHz, 80 MHz, download"."""
        return ", ".join(part for part in (self.streams, self.link, self.direction, *self.extras) if part)

    @property
    def machine(self) -> str:
        """ "Wrenlet U2, a laptop"."""
        return f"{self.series}, {self.kind}" if self.kind else self.series

    @property
    def either_way(self) -> str:
        """The link without its client and direction: "2 streams, 5 GHz, 80 MHz"."""
        return ", ".join(part for part in (self.streams, self.link, *self.extras) if part)


def group_names(bench: Bench, *, others: Iterable[Group] = ()) -> dict[Group, GroupName]:
    """Every group in words, as short as is unambiguous; also *others*, of which the bench of a part holds no cell.

    Of groups of one client and link the one with most cells has the plain name; the others say in which of
    protocol, flows and security they differ from it. `conditions` says them in full.
    """
    alike: dict[Group, dict[Group, int]] = defaultdict(dict)
    for group, number in Counter(cell.group for cell in (*bench.cells, *bench.cells_under)).items():
        alike[_plain(group)][group] = number
    for group in others:
        alike[_plain(group)].setdefault(group, 0)
    return {
        group: _named(bench, plain, _differing(group, min(members, key=lambda g: (-members[g], g.sort_key))))
        for plain, members in alike.items()
        for group in sorted(members, key=lambda g: g.sort_key)
    }


def full_name(bench: Bench, group: Group) -> str:
    """A group with everything that is known of its link, and its client."""
    name = _named(bench, group, ())
    return f"{', '.join(part for part in (name.streams, conditions(group)) if part)} ({name.machine})"


def link_name(bench: Bench, group: Group) -> str:
    """A group's link as `GroupName.short` says it, of any group there may be."""
    return _named(bench, group, ()).short


def _named(bench: Bench, group: Group, extras: tuple[str, ...]) -> GroupName:
    return GroupName(
        series_name(bench, group.series),
        next((kind for client in _clients(bench, group.series) if (kind := kind_of(client))), ""),
        _streams(bench, group),
        f"{wording.band(group.band)}, {wording.width(group.width_mhz)}",
        wording.way(group.direction),
        extras,
    )


def _clients(bench: Bench, series: str) -> list[Client]:
    """The setups of a series, the one it began with first."""
    every = [
        c
        for c in bench.clients.values()
        if series in (c.series, *(d.series for d in c.drivers))
        or series in {separate_series((c.client_id, d.version)) for d in c.drivers}
    ]
    return sorted(every, key=lambda client: client.client_id != series)


def _streams(bench: Bench, group: Group) -> str:
    """How many streams the client has on each band of the group, where that is one number."""
    bands = group.band.split("+")
    for client in _clients(bench, group.series):
        numbers = {radio.streams for radio in client.radios if radio.band in bands}
        if len(numbers) == 1:
            return wording.streams(numbers.pop())
    return ""


def _plain(group: Group) -> Group:
    return replace(group, protocol=None, flows=None, security=None, method=1)


def _differing(group: Group, plain: Group) -> tuple[str, ...]:
    texts: list[str] = []
    if group.protocol != plain.protocol:
        texts.append(wording.transport(group.protocol) if group.protocol else "protocol not stated")
    if group.flows != plain.flows:
        texts.append("flows not stated" if group.flows is None else wording.count(group.flows, "flow"))
    if group.security != plain.security:
        texts.append(group.security or "security not stated")
    if group.method != plain.method:
        texts.append(f"method {group.method}")
    return tuple(texts)


def conditions(group: Group) -> str:
    """A group without its client, in full: "5 GHz, 80 MHz, download, tcp, 8 flows"."""
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
