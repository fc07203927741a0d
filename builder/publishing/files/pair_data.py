"""What the chooser works with: every pair of devices in every group, with the verdicts that the pair pages print.

Sentences are written once, as templates (`pair_words`); for each pair only which one and its printed figures. Columns of
numbers, one set per group, are written and packed many times faster than a record per pair. `pair_sentences.mjs` puts
them together again.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement, product
from typing import Any

import numpy as np

from builder import addresses, wording
from builder.bench.bench import subject_named
from builder.bench.cells import Group, usual
from builder.bench.sides import Whole
from builder.pages.contents import Results
from builder.pairs.matrix import PairBlock, pair_matrix
from builder.pairs.pair_parts import part_key, parts_of
from builder.pairs.rows import SENTENCES
from builder.pairs.sentences import AXIS_UNITS, OVERVIEW, PAIR_SENTENCES
from builder.pairs.verdicts import PLACE_WORDS, in_sentence

# 400 devices make 32 parts and 36 blocks, of which new results of one device concern 8. With half as many parts to a block,
# half as many files would be made again, in the same time, and all of them would take twice as long.
PARTS_A_BLOCK = 4
_CHANNELS, _PORT = SENTENCES.index("channels"), SENTENCES.index("port")
_RANGES = [number for number, name in enumerate(SENTENCES) if "{tested_a}" in PAIR_SENTENCES[name].text]


@dataclass(frozen=True, slots=True)
class DeviceBlock:
    """Devices whose pairs are worked out at once: one array is much quicker than many small ones.

    one    number of a part -> its devices, in order (pairs/pair_parts.py)
    other  the same of the parts that these are paired with; equal to *one* for the pairs among them
    order  groups; of equally good ones the first leads a pair
    pages  pairs with a page of their own
    """

    one: Mapping[int, Sequence[str]]
    other: Mapping[int, Sequence[str]]
    order: Sequence[Group]
    pages: Sequence[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class PairFile:
    """One file of pairs. Devices are numbered in the order of the block.

    key      under which scripts are given it
    members  the devices it knows, ascending
    a, b     its pairs, shape (p,), a before b
    """

    key: str
    members: Sequence[int]
    a: Whole
    b: Whole


def pair_words() -> dict[str, Any]:
    """The sentences, and how their figures are printed."""
    return {
        "sentences": [
            {"text": s.text, "figures": [[figure.slot, figure.kind] for figure in s.figures], "verdict": s.verdict}
            for s in PAIR_SENTENCES.values()
        ],
        "overview": dict(OVERVIEW),
        "counts": wording.COUNTED,
        "channels": _CHANNELS,
        "port": _PORT,
        "attenuation": _words_of_match(PLACE_WORDS["attenuation"], AXIS_UNITS["attenuation"], wording.DB_TO),
        "level": _words_of_match(PLACE_WORDS["level"], AXIS_UNITS["level"], wording.DBM_TO),
        "spot": _words_of_match("At {spot}", AXIS_UNITS["spot"], wording.DB_TO),
    }


def _words_of_match(place: str, unit: str, to: str) -> dict[str, str]:
    return {"place": place, "where": in_sentence(place), "unit": unit, "to": to}


def pair_devices(results: Results) -> list[str]:
    """The devices with results, in order."""
    return sorted(device for device in results.bench.devices if results.bench.cells_of.get(device))


def pair_blocks(results: Results) -> list[DeviceBlock]:
    """The blocks that hold all pairs of `pair_devices`."""
    company, devices = results.company, pair_devices(results)
    part_of = parts_of(devices)
    members: dict[int, dict[int, list[str]]] = defaultdict(lambda: defaultdict(list))
    for device in devices:
        members[part_of[device] // PARTS_A_BLOCK][part_of[device]].append(device)
    pages: dict[tuple[int, ...], list[tuple[str, str]]] = defaultdict(list)
    for pair in results.pairs:
        pages[tuple(sorted(part_of[device] // PARTS_A_BLOCK for device in pair))].append(pair)
    order = sorted(company, key=lambda group: (usual(group), -company[group], group.sort_key))
    return [
        DeviceBlock(members[one], members[other], order, pages[one, other])
        for one, other in combinations_with_replacement(sorted(members), 2)
    ]


def pair_data(results: Results, block: DeviceBlock) -> dict[str, dict[str, Any]]:
    """Key of a file -> what it holds, for all files with pairs of a block."""
    devices = sorted({device for part in (*block.one.values(), *block.other.values()) for device in part})
    files = _files(block, devices)
    if not files:
        return {}
    bench = results.bench
    a, b = (np.concatenate([getattr(file, side) for file in files]) for side in ("a", "b"))
    subjects = [subject_named(bench, device) for device in devices]
    # Only the order of groups counts: how many devices each one has would change with every new device.
    company = {group: -place for place, group in enumerate(block.order)}
    matrix = pair_matrix(bench, subjects, a, b, company=company)
    data = {file.key: _about(results, devices, file, block.pages) for file in files}
    edges = np.cumsum([0, *(len(file.a) for file in files)])
    place: dict[tuple[str, int], int] = {}  # of a matrix's block within a file
    for number, rows in enumerate(matrix.blocks):
        columns = _Columns(rows)
        bounds = np.searchsorted(rows.pairs, edges).tolist()
        for file, first, start, end in zip(files, edges.tolist(), bounds, bounds[1:], strict=False):
            if start < end:
                place[file.key, number] = len(data[file.key]["blocks"])
                data[file.key]["blocks"].append(columns.within(file, first, slice(start, end)))
    for file, first, last in zip(files, edges.tolist(), edges.tolist()[1:], strict=False):
        data[file.key]["lead"] = [place[file.key, number] for number in matrix.lead[first:last].tolist()]
    return data


def _files(block: DeviceBlock, devices: Sequence[str]) -> list[PairFile]:
    """The files that hold a pair of a block; its *devices* are in order."""
    number_of = {device: number for number, device in enumerate(devices)}
    members = {
        part: np.array([number_of[device] for device in names], dtype=np.intp)
        for part, names in (*block.one.items(), *block.other.items())
    }
    files = []
    for one, other in sorted({(min(pair), max(pair)) for pair in product(block.one, block.other)}):
        x, y = np.repeat(members[one], len(members[other])), np.tile(members[other], len(members[one]))
        # Within one part each pair comes twice and each device meets itself.
        kept = x < y if one == other else np.ones(len(x), dtype=np.bool_)
        if kept.any():
            a, b = np.minimum(x, y)[kept], np.maximum(x, y)[kept]
            known = sorted({*members[one].tolist(), *members[other].tolist()})
            files.append(PairFile(part_key(one, other), known, a, b))
    return files


def _about(
    results: Results, devices: Sequence[str], file: PairFile, prepared: Collection[tuple[str, str]]
) -> dict[str, Any]:
    """A file without its verdicts: its devices, its pairs by their places among them, and which have a page."""
    within = {number: place for place, number in enumerate(file.members)}
    ones, others = file.a.tolist(), file.b.tolist()
    known = [results.bench.devices[devices[number]] for number in file.members]
    pages = [(i, (devices[x], devices[y])) for i, (x, y) in enumerate(zip(ones, others, strict=True))]
    return {
        "devices": [
            [
                device.device_id,
                device.model,
                f"{device.maker} {device.model}",
                wording.port_speed(port) if (port := results.bench.limits.ports.get(device.device_id)) else "",
            ]
            for device in known
        ],
        "a": [within[number] for number in ones],
        "b": [within[number] for number in others],
        "pages": {str(i): addresses.pair(*pair) for i, pair in pages if pair in prepared},
        "blocks": [],
    }


class _Columns:
    """A block of the matrix as it is written: its rows as columns of numbers, divided among the files."""

    def __init__(self, block: PairBlock) -> None:
        rows = block.rows
        self.block = block
        self.about = {"match": block.match, "group": block.group.slug if block.group else ""}
        if block.spot is not None:
            self.about["spot"] = block.spot
        # 32 times the sentence, plus decimals, which side it is about, and which remarks follow.
        self.code = (
            32 * rows.sentence + rows.decimals + 2 * rows.about_b + 4 * rows.remark + 8 * rows.port_a + 16 * rows.port_b
        )
        self.says_ranges = np.isin(rows.sentence, _RANGES)
        tested = block.tested.items() if self.says_ranges.any() else ()
        self.tested = {number: wording.rounded_many(np.array(ends), 1).tolist() for number, ends in tested}

    def within(self, file: PairFile, first: int, rows_of_file: slice) -> dict[str, Any]:
        """The rows of one file, whose pairs begin with number *first*."""
        block, rows = self.block, self.block.rows
        figures = rows.figures[:, rows_of_file]
        used = np.flatnonzero(figures.any(axis=1))
        columns = _from_the_first(list(figures[: used[-1] + 1])) if len(used) else []
        entry: dict[str, Any] = {
            **self.about,
            "code": self.code[rows_of_file],
            "figures": columns,
        }
        pairs = block.pairs[rows_of_file] - first
        if len(pairs) < len(file.a):
            entry["of"] = pairs
        if block.match == "attenuation":
            entry["passes"] = rows.passes[rows_of_file]
        if self.says_ranges[rows_of_file].any():
            entry["tested"] = _by_place(self.tested, file, pairs)
        if rows.remark[rows_of_file].any():
            entry["channels"] = _by_place(block.channels, file, pairs)
        if block.with_what:
            entry["with"] = _by_place(block.with_what, file, pairs)
        return entry


def _from_the_first(columns: Sequence[Whole]) -> list[Whole]:
    """Columns of figures, the second to fourth as how far they are from where they usually lie, which packs by a third.

    Most are a value, the ends of its interval, and what would have shown: half an interval below, as much above, and
    more than that. Turned back by `pair_sentences.mjs`, whatever they are.
    """
    if len(columns) < 2:
        return list(columns)
    value, half = columns[0], columns[0] - columns[1]
    usual = (value + half, half)
    return [value, half, *(one - lies for one, lies in zip(columns[2:4], usual, strict=False)), *columns[4:]]


def _by_place(known: Mapping[int, Any], file: PairFile, pairs: Whole) -> dict[str, Any]:
    """What is known of the devices in some of a file's pairs, and of no others."""
    there = {*file.a[pairs].tolist(), *file.b[pairs].tolist()}
    return {str(place): known[n] for place, n in enumerate(file.members) if n in there and n in known}
