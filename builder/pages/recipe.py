"""How to repeat a test at home: of a device with each client setup every condition, steps, and what to expect."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bench import firmware_by_date
from builder.bench.cells import Cell, natural
from builder.bench.naming import device_name
from builder.bench.settings import AS_ALWAYS, called, stated
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Fact, Link, Page, Table
from builder.pages.parts.device_card import origin_words
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.provenance import provenance
from builder.pages.tables.expected_values import expected_values
from catalog.figure_names import joined_id
from catalog.method import METHOD_NUMBER
from catalog.records import Run, Settings

BAND_SENTENCE = (
    "The range is the 95 % interval of this one value, on this bench: repeats, days, the place and the reference kit. "
    "Another unit, client or house is not in it."
)


MOST_ON_A_PAGE = 8  # client setups: each takes some 12 kB


@dataclass(frozen=True, slots=True)
class Recipe:
    """One device with one client setup. *key* is its fragment; *expected* has a table per group."""

    key: str
    heading: str
    answer: str
    conditions: tuple[Fact, ...]
    steps: tuple[str, ...]
    expected: tuple[Table, ...]
    links: tuple[Link, ...]


@dataclass(frozen=True, kw_only=True)
class RecipePage(Page):
    """One device with each client setup; *others* are the pages of further ones."""

    template: ClassVar[str] = "recipe"
    grows: ClassVar[bool] = True

    recipes: tuple[Recipe, ...]
    expectation: str
    links: tuple[Link, ...]
    others: tuple[Link, ...]


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


def recipe_pages(results: Results) -> list[tuple[str, int]]:
    """(device, number) of every page of recipes."""
    counts = Counter(device for device, _ in recipe_keys(results))
    return [
        (device, number + 1)
        for device, count in sorted(counts.items())
        for number in range(-(-count // MOST_ON_A_PAGE))
    ]


def repeated_with(results: Results, device_id: str) -> list[str]:
    """The client setups that a device has recipes with, in their order."""
    return sorted({cell.client for cell in results.bench.every_cell(device_id) if cell.mean is not None})


def recipe_place(results: Results, device_id: str, client_id: str) -> tuple[str, str]:
    """The address of the page that a recipe stands on, and its fragment there."""
    place = repeated_with(results, device_id).index(client_id)
    return addresses.recipe(device_id, place // MOST_ON_A_PAGE + 1), joined_id("with", client_id)


def recipe_links(results: Results, here: str, device_id: str) -> tuple[Link, ...]:
    """The ways to a device's recipes, one per client setup."""
    clients = results.bench.clients
    return tuple(
        Link(
            f"Repeat it with {clients[client].name}",
            addresses.link(here, *recipe_place(results, device_id, client)),
            "conditions, steps, what to expect",
        )
        for client in repeated_with(results, device_id)
    )


def recipe_page(catalogue: Catalogue, results: Results, site: SiteContext, device_id: str, number: int) -> RecipePage:
    """The recipes of a device, by client setup; the page with that number of those it takes."""
    bench = results.bench
    here = addresses.recipe(device_id, number)
    every = repeated_with(results, device_id)
    here_are = every[(number - 1) * MOST_ON_A_PAGE : number * MOST_ON_A_PAGE]
    tested = [_tested(catalogue, results, device_id, client) for client in here_are]
    name = device_name(bench, device_id)
    return RecipePage(
        address=here,
        title=f"Repeat {name}" if number == 1 else f"Repeat {name}: further client setups",
        cautions=True,
        question="Can I do it at home?",
        verdict=_verdict(tested),
        recipes=tuple(_recipe(catalogue, results, here, one) for one in tested),
        expectation=BAND_SENTENCE,
        links=(
            Link(name, addresses.link(here, addresses.device(device_id)), "everything measured"),
            *(
                Link(bench.houses[h].name, addresses.link(here, addresses.house(h)), "what stands between at its spots")
                for h in sorted({cell.house for one in tested for cell in one.cells})
            ),
            Link("Method", addresses.link(here, addresses.METHOD), "how the range is worked out"),
        ),
        others=tuple(
            Link(f"With {bench.clients[client].name}", addresses.link(here, *recipe_place(results, device_id, client)))
            for client in every
            if client not in here_are
        ),
        cannot_say=(
            f"What another unit of {bench.devices[device_id].model} gives: the spread between units is not known.",
            "What your client gives, unless it is the same setup: machine, adapter, driver and settings.",
            "Why yours differs, if it does. A result outside of the range is a reason to look closer, on either side.",
        ),
        provenance=provenance(catalogue, results, site, here, [cell for one in tested for cell in one.cells]),
    )


def _recipe(catalogue: Catalogue, results: Results, here: str, tested: _Tested) -> Recipe:
    name = results.bench.clients[tested.client].name
    return Recipe(
        key=joined_id("with", tested.client),
        heading=f"With {name}",
        answer=_answer(tested),
        conditions=_conditions(results, here, tested),
        steps=_steps(results, tested),
        expected=expected_values(catalogue, results, here, tested.device, tested.client, tested.cells, tested.settings),
        links=(Link(name, addresses.link(here, addresses.client(tested.client)), "the client setup and its ceilings"),),
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


def _verdict(tested: Sequence[_Tested]) -> str:
    values = sum(len(one.cells) for one in tested)
    return (
        f"{wording.count(values, 'value')} with {wording.count(len(tested), 'client setup')}, each with the range in "
        "which a repeat on this bench should lie."
    )


def _answer(tested: _Tested) -> str:
    groups, places = len({c.group for c in tested.cells}), len({c.place for c in tested.cells})
    return (
        f"{wording.count(len(tested.cells), 'value')} from {wording.count(places, 'place')} and "
        f"{wording.count(groups, 'kind of link', 'kinds of link')}."
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
    return f"{wording.transport(run.protocol) if run.protocol else 'protocol not stated'}, {flows}"


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
        f"Use {client.name} or, knowing that the range then does not hold, the client you have. Mains power on, "
        "automatic updates, other radios and anything that uses the network off.",
        f"Connect a machine to the {device.model} by wire, faster than the value you expect. Check the channel and the "
        f"width ({widths}) on the client while it runs: a radio may fall back.",
        "Choose a place. With a reference source and receiver: attenuation is what the source sends less what the "
        "receiver reads there. Without: look for the level in the table, which only means the same with the same "
        "client setup.",
        "Start the link, wait until its rate stands still, then measure in the direction of the table"
        f"{lasting}, {wording.count(repeats, 'time')}, and note the level while it runs.",
        "Take the mean of your runs and look whether it lies inside of the range of its row. Before you conclude "
        "anything from one outside, move the client by a hand's width and measure again.",
    )
