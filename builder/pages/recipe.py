"""How to repeat a test at home: one device with one client setup, every condition, steps, and what to expect."""

from __future__ import annotations

import statistics
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import firmware_by_date
from builder.bench.cells import Cell, Group, natural
from builder.bench.naming import conditions, device_name
from builder.bench.settings import AS_ALWAYS, called, stated
from builder.bench.summed_up import summaries_of, why_no_interval
from builder.bench.tracks import track
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Fact, Link, Page, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.device_card import origin_words
from builder.pages.parts.disputing import disputed
from builder.pages.parts.entries import count_entry, decibel_entry, rate_entry
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.provenance import provenance
from builder.windows.knots import Knot, knots
from catalog.figure_names import joined_id
from catalog.method import METHOD_NUMBER
from catalog.records import Run, Settings

_Key = tuple[str, Group]  # settings ("" for none) and group of a table

BAND_SENTENCE = (
    "The band is the 95 % interval of this one value, on this bench: repeats, days, the place and the reference kit. "
    "Another unit, client or house is not in it."
)


@dataclass(frozen=True, kw_only=True)
class RecipePage(Page):
    """One device with one client setup. *expected* has a table per group."""

    template: ClassVar[str] = "recipe"

    conditions: tuple[Fact, ...]
    steps: tuple[str, ...]
    expected: tuple[Table, ...]
    expectation: str
    links: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class _Tested:
    """The test to repeat: cells of one unit and firmware of a device with one client setup, and their runs.

    settings  those that any of the cells were measured under
    """

    device: str
    client: str
    unit: str
    firmware: str
    cells: Sequence[Cell]
    runs: Sequence[Run]
    settings: Sequence[Settings]


def recipe_keys(results: Results) -> list[tuple[str, str]]:
    """(device, client) of every recipe: all that were tested together and gave a value."""
    cells = (*results.bench.cells, *results.bench.cells_under)
    return sorted({(c.device, c.client) for c in cells if c.mean is not None})


def recipe_links(results: Results, here: str, device_id: str) -> tuple[Link, ...]:
    """The ways to a device's recipes, one per client setup."""
    clients = results.bench.clients
    used = sorted({cell.client for cell in results.bench.every_cell(device_id) if cell.mean is not None})
    return tuple(
        Link(
            f"Repeat it with {clients[client].name}",
            addresses.link(here, addresses.recipe(device_id, client)),
            "conditions, steps, what to expect",
        )
        for client in used
    )


def recipe_page(
    catalogue: Catalogue, results: Results, site: SiteContext, device_id: str, client_id: str
) -> RecipePage:
    """The recipe of a device with a client setup that it has values with."""
    bench = results.bench
    here = addresses.recipe(device_id, client_id)
    tested = _tested(catalogue, results, device_id, client_id)
    names = device_name(bench, device_id), bench.clients[client_id].name
    return RecipePage(
        address=here,
        title=f"Repeat {names[0]} with {names[1]}",
        cautions=True,
        question="Can I do it at home?",
        verdict=_verdict(tested),
        conditions=_conditions(results, here, tested),
        steps=_steps(results, tested),
        expected=_tables(catalogue, results, here, tested),
        expectation=BAND_SENTENCE,
        links=(
            Link(names[0], addresses.link(here, addresses.device(device_id)), "everything measured"),
            Link(names[1], addresses.link(here, addresses.client(client_id)), "the client setup and its ceilings"),
            *(
                Link(bench.houses[h].name, addresses.link(here, addresses.house(h)), "what stands between at its spots")
                for h in sorted({c.house for c in tested.cells})
            ),
            Link("Method", addresses.link(here, addresses.METHOD), "how the band is worked out"),
        ),
        cannot_say=(
            f"What another unit of {bench.devices[device_id].model} gives: the spread between units is not known.",
            "What your client gives, unless it is the same setup: machine, adapter, driver and settings.",
            "Why yours differs, if it does. A result outside of the band is a reason to look closer, on either side.",
        ),
        provenance=provenance(catalogue, results, site, here, tested.cells),
    )


def _tested(catalogue: Catalogue, results: Results, device_id: str, client_id: str) -> _Tested:
    """The latest public firmware that has values with this client, and the first unit that has them."""
    bench = results.bench
    tried = [c for c in bench.every_cell(device_id) if c.client == client_id and c.mean is not None]
    order = [f for f in firmware_by_date(bench.devices[device_id]) if f.version in {c.firmware for c in tried}]
    firmware = ([f for f in order if f.public] or order)[-1].version
    unit = min({c.unit for c in tried if c.firmware == firmware}, key=natural)
    cells = [c for c in tried if (c.firmware, c.unit) == (firmware, unit)]
    runs = [catalogue.runs_of[device_id][run_id] for c in cells for run_id in c.run_ids]
    under = {c.settings for c in cells}
    settings = [s for s in dict.fromkeys(bench.settings.values()) if s.settings_id in under]
    return _Tested(device_id, client_id, unit, firmware, cells, runs, settings)


