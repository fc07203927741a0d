"""Results under settings on a device's page: what settings bring, and everything measured under each of them."""

from __future__ import annotations

from dataclasses import replace

from builder.bench.settings import called, stated
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.blocks import Entry, Section, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.tables.device_register import heat_table, power_table
from builder.pages.tables.device_results import cell_sections, longrun_table
from builder.pairs.verdicts import PairFigure
from builder.wording import capital, listing, lowered
from catalog.figure_names import joined_id, subject_id
from catalog.records import Device


def settings_sections(catalogue: Catalogue, results: Results, here: str, device: Device) -> tuple[Section, ...]:
    """Everything measured under each settings; none for a device that was always tested as usual."""
    sections: list[Section] = []
    for settings in _named(catalogue, results, device.device_id):
        identifier = subject_id(device.device_id, settings)
        part = joined_id(settings)
        sections += cell_sections(catalogue, results, here, identifier)
        tables = (
            longrun_table(results, identifier, key=f"long-runs~{part}"),
            power_table(catalogue, device, identifier, key=f"power~{part}"),
            heat_table(catalogue, identifier, key=f"heat~{part}"),
        )
        if any(tables):
            sections.append(_others(results, settings, tuple(table for table in tables if table)))
    return tuple(sections)


def _named(catalogue: Catalogue, results: Results, device: str) -> list[str]:
    """Every settings that anything of the device was measured under, in the order of entry."""
    alone = results.bench.settings_of.get(device, ())
    names = dict.fromkeys(one.settings_id for one in results.bench.settings.values())
    others = (catalogue.heat, catalogue.power, results.longruns_of)
    return [name for name in names if name in alone or any(subject_id(device, name) in each for each in others)]


def brought_sections(results: Results, device: str) -> tuple[Section, ...]:
    """One section for each pair of settings that met at a spot: at how many it shows, and a table of the spots."""
    pairs: dict[tuple[str, str], list[PairFigure]] = {}
    for figure in results.settings_pairs.get(device, ()):
        pairs.setdefault((figure.a.settings, figure.b.settings), []).append(figure)
    return tuple(
        Section(
            key=f"settings~{joined_id(*names)}",
            heading=f"{_called(results, names[0])}, against {lowered(_called(results, names[1]))}",
            sentences=(_summary(figures),),
            tables=(_spot_table(results, figures, key=f"spots~{joined_id(*names)}"),) if len(figures) > 1 else (),
        )
        for names, figures in pairs.items()
    )


def _summary(figures: list[PairFigure]) -> str:
    """At how many spots the settings can be told apart; of a single one what the tests say."""
    if len(figures) == 1:
        return figures[0].sentence
    shown = sum(figure.verdict in ("separated", "at-least") for figure in figures)
    if not shown:
        return f"At none of {len(figures)} places can these tests tell the two apart."
    if shown == len(figures):
        return f"The two differ at each of {shown} places."
    return f"The two differ at {shown} of {len(figures)} places; at the others these tests cannot tell them apart."


def _spot_table(results: Results, figures: list[PairFigure], *, key: str) -> Table:
    columns: list[Column[PairFigure]] = [
        Column("Spot", lambda figure: Entry(text=figure.spot or "")),
        Column("What these tests say", lambda figure: Entry(text=figure.sentence), sentence=True, decides=True),
    ]
    if len({_conditions(figure) for figure in figures}) > 1:
        several = len({(figure.a.unit, figure.a.firmware) for figure in figures}) > 1
        columns.append(Column("With", lambda figure: Entry(text=_under(results, figure, several=several))))
    return table_of(figures, columns, key=key, caption="Spot by spot; each is judged by itself")


def _called(results: Results, settings: str) -> str:
    return called(results.bench.settings[settings]) if settings else "As usual"


def _conditions(figure: PairFigure) -> tuple[object, ...]:
    """What a sentence does not say itself: the band of a link stands in it."""
    groups = [replace(group, band="") for group in (figure.group, figure.group_b) if group]
    return figure.client, figure.a.unit, figure.a.firmware, *groups


def _under(results: Results, figure: PairFigure, *, several: bool) -> str:
    """The links of a verdict, and the machine; firmware and unit where *several* were tested."""
    links = " against ".join(results.names[group].short for group in (figure.group, figure.group_b) if group)
    which = f", firmware {figure.a.firmware}, unit {figure.a.unit}" if several else ""
    clients = [results.bench.clients[one].name for one in figure.client.split(", ")]
    return f"{links} ({listing(clients)}{which})"


def _others(results: Results, settings: str, tables: tuple[Table, ...]) -> Section:
    one = results.bench.settings[settings]
    return Section(
        key=f"under~{joined_id(settings)}",
        heading=f"{called(one)}: long runs, power and heat",
        sentences=(f"{capital(stated(one))}.",),
        tables=tables,
    )
