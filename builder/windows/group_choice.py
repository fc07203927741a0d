"""Which groups can be ranked, and their devices, known before any run is copied: a ranking then reads its own clients."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path

from builder.bench.asking import bench_of_links, clients_of, copy_about, series_in
from builder.bench.bench import Bench, load_bench, under_settings
from builder.bench.bridging import Setup
from builder.bench.cells import Group
from builder.bench.tracks import GroupFilter
from builder.windows.ranking import in_order_of_size
from builder.wording import rounded
from catalog.records import Settings, TestedPlace
from catalog.visibility import Asked, part_and_places


def bench_to_rank(
    catalog: Path, *, as_of: datetime, only: GroupFilter, settings: str | None = None
) -> tuple[Bench, list[Group]]:
    """The groups that `ranking_groups` of the whole bench would give, and a bench that holds the first one whole.

    settings  of which results are ranked; None for as the bench always tests
    Raises    UnknownName for settings nobody entered.
    """
    copy, places = part_and_places(catalog, Asked(), as_of=as_of)
    bench, series = load_bench(copy), series_in(copy)
    copy.close()
    if settings is not None:
        under_settings(bench, settings)
        settings = bench.settings[settings].settings_id
    groups = in_order_of_size(bench.constants, _sizes(places, series, bench.settings, only, settings))
    if not groups:
        return bench, groups
    clients = clients_of(series, {groups[0].series})
    bench = bench_of_links(copy_about(catalog, as_of=as_of, asked=Asked(clients=clients)), [groups[0]], clients)
    return bench if settings is None else under_settings(bench, settings), groups


def _sizes(
    places: Iterable[TestedPlace],
    series: Mapping[Setup, str],
    settings: Mapping[str, Settings],
    only: GroupFilter,
    under: str | None,
) -> dict[Group, tuple[int, int]]:
    """Group -> devices and cells with a value, of the groups in which the filter takes one."""
    groups: dict[tuple[object, ...], Group] = {}
    devices: dict[Group, set[str]] = defaultdict(set)
    cells: dict[Group, set[tuple[object, ...]]] = defaultdict(set)
    taken: set[Group] = set()
    for at in places:
        named = None if at.settings is None else settings[at.settings].settings_id
        if named != under:
            continue
        link = at.band, at.width_mhz, at.direction, at.protocol, at.flows, at.security, at.method
        of_setup = series[at.client, at.driver]
        group = groups.setdefault((of_setup, *link), Group(of_setup, *link))
        level = None if at.level_dbm is None else rounded(at.level_dbm, 0)
        place = at.spot, at.spot_since, at.attenuation_db, level
        devices[group].add(at.device)
        cells[group].add((at.device, at.unit, at.firmware, at.client, at.driver, at.session, at.of_runs, *place))
        if only.takes_of(at.client, group):
            taken.add(group)
    return {group: (len(devices[group]), len(cells[group])) for group in cells if group in taken}