def _verdict(tested: _Tested) -> str:
    groups, places = len({c.group for c in tested.cells}), len({c.place for c in tested.cells})
    return (
        f"{wording.count(len(tested.cells), 'value')} from {wording.count(places, 'place')} and "
        f"{wording.count(groups, 'kind of link', 'kinds of link')}, each with the band in which a repeat on this bench "
        "should lie."
    )


def _conditions(results: Results, here: str, tested: _Tested) -> tuple[Fact, ...]:
    bench = results.bench
    device, client = bench.devices[tested.device], bench.clients[tested.client]
    unit = next(u for u in device.units if u.unit_id == tested.unit)
    firmware = next(f for f in device.firmware if f.version == tested.firmware)
    released = f", released {wording.date(firmware.released)}" if firmware.released else ""
    revision = f", revision {device.revision}" if device.revision else ", revision not stated"
    older = older_mark(results, tested.device, tested.firmware)
    drivers = _texts(r.driver for r in tested.runs)
    series = _texts(r.series for r in tested.runs)
    dates = sorted(r.date for r in tested.runs)
    seconds = sorted({wording.trimmed(r.seconds, 1) for r in tested.runs if r.seconds is not None}, key=natural)
    repeats = sorted({c.n for c in tested.cells})
    facts = [
        ("Device", f"{device_name(bench, tested.device)}{revision}"),
        ("Unit", f"{unit.unit_id}, {origin_words(unit)}"),
        (
            "Firmware",
            f"{tested.firmware}{released}{'' if firmware.public else '; not public'}{f' ({older})' if older else ''}",
        ),
        ("Licence", "not recorded with these runs"),
        ("Client", f"{client.name}: {', '.join(t for t in (client.machine, client.adapter, client.bus) if t)}"),
        ("Driver", f"{drivers or 'not stated'}; series {series}"),
        ("Level read from", client.level_of or "not stated"),
        (
            "Channel",
            wording.listing(sorted({str(r.channel) for r in tested.runs if r.channel}, key=natural)) or "not stated",
        ),
        ("Security", _texts(r.security for r in tested.runs) or "not stated"),
        ("Protocol and flows", _texts(_flows(r) for r in tested.runs)),
        ("Each run lasted", f"{wording.listing(seconds)} s" if seconds else "not stated"),
        ("Repeats a place", f"{repeats[0]}" if len(repeats) == 1 else f"{repeats[0]} to {repeats[-1]}"),
        ("Sessions", f"{wording.listing(_sessions(tested))}, {wording.date_range(dates[0], dates[-1])}"),
        ("Spots", _spots(results, tested)),
    ]
    if tested.settings:
        named = [f"{called(one)} ({stated(one)})" for one in tested.settings]
        always = [AS_ALWAYS] if any(c.settings is None for c in tested.cells) else []
        facts.append(("Settings", "; ".join([*always, *named])))
    method = Fact(
        "Method",
        f"Method {METHOD_NUMBER}, constants set {bench.constants.version}",
        addresses.link(here, addresses.METHOD),
    )
    return (*(Fact(term, text) for term, text in facts), method)


def _texts(values: Iterable[str | None]) -> str:
    return wording.listing(sorted({v for v in values if v}, key=natural))


def _flows(run: Run) -> str:
    flows = "flows not stated" if run.flows is None else wording.count(run.flows, "flow")
    return f"{run.protocol or 'protocol not stated'}, {flows}"


def _sessions(tested: _Tested) -> list[str]:
    return sorted({c.session for c in tested.cells})


def _spots(results: Results, tested: _Tested) -> str:
    """Spots with the start of the epoch they were used in, by house."""
    houses: dict[str, set[str]] = defaultdict(set)
    for cell in tested.cells:
        where = "typed attenuation" if cell.attenuation_db is not None else "level only"
        if cell.spot is not None:
            where = f"{cell.spot} (since {wording.date(cell.spot_since)})" if cell.spot_since else cell.spot
        houses[cell.house].add(where)
    return "; ".join(
        f"{results.bench.houses[house].name}: {wording.listing(sorted(spots, key=natural))}"
        for house, spots in sorted(houses.items())
    )


