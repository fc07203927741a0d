"""Which client setups a link goes through, known from its two ends, so that no others are read."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder.bench.asking import bench_of_links, clients_of, copy_about, series_in
from builder.bench.bench import Bench, load_bench, subject_named
from builder.bench.cells import Group
from builder.bench.tracks import GroupFilter
from builder.windows.indirect import linked_groups
from catalog.visibility import Asked


def bench_to_link(
    catalog: Path, a: str, b: str, *, units: tuple[str | None, str | None], as_of: datetime, only: GroupFilter
) -> Bench:
    """A bench with both subjects and all that may bridge them.

    Raises  UnknownName as `subject_named` does.
    """
    bench: Bench | None = None
    groups: set[Group] = set()
    clients: frozenset[str] = frozenset()

    def of_the_bridges(copy: Database) -> Asked | None:
        nonlocal bench, groups, clients
        bench = load_bench(copy)
        ends = [subject_named(bench, name, unit=unit) for name, unit in zip((a, b), units, strict=True)]
        groups = {group for pair in linked_groups(bench, *ends, only=only) for group in pair}
        clients = clients_of(series_in(copy), {group.series for group in groups})
        return Asked(clients=clients) if groups else None

    copy = copy_about(catalog, a, b, as_of=as_of, then=of_the_bridges)
    return bench if bench is not None and not groups else bench_of_links(copy, groups, clients)
