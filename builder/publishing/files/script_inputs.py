"""What each file of pairs and of my room is made from, as a digest: a later build makes only those that changed.

Only what a file can show goes in. Numbers of runs, which a copy counts anew, do not.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict
from operator import attrgetter
from typing import Any

import orjson

from builder.bench.bench import Bench, Subject, cells_of_subject, subject
from builder.bench.cells import Group, usual
from builder.bench.naming import device_name
from builder.pages.contents import Results
from builder.pages.my_room import room_key
from builder.publishing.files.pair_data import PairFile

# Everything that a comparison takes from a cell; the group and whose it is stand beside it.
COMPARED = (
    "client",
    "driver",
    "session",
    "house",
    "spot",
    "spot_since",
    "place",
    "kit",
    "attenuation_db",
    "readings",
    "readings_sd_db",
    "visits",
    "level_dbm",
    "channels",
    "n",
    "mean",
    "sd",
    "bound",
    "limit",
)
_compared = attrgetter(*COMPARED)


def script_inputs(
    results: Results, files: Sequence[PairFile], devices: Sequence[str], rooms: Sequence[Group]
) -> dict[str, str]:
    """Key of a file -> digest.

    files    the files of pairs, their members numbers of *devices*
    rooms    the groups with a room
    """
    bench = results.bench
    subjects = [subject(bench, device) for device in devices]
    cells = [_by_group(bench, who) for who in subjects]
    common = _digest([_constants(bench), _order(results)])
    own = [_digest([_names(bench, who), list(by_group.items())]) for who, by_group in zip(subjects, cells, strict=True)]
    pages = defaultdict(list)
    for pair in results.pairs:
        pages[pair[0]].append(pair)
    found = {}
    for file in files:
        members = [devices[number] for number in file.members]
        prepared = [pair for device in members for pair in pages[device] if pair[1] in members]
        found[file.key] = _digest([common, [own[number] for number in file.members], prepared])
    clients = [[client.client_id, client.name, client.series] for client in bench.clients.values()]
    around = _digest([_constants(bench), clients])
    levels = [_levels(bench, who) for who in subjects]
    for group in rooms:
        inside = [
            [_names(bench, who), by_group[group.slug], loud.get((group.band, group.width_mhz))]
            for who, by_group, loud in zip(subjects, cells, levels, strict=True)
            if group.slug in by_group
        ]
        found[room_key(group)] = _digest([around, asdict(group), inside])
    return found


def _names(bench: Bench, who: Subject) -> list[str]:
    port = repr(bench.limits.ports.get(who.device))
    return [who.device, who.unit, who.firmware, who.maker, who.model, device_name(bench, who.device), port]


def _by_group(bench: Bench, who: Subject) -> dict[str, str]:
    """Digest of a subject's cells in each group, by the group's slug."""
    slugs: dict[Group, str] = {}
    grouped: dict[str, list[Any]] = defaultdict(list)
    for cell in cells_of_subject(bench, who):
        if cell.mean is not None:
            slug = slugs.get(cell.group) or slugs.setdefault(cell.group, cell.group.slug)
            grouped[slug].append(_compared(cell))
    return {slug: _digest(cells) for slug, cells in grouped.items()}


def _levels(bench: Bench, who: Subject) -> dict[tuple[str, int], list[Any]]:
    """What tells how strongly a subject seems to send, by band and width."""
    found: dict[tuple[str, int], list[Any]] = defaultdict(list)
    for cell in cells_of_subject(bench, who):
        if cell.group.direction == "down" and cell.level_dbm is not None:
            own = [cell.client, cell.driver, cell.level_dbm, cell.attenuation_db, cell.n]
            found[cell.group.band, cell.group.width_mhz].append(own)
    return found


def _constants(bench: Bench) -> list[Any]:
    slopes = {group.slug: bench.relative_slope(group) for group in bench.cells_in}
    return [bench.constants.to_json(), repr(bench.scatter), slopes]


def _order(results: Results) -> list[str]:
    """Groups by what decides which leads a pair, where both have as many places there."""
    company = results.company
    return [group.slug for group in sorted(company, key=lambda g: (usual(g), -company[g], g.sort_key))]


def _digest(value: Any) -> str:
    return hashlib.sha256(orjson.dumps(value)).hexdigest()