def _steps(results: Results, tested: _Tested) -> tuple[str, ...]:
    device, client = results.bench.devices[tested.device], results.bench.clients[tested.client]
    repeats = max(c.n for c in tested.cells)
    seconds = sorted(r.seconds for r in tested.runs if r.seconds is not None)
    lasting = f" for {wording.trimmed(seconds[len(seconds) // 2], 1)} s" if seconds else ""
    widths = wording.listing(sorted({wording.width(c.group.width_mhz) for c in tested.cells}, key=natural), "or")
    return (
        f"Put firmware {tested.firmware} on the {device.model}. Settings that are not listed above are not recorded: "
        "leave them as they came, and note what you changed.",
        f"Use {client.name} or, knowing that the band then does not hold, the client you have. Mains power on, "
        "automatic updates, other radios and anything that uses the network off.",
        f"Connect a machine to the {device.model} by wire, faster than the value you expect. Check the channel and the "
        f"width ({widths}) on the client while it runs: a radio may fall back.",
        "Choose a place. With a reference source and receiver: attenuation is what the source sends less what the "
        "receiver reads there. Without: look for the level in the table, which only means the same with the same "
        "client setup.",
        "Start the link, wait until its rate stands still, then measure in the direction of the table"
        f"{lasting}, {wording.count(repeats, 'time')}, and note the level while it runs.",
        "Take the mean of your runs and look whether it lies inside of the band of its row. Before you conclude "
        "anything from one outside, move the client by a hand's width and measure again.",
    )


def _tables(catalogue: Catalogue, results: Results, here: str, tested: _Tested) -> tuple[Table, ...]:
    """What to expect at each place, a table per group; those under settings last."""
    groups: dict[_Key, list[Cell]] = defaultdict(list)
    for cell in tested.cells:
        groups[cell.settings or "", cell.group].append(cell)
    titles = {one.settings_id: called(one) for one in tested.settings}
    disputes = disputed(catalogue)
    places = _places(results, groups)

    def expected_entry(place: _Place) -> Entry:
        measured = place.knot or place.cells[0]
        entry = rate_entry(place.value, bound=measured.bound, limit=measured.limit)
        return replace(entry, marks=disputes.marks(here, tested.device, cells=place.cells))

    return tuple(
        table_of(
            places[settings, group],
            (
                Column("Place", _name_entry),
                Column("Attenuation", _attenuation_entry, numeric=True),
                Column("Level", _level_entry, numeric=True),
                Column("Expected", expected_entry, numeric=True),
                Column("Band", _band_entry, numeric=True),
                Column(
                    "Runs",
                    lambda place: count_entry(
                        (place.knot or place.cells[0]).n, note=", ".join(summaries_of(place.cells))
                    ),
                    numeric=True,
                ),
            ),
            key=f"expect~{joined_id(settings) + '~' if settings else ''}{group.slug}",
            caption=f"{titles[settings] + ': ' if settings else ''}{conditions(group)}: what to expect, Mbit/s",
        )
        for settings, group in sorted(groups, key=lambda one: (["", *titles].index(one[0]), one[1].sort_key))
    )


@dataclass(frozen=True, slots=True)
class _Place:
    """A place where the test was made: the cells of a knot of the line, or one cell that is on no line."""

    cells: Sequence[Cell]
    knot: Knot | None = None

    @property
    def value(self) -> float | None:
        """What is expected here. [Mbit/s]"""
        return self.knot.value if self.knot else self.cells[0].mean


def _places(results: Results, groups: Mapping[_Key, Sequence[Cell]]) -> dict[_Key, list[_Place]]:
    """The knots of each group's line, then its cells without an attenuation."""
    lines = {key: line for key, cells in groups.items() if (line := track(cells, match="attenuation")) is not None}
    measured = dict(zip(lines, knots(results.bench, list(lines.values()), match="attenuation"), strict=True))
    # The cells of a knot, not of its spots: a spot whose reading changed is two knots under one name.
    on_lines = {
        key: [_Place(lines[key].cells_of_knot(number), knot) for number, knot in enumerate(of_line)]
        for key, of_line in measured.items()
    }
    return {
        key: on_lines.get(key, [])
        + [_Place([cell]) for cell in cells if key not in lines or cell not in lines[key].cells]
        for key, cells in groups.items()
    }


def _name_entry(place: _Place) -> Entry:
    if place.knot is None:
        return Entry(text=place.cells[0].spot or "level only")
    return Entry(text=wording.listing(place.knot.spots) or "typed attenuation")


def _attenuation_entry(place: _Place) -> Entry:
    if place.knot is None:
        return Entry(why_missing="not one value" if place.cells[0].group.several_links else "not measured")
    return decibel_entry(place.knot.x, unit="dB")


def _level_entry(place: _Place) -> Entry:
    levels = [c.level_dbm for c in place.cells if c.level_dbm is not None]
    return decibel_entry(statistics.fmean(levels) if levels else None, unit="dBm", missing="not read")


def _why(place: _Place) -> str:
    why = why_no_interval(place.cells)
    return "a single run" if why == "single run" else why


def _band_entry(place: _Place) -> Entry:
    knot = place.knot
    if knot is None:
        return Entry(why_missing="none without an attenuation")
    if knot.low is None or knot.high is None:
        return Entry(why_missing="none: a lower bound" if knot.bound else f"none: {_why(place)}")
    text = wording.between(max(knot.low, 0.0), knot.high, wording.rate_decimals(knot.value))
    return Entry(text=text, sort_key=repr(knot.low))
