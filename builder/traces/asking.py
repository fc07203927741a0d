"""What a trace of one figure has to read: of most the results of the devices it names, of ranks and links a client's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from builder.bench.asking import clients_of, copy_about, series_in
from builder.traces.ids import devices_named, parse_figure_id
from builder.traces.inputs import Sources, load_sources
from catalog.figure_names import parts_of
from catalog.records import Link
from catalog.visibility import Asked

_OF_EVERY_DEVICE = frozenset({"rank", "link"})  # in the groups that the figure names


def sources_about(catalog: Path, figure_id: str, *, as_of: datetime) -> Sources:
    """All that a trace of the figure looks at, of a public copy."""
    figure = parse_figure_id(figure_id)
    links: list[Link] | None = None

    def of_its_groups(copy: Database) -> Asked | None:
        nonlocal links
        if figure is None or figure.kind not in _OF_EVERY_DEVICE:
            return None
        clients = clients_of(series_in(copy), parts_of(figure_id))
        links = _links(clients, figure.rest)
        return Asked(clients=clients)

    mixes = figure.names[:1] if figure is not None and figure.kind == "role" else ()
    asked = Asked(mixes=frozenset(mixes))
    copy = copy_about(catalog, *devices_named(figure_id), as_of=as_of, asked=asked, then=of_its_groups)
    return load_sources(copy, links=links)


def _links(clients: Iterable[str], rest: Sequence[str]) -> list[Link]:
    """The one link of the groups that a figure's id names behind its devices, series first: a link's groups share it."""
    _, band, width, direction = (*rest, "", "", "", "")[:4]
    return [(client, band, int(width), direction) for client in clients if width.isdecimal()]
