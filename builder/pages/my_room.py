"""My room: what would I get here? A form for scripts, and the same values by steps of loss for everybody."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import subject_named
from builder.bench.cells import Group, usual
from builder.bench.tracks import Track
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Link, Page, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry, rate_entry
from builder.pages.parts.provenance import provenance
from builder.pairs.pairing import line_of
from builder.registers.eirp import OTHER_ADAPTER_DB
from builder.windows.line_points import line_point, tested_text
from builder.windows.neighbours import first_tested

STEP_DB = 5
MOST_DEVICES = 60  # in the table; scripts and rankings have all of them
SPEED_UNITS = ("Mbit/s", "MB/s", "MiB/s", "Gbit/s", "kbit/s")


@dataclass(frozen=True, slots=True)
class RoomChoice:
    """One group a reader may choose: its id in addresses, its name, and where its data lies for scripts."""

    value: str
    text: str
    href: str
    key: str


@dataclass(frozen=True, kw_only=True)
class MyRoomPage(Page):
    """The form's choices, a table by steps of loss, and ways to the other tables."""

    template: ClassVar[str] = "my_room"

    choices: tuple[RoomChoice, ...]
    units: tuple[str, ...]
    root: str
    houses_href: str
    table: Table | None
    more: tuple[Link, ...]


def room_key(group: Group) -> str:
    """The key under which scripts find a group's lines."""
    return f"rooms/{group.slug}"


def room_groups(results: Results) -> list[Group]:
    """Every group with a line, the one with most devices first; among equals the most usual one."""
    groups = [g for g in results.company if _has_line(results, g)]
    return sorted(groups, key=lambda g: (-results.company[g], usual(g), g.sort_key))


def my_room_page(catalogue: Catalogue, results: Results, site: SiteContext) -> MyRoomPage:
    """The page of this build; without any line it says so."""
    here = addresses.MY_ROOM
    groups = room_groups(results)
    return MyRoomPage(
        address=here,
        title="My room",
        question="What would I get here?",
        verdict="Say how much your signal loses on its way, or which level your client reads: each device answers "
        "with what it gave at that loss, or that it was not tested there."
        if groups
        else "Nothing was measured at a known loss yet.",
        cannot_say=(
            "What your own client gets: values are those of the client that is named, and another unit, client or "
            "house is not in their intervals.",
            f"Your loss from another adapter's level: two adapters may read {wording.decibels(OTHER_ADAPTER_DB)} dB "
            "apart at one signal, so the answer is a range.",
            "Anything beyond the losses that were tested: no line is drawn there.",
        ),
        provenance=provenance(catalogue, results, site, here, results.cells[groups[0]] if groups else ()),
        choices=tuple(_choice(results, here, group) for group in groups),
        units=SPEED_UNITS,
        root=addresses.link(here, addresses.START).removesuffix(addresses.START),
        houses_href=addresses.link(here, addresses.HOUSES),
        table=_table(results, here, groups[0]) if groups else None,
        more=tuple(Link(results.names[g].text, addresses.link(here, addresses.ranking(g))) for g in results.groups),
    )


def _choice(results: Results, here: str, group: Group) -> RoomChoice:
    key = room_key(group)
    return RoomChoice(group.slug, results.names[group].text, addresses.link(here, addresses.script_data(key)), key)


def _has_line(results: Results, group: Group) -> bool:
    bench = results.bench
    devices = dict.fromkeys(cell.device for cell in results.cells[group] if cell.attenuation_db is not None)
    return any(line_of(bench, subject_named(bench, device), group, match="attenuation") for device in devices)


def _lines(results: Results, group: Group) -> list[tuple[str, Track]]:
    bench = results.bench
    devices = sorted(
        {cell.device for cell in results.cells[group]}, key=lambda d: (first_tested(bench, d) or "", d), reverse=True
    )
    lines = [(d, line_of(bench, subject_named(bench, d), group, match="attenuation")) for d in devices]
    return [(device, line) for device, line in lines if line is not None]


def _table(results: Results, here: str, group: Group) -> Table:
    """The devices tested last against whole steps of loss, over all that any of them was tested at."""
    lines = _lines(results, group)[:MOST_DEVICES]
    low = min(line.line.tested[0] for _, line in lines)
    high = max(line.line.tested[1] for _, line in lines)
    steps = range(int(-(-low // STEP_DB)) * STEP_DB, int(high) + 1, STEP_DB)
    return table_of(
        lines,
        (
            Column(
                "Device", lambda side: device_entry(results, here, side[0], note=f"tested at {tested_text(side[1])}")
            ),
            *(Column(f"{step} dB", partial(_rate_entry, results, step), numeric=True) for step in steps),
        ),
        key="by-loss",
        caption=f"{results.names[group].text}: Mbit/s at each attenuation, with the 95 % interval of each value",
    )


def _rate_entry(results: Results, step: int, side: tuple[str, Track]) -> Entry:
    point = line_point(results.bench, side[1], step)
    if point is None:
        return Entry(why_missing="not tested there")
    half = point.half_width
    return rate_entry(
        point.value,
        low=None if half is None else point.value - half,
        high=None if half is None else point.value + half,
        bound=point.bound,
        limit="port" if point.at_port else None,
    )
