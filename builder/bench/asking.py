"""Benches for one question: of the results in a public copy those that its answer rests on (catalog/visibility/asked.py)."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from pathlib import Path

from sqlite_utils import Database

from builder.bench.bench import Bench, load_bench
from builder.bench.bridging import Setup, load_bridge_tests, series_of_setups
from builder.bench.cells import Group, cells
from catalog import queries
from catalog.figure_names import devices_meant
from catalog.records import Run
from catalog.visibility import Asked, Then, public_part


def copy_about(
    catalog: Path, *names: str, as_of: datetime, asked: Asked | None = None, then: Then | None = None
) -> Database:
    """The part of a public copy that holds the results of the devices which *names* may mean, beside what is *asked*.

    names  as they are typed, "device@firmware+settings"; a name of nothing does no harm
    then   what else is asked once that part is there (`public_part`)
    """
    asked = asked or Asked()
    asked = replace(asked, devices=asked.devices | devices_meant(*names))
    return public_part(catalog, asked, as_of=as_of, then=then)


def bench_about(catalog: Path, *names: str, as_of: datetime, asked: Asked | None = None) -> Bench:
    """The bench of `copy_about`."""
    return load_bench(copy_about(catalog, *names, as_of=as_of, asked=asked))


def bench_of_links(copy: Database, groups: Iterable[Group], clients: Iterable[str]) -> Bench:
    """A bench with some groups whole, of a part that holds all runs of the *clients* of their series."""
    links = {(client, g.band, g.width_mhz, g.direction) for client in clients for g in groups}
    return bench_of_some(copy, queries.runs_of_links(copy, links))


def bench_of_some(copy: Database, runs: Sequence[Run]) -> Bench:
    """A bench of some runs of a copy that holds all of their clients."""
    return load_bench(copy, runs=runs, cells_of_runs=partial(cells, whereabouts=queries.whereabouts(copy)))


def series_in(copy: Database) -> dict[Setup, str]:
    """The series of every client setup and driver after the bridge tests, by any part of a copy."""
    return series_of_setups(load_bridge_tests(copy), queries.clients(copy))


def clients_of(series: dict[Setup, str], wanted: Container[str]) -> frozenset[str]:
    """The client setups of the *wanted* series, with any driver."""
    return frozenset(client for (client, _), name in series.items() if name in wanted)
