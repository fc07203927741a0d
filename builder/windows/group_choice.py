"""Which groups can be ranked, and their devices, known before any run is copied: a ranking then reads its own clients."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
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
from catalog.visibility import Asked, cells_tested, links_tested


def bench_to_rank(
    catalog: Path, *, as_of: datetime, only: GroupFilter, settings: str | None = None
) -> tuple[Bench, list[Group]]:
    """A bench that holds the group whole that `ranking_groups` of the whole bench gives first, and all groups it gives.

    The groups are in no order but for the first one.

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
        tested = [(_group(row, series), row) for row in links_tested(copy) if row.settings == under]
        devices: dict[Group, set[str]] = defaultdict(set)
        for group, row in tested:
            devices[group].add(row.device)
        taken = {group for group, row in tested if only.takes_of(row.client, group)}
        sizes = {g: (len(devices[g]), 0) for g in taken if can_be_ranked(g, constants)}
        if not sizes:
            return None
        most = max(size for size, _ in sizes.values())
        largest = {g for g, (size, _) in sizes.items() if size == most}
        if len(largest) > 1:  # of equals, cells count
            links = {(row.client, row.band, row.width_mhz, row.direction) for group, row in tested if group in largest}
            cells: dict[Group, int] = defaultdict(int)
            for row, number in cells_tested(copy, links).items():
                if row.settings == under:
                    cells[_group(row, series)] += number
            sizes |= {g: (most, cells[g]) for g in largest}
        groups.extend(in_order_of_size(sizes))
        clients = clients_of(series, {groups[0].series})
        return Asked(clients=clients)

    copy = copy_about(catalog, as_of=as_of, then=of_the_first)
    bench = bench_of_links(copy, groups[:1], clients)
    return bench if settings is None else under_settings(bench, settings), groups


def _group(row: TestedLink, series: Mapping[Setup, str]) -> Group:
    of_setup = series[row.client, row.driver]
    return Group(of_setup, row.band, row.width_mhz, row.direction, row.protocol, row.flows, row.security, row.method)
