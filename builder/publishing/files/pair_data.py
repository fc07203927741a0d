"""What the chooser works with: every pair of devices in every group, with the verdicts that the pair pages print.

Sentences go once, as templates (`words`); of each pair only which one and its printed figures. Columns of numbers, one
a group, are written and packed many times faster than a record a pair. `pair_sentences.mjs` puts them together again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement
from typing import Any

import numpy as np

from builder import addresses, wording
from builder.bench.bench import subject
from builder.bench.sides import Whole
from builder.pages.contents import Results
from builder.pairs.matrix import PairBlock, pair_matrix
from builder.pairs.pair_parts import part_key, parts_of
from builder.pairs.rows import SENTENCES
from builder.pairs.sentences import AXIS_UNITS, OVERVIEW, PAIR_SENTENCES
from builder.pairs.verdicts import PLACE_WORDS, in_sentence

_CHANNELS, _PORT = SENTENCES.index("channels"), SENTENCES.index("port")
_RANGES = [number for number, name in enumerate(SENTENCES) if "{tested_a}" in PAIR_SENTENCES[name].text]


@dataclass(frozen=True, slots=True)
class PairFile:
    """One file of pairs. Devices are meant by their places among all of them.

    key      under what it is handed over to scripts
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


def pair_files(devices: Sequence[str]) -> list[PairFile]:
    """All files that hold a pair of *devices*, which are in order."""
    part_of = parts_of(devices)
    members: dict[int, list[int]] = {}
    for number, device in enumerate(devices):
        members.setdefault(part_of[device], []).append(number)
    files = []
    for one, other in combinations_with_replacement(sorted(members), 2):
        first, second = (np.array(members[part], dtype=np.intp) for part in (one, other))
        x, y = np.repeat(first, len(second)), np.tile(second, len(first))
        # Within one part each pair comes twice and each device meets itself.
        kept = x < y if one == other else np.ones(len(x), dtype=np.bool_)
        if kept.any():
            a, b = np.minimum(x, y)[kept], np.maximum(x, y)[kept]
            files.append(PairFile(part_key(one, other), sorted({*members[one], *members[other]}), a, b))
    return files


def pair_data(results: Results, files: Sequence[PairFile]) -> dict[str, dict[str, Any]]:
    """What stands in each of the files, by key; the pairs of other files are not looked at."""
    if not files:
        return {}
    bench = results.bench
    devices = pair_devices(results)
    a, b = (np.concatenate([getattr(file, side) for file in files]) for side in ("a", "b"))
    found = pair_matrix(bench, [subject(bench, device) for device in devices], a, b, company=results.company)
    prepared = set(results.pairs)
    data = {file.key: _about(results, devices, file, prepared) for file in files}
    edges = np.cumsum([0, *(len(file.a) for file in files)])
    place: dict[tuple[str, int], int] = {}  # of a block within a file
    for number, block in enumerate(found.blocks):
        columns = _Columns(block)
        bounds = np.searchsorted(block.pairs, edges).tolist()
        for file, first, start, end in zip(files, edges.tolist(), bounds, bounds[1:], strict=False):
            if start < end:
                place[file.key, number] = len(data[file.key]["blocks"])
                data[file.key]["blocks"].append(columns.within(file, first, slice(start, end)))
    for file, first, last in zip(files, edges.tolist(), edges.tolist()[1:], strict=False):
        data[file.key]["lead"] = [place[file.key, number] for number in found.lead[first:last].tolist()]
    return data


def _about(
    results: Results, devices: Sequence[str], file: PairFile, prepared: Collection[tuple[str, str]]
) -> dict[str, Any]:
    """A file before what is said in it: its devices, its pairs by their places among them, and pages of their own."""
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
    """A block as it is written: its rows as columns of numbers, cut up over the files."""

    def __init__(self, block: PairBlock) -> None:
        rows = block.rows
        self.block = block
        self.about = {"match": block.match, "group": block.group.slug if block.group else ""}
        if block.spot is not None:
            self.about["spot"] = block.spot
        # 32 times the sentence, plus decimals, whom it is about, and which remarks follow.
        self.code = (
            32 * rows.sentence + rows.decimals + 2 * rows.about_b + 4 * rows.remark + 8 * rows.port_a + 16 * rows.port_b
        )
        self.says_ranges = np.isin(rows.sentence, _RANGES)
        tested = block.tested.items() if self.says_ranges.any() else ()
        self.tested = {number: wording.rounded_many(np.array(ends), 1).tolist() for number, ends in tested}

    def within(self, file: PairFile, first: int, own: slice) -> dict[str, Any]:
        """The rows of one file, the pairs of which begin with number *first*."""
        block, rows = self.block, self.block.rows
        figures = rows.figures[:, own]
        used = np.flatnonzero(figures.any(axis=1))
        entry: dict[str, Any] = {
            **self.about,
            "code": self.code[own],
            "figures": list(figures[: used[-1] + 1]) if len(used) else [],
        }
        pairs = block.pairs[own] - first
        if len(pairs) < len(file.a):
            entry["of"] = pairs
        if block.match == "attenuation":
            entry["passes"] = rows.passes[own]
        if self.says_ranges[own].any():
            entry["tested"] = _by_place(self.tested, file, pairs)
        if rows.remark[own].any():
            entry["channels"] = _by_place(block.channels, file, pairs)
        if block.with_what:
            entry["with"] = _by_place(block.with_what, file, pairs)
        return entry


def _by_place(known: Mapping[int, Any], file: PairFile, pairs: Whole) -> dict[str, Any]:
    """What is known of the devices in some of a file's pairs: of no other, which only other files may speak of."""
    there = {*file.a[pairs].tolist(), *file.b[pairs].tolist()}
    return {str(place): known[n] for place, n in enumerate(file.members) if n in there and n in known}
