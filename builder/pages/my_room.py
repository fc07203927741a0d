"""My room: what would I get here? A form for scripts that says who would give more, and every device by window for all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import Bench, subject_named
from builder.bench.cells import Group, usual
from builder.bench.naming import device_name, series_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Link, Page, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry
from builder.pages.parts.provenance import provenance
from builder.pairs.pair_parts import PAIR_WORDS
from builder.pairs.pairing import line_of
from builder.registers.eirp import OTHER_ADAPTER_DB
from builder.windows.standing import (
    WINDOW_SHORT,
    interval_text,
    port_text,
    ranked_entry,
    rate_text,
    reason,
    top_sentence,
)
from catalog.method import WINDOW_NAMES
from catalog.records import Client

MOST_DEVICES = 60  # in the table; scripts and rankings have all of them
SPEED_UNITS = ("Mbit/s", "MB/s", "MiB/s", "Gbit/s", "kbit/s")
_DECIDING = "middle"

# The names of the Wi-Fi Alliance for amendments of IEEE 802.11.
_GENERATIONS = {"802.11n": "Wi-Fi 4", "802.11ac": "Wi-Fi 5", "802.11ax": "Wi-Fi 6", "802.11be": "Wi-Fi 7"}


@dataclass(frozen=True, slots=True)
class RoomChoice:
    """One group a reader may choose: its id in addresses, its name, its machine, and where its data lies for scripts."""

    value: str
    text: str
    machine: str
    href: str
    key: str


@dataclass(frozen=True, kw_only=True)
class MyRoomPage(Page):
    """The form's choices, a table by window, and ways to the other tables.

    machines  what the tests were made with: the id of its client series, and its words
    """

    template: ClassVar[str] = "my_room"

    machines: tuple[tuple[str, str], ...]
    choices: tuple[RoomChoice, ...]
    units: tuple[str, ...]
    root: str
    words_href: str
    words_key: str
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


def windows_of(bench: Bench, group: Group) -> Mapping[str, tuple[float, float]]:
    """The windows of a group's band by name [dB]; none for a band without."""
    known = {name: bench.constants.window(group.band, name) for name in WINDOW_NAMES}
    return {name: low_high for name, low_high in known.items() if low_high is not None}


def my_room_page(catalogue: Catalogue, results: Results, site: SiteContext) -> MyRoomPage:
    """The page of this build; without any line it says so."""
    here = addresses.MY_ROOM
    groups = room_groups(results)
    table = _table(results, here, groups[0]) if groups else None
    return MyRoomPage(
        address=here,
        title="My room",
        question="What would I get here?",
        verdict=_verdict(results, groups),
        cannot_say=(
            "What your own machine gets: values are those of the client that is named, and another unit, client or "
            "house is not in their intervals.",
            f"Your loss to the decibel from another adapter’s level: two adapters may read "
            f"{wording.decibels(OTHER_ADAPTER_DB)} dB apart, so the answer is then a range.",
            "What lies beyond the places that were tested: there the nearest tested place answers, and says so.",
            "That every lead is real: each device is judged against yours by itself, and of twenty equal ones about "
            "one would look different by chance.",
        ),
        provenance=provenance(catalogue, results, site, here, results.cells[groups[0]] if groups else ()),
        machines=tuple({g.series: _machine(results.bench, g.series) for g in groups}.items()),
        choices=tuple(_choice(results, here, group) for group in groups),
        units=SPEED_UNITS,
        root=addresses.link(here, addresses.START).removesuffix(addresses.START),
        words_href=addresses.link(here, addresses.script_data(PAIR_WORDS)),
        words_key=PAIR_WORDS,
        houses_href=addresses.link(here, addresses.HOUSES),
        table=table,
        more=tuple(Link(results.names[g].text, addresses.link(here, addresses.ranking(g))) for g in results.groups),
    )


def _verdict(results: Results, groups: list[Group]) -> str:
    """What stands on the page before a script answers: who may give most, behind a wall or two if anybody was tested."""
    if not groups:
        return "Nothing was measured at a known loss yet."
    rankings = [results.rankings.get((groups[0], window)) for window in (_DECIDING, *WINDOW_NAMES)]
    ranked = next((ranking for ranking in rankings if ranking and ranking.ranked), None)
    return top_sentence(ranked) if ranked else "Say where you sit, and each device answers with what it gave there."


def _machine(bench: Bench, series: str) -> str:
    """ "14-inch laptop, 2 antennas, Wi-Fi 6 (Wrenlet U2)"; what nobody stated is left out."""
    name = series_name(bench, series)
    client = next((c for c in bench.clients.values() if series in (c.client_id, c.series, *_series(c))), None)
    if client is None:
        return name
    streams = max((radio.streams for radio in client.radios), default=0)
    words = [
        client.machine.split(",")[0] if client.machine else "",
        wording.count(streams, "antenna") if streams else "",
        _GENERATIONS.get(client.amendment, client.amendment),
    ]
    return wording.capital(f"{', '.join(filter(None, words))} ({name})")


def _series(client: Client) -> list[str]:
    return [driver.series for driver in client.drivers]


def _choice(results: Results, here: str, group: Group) -> RoomChoice:
    key = room_key(group)
    href = addresses.link(here, addresses.script_data(key))
    return RoomChoice(group.slug, results.names[group].text, group.series, href, key)


def _has_line(results: Results, group: Group) -> bool:
    bench = results.bench
    devices = dict.fromkeys(cell.device for cell in results.cells[group] if cell.attenuation_db is not None)
    return any(line_of(bench, subject_named(bench, device), group, match="attenuation") for device in devices)


def _table(results: Results, here: str, group: Group) -> Table | None:
    """The devices over each window, the first behind a wall or two first; None for a band without windows."""
    windows = windows_of(results.bench, group)
    if _DECIDING not in windows:
        return None
    ranking = results.ranking(group, _DECIDING)
    ranked = [entry.subject.device for entry in ranking.ranked]
    names = sorted((n.subject.device for n in ranking.not_ranked), key=lambda d: device_name(results.bench, d))
    order = [_DECIDING, *(name for name in windows if name != _DECIDING)]
    return table_of(
        [*ranked, *names][:MOST_DEVICES],
        (
            Column("Device", lambda device: device_entry(results, here, device)),
            *(
                Column(
                    f"{WINDOW_SHORT[name]}, {wording.db_range(*windows[name])} dB",
                    partial(_window_entry, results, group, name),
                    numeric=True,
                )
                for name in order
            ),
        ),
        key="by-window",
        caption=f"{results.names[group].text}: Mbit/s, with the 95 % interval of each value",
    )


def _window_entry(results: Results, group: Group, window: str, device: str) -> Entry:
    ranking = results.ranking(group, window)
    entry = ranked_entry(ranking, device)
    if entry is None:
        left_out = next(n for n in ranking.not_ranked if n.subject.device == device)
        return Entry(why_missing=reason(left_out).removeprefix("not ranked: ").rstrip("."))
    return Entry(
        text=rate_text(entry),
        interval=wording.in_95(interval_text(entry)),
        note=port_text(entry).strip(" ()"),
        sort_key=repr(entry.value),
    )
