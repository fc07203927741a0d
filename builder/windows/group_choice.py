"""Which groups can be ranked, and their devices, known before any run is copied: a ranking then reads its own clients."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder.bench.asking import bench_of_links, clients_of, copy_about, series_in
from builder.bench.bench import Bench, settings_named, under_settings
from builder.bench.bridging import Setup
from builder.bench.cells import Group
from builder.bench.tracks import GroupFilter
from builder.windows.ranking import can_be_ranked, in_order_of_size
from catalog import queries
from catalog.records import TestedLink
from catalog.visibility import Asked, links_tested


def bench_to_rank(
    catalog: Path, *, as_of: datetime, only: GroupFilter, settings: str | None = None
) -> tuple[Bench, list[Group]]:
    """The groups that `ranking_groups` of the whole bench would give, and a bench that holds the first one whole.

    settings  of which results are ranked; None for as the bench always tests
    Raises    UnknownName for settings nobody entered.
    """
    groups: list[Group] = []
    clients: frozenset[str] = frozenset()

    def of_the_first(copy: Database) -> Asked | None:
        nonlocal clients
        series, constants, under = series_in(copy), queries.method_in_force(copy), None
        if settings is not None:
            under = settings_named(queries.named_settings(copy), settings).settings_id
        sizes = _sizes(links_tested(copy), series, only, under)
        groups.extend(in_order_of_size({g: size for g, size in sizes.items() if can_be_ranked(g, constants)}))
        if not groups:
            return None
        clients = clients_of(series, {groups[0].series})
        return Asked(clients=clients)

    copy = copy_about(catalog, as_of=as_of, then=of_the_first)
    bench = bench_of_links(copy, groups[:1], clients)
    return bench if settings is None else under_settings(bench, settings), groups


def _sizes(
    tested: Iterable[TestedLink], series: Mapping[Setup, str], only: GroupFilter, settings: str | None
) -> dict[Group, tuple[int, int]]:
    """Group -> devices and cells with a value, of the groups in which the filter takes one."""
    devices: dict[Group, set[str]] = defaultdict(set)
    cells: dict[Group, int] = defaultdict(int)
    taken: set[Group] = set()
    for row in tested:
        if row.settings != settings:
            continue
        of_setup = series[row.client, row.driver]
        link = row.band, row.width_mhz, row.direction
        group = Group(of_setup, *link, row.protocol, row.flows, row.security, row.method)
        devices[group].add(row.device)
        cells[group] += row.cells
        if only.takes_of(row.client, group):
            taken.add(group)
    return {group: (len(devices[group]), number) for group, number in cells.items() if group in taken}
