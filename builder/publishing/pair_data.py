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
from builder.comparisons.bench import subject
from builder.comparisons.padded_sides import Whole
from builder.comparisons.pair_matrix import Block, pair_matrix
from builder.comparisons.pair_parts import part_key, parts_of
from builder.comparisons.pair_rows import SENTENCES
from builder.comparisons.pair_sentences import PAIR_SENTENCES
from builder.comparisons.refusals import UNITS
from builder.comparisons.verdicts import PLACE_WORDS, in_sentence
from builder.pages.material import Material

_CHANNELS = SENTENCES.index("channels")
_RANGES = [number for number, name in enumerate(SENTENCES) if "{tested_a}" in PAIR_SENTENCES[name].text]


@dataclass(frozen=True, slots=True)
class _Part:
    """One file: its pairs are those from *first* to before *last*, of the devices numbered in *members*."""

    key: str
    first: int
    last: int
    members: Sequence[int]


def pair_words() -> dict[str, Any]:
    """The sentences, and how their figures are printed."""
    return {
        "sentences": [
            {"text": s.text, "figures": [[figure.slot, figure.kind] for figure in s.figures], "verdict": s.verdict}
            for s in PAIR_SENTENCES.values()
        ],
        "channels": _CHANNELS,
        "attenuation": _words_of_match(PLACE_WORDS["attenuation"], UNITS["attenuation"], wording.DB_TO),
        "level": _words_of_match(PLACE_WORDS["level"], UNITS["level"], wording.DBM_TO),
        "spot": _words_of_match("At {spot}", UNITS["attenuation"], wording.DB_TO),
    }


def _words_of_match(place: str, unit: str, to: str) -> dict[str, str]:
    return {"place": place, "where": in_sentence(place), "unit": unit, "to": to}


def pair_devices(material: Material) -> list[str]:
    """The devices with results, in order."""
    return sorted(device for device in material.bench.devices if material.bench.cells_of.get(device))


def pair_data(material: Material, *, only: Collection[str] | None = None) -> dict[str, dict[str, Any]]:
    """The pairs of all devices with results, by the key of their file.

    only  keys of the files that are wanted; the pairs of others are not looked at
    """
    bench = material.bench
    devices = pair_devices(material)
    a, b, parts = _parted(devices, only)
    found = pair_matrix(bench, [subject(bench, device) for device in devices], a, b, company=material.company)
    prepared = set(material.pairs)
    data = {part.key: _part(material, devices, part, a, b, prepared) for part in parts}
    edges = [edge for part in parts for edge in (part.first, part.last)]
    place: dict[tuple[str, int], int] = {}  # of a block within a file
    for number, block in enumerate(found.blocks):
        columns = _Columns(block)
        bounds = np.searchsorted(block.pairs, edges).tolist()
        for part, start, end in zip(parts, bounds[::2], bounds[1::2], strict=True):
            if start < end:
                place[part.key, number] = len(data[part.key]["blocks"])
                data[part.key]["blocks"].append(columns.within(part, slice(start, end)))
    for part in parts:
        data[part.key]["lead"] = [place[part.key, number] for number in found.lead[part.first : part.last].tolist()]
    return data


def _parted(devices: Sequence[str], only: Collection[str] | None) -> tuple[Whole, Whole, list[_Part]]:
    """All pairs, those of one file after the other, and the files in the same order."""
    part_of = parts_of(devices)
    members: dict[int, list[int]] = {}
    for number, device in enumerate(devices):
        members.setdefault(part_of[device], []).append(number)
    first: list[Whole] = []
    second: list[Whole] = []
    parts: list[_Part] = []
    begun = 0
    for one, other in combinations_with_replacement(sorted(members), 2):
        key = part_key(one, other)
        if only is not None and key not in only:
            continue
        both = sorted({*members[one], *members[other]})
        ours = np.isin(both, members[one])
        i, j = np.triu_indices(len(both), 1)
        kept = np.ones(len(i), np.bool_) if one == other else ours[i] != ours[j]
        a, b = np.array(both, dtype=np.intp)[i[kept]], np.array(both, dtype=np.intp)[j[kept]]
        if len(a):
            parts.append(_Part(key, begun, begun + len(a), both))
            begun += len(a)
            first.append(a)
            second.append(b)
    none = np.zeros(0, dtype=np.intp)
    return np.concatenate([none, *first]), np.concatenate([none, *second]), parts


def _part(
    material: Material, devices: Sequence[str], part: _Part, a: Whole, b: Whole, prepared: Collection[tuple[str, str]]
) -> dict[str, Any]:
    """A file before what is said in it: its devices, its pairs by their places among them, and pages of their own."""
    within = {number: place for place, number in enumerate(part.members)}
    ones, others = (who[part.first : part.last].tolist() for who in (a, b))
    known = [material.bench.devices[devices[number]] for number in part.members]
    pages = [(i, (devices[x], devices[y])) for i, (x, y) in enumerate(zip(ones, others, strict=True))]
    return {
        "devices": [[device.device_id, device.model, f"{device.maker} {device.model}"] for device in known],
        "a": [within[number] for number in ones],
        "b": [within[number] for number in others],
        "pages": {str(i): addresses.pair(*pair) for i, pair in pages if pair in prepared},
        "blocks": [],
    }


class _Columns:
    """A block as it is written: its rows as columns of numbers, cut up over the files."""

    def __init__(self, block: Block) -> None:
        rows = block.rows
        self.block = block
        self.about = {"match": block.match, "group": block.group.slug if block.group else ""}
        if block.spot is not None:
            self.about["spot"] = block.spot
        # Eight times the sentence, plus decimals, whom it is about, and whether a remark follows.
        self.code = 8 * rows.sentence + rows.decimals + 2 * rows.about_b + 4 * rows.remark
        self.says_ranges = np.isin(rows.sentence, _RANGES)
        ends = {number: wording.rounded_many(np.array(ends), 1).tolist() for number, ends in block.tested.items()}
        self.tested = ends if self.says_ranges.any() else {}

    def within(self, part: _Part, own: slice) -> dict[str, Any]:
        """The rows of one file."""
        block, rows = self.block, self.block.rows
        figures = rows.figures[:, own]
        used = np.flatnonzero(figures.any(axis=1))
        entry: dict[str, Any] = {
            **self.about,
            "code": self.code[own],
            "figures": list(figures[: used[-1] + 1]) if len(used) else [],
        }
        pairs = block.pairs[own]
        if len(pairs) < part.last - part.first:
            entry["of"] = pairs - part.first
        if block.match == "attenuation":
            entry["passes"] = rows.passes[own]
        if self.says_ranges[own].any():
            entry["tested"] = _by_place(self.tested, part)
        if rows.remark[own].any():
            entry["channels"] = _by_place(block.channels, part)
        if block.with_what:
            entry["with"] = _by_place(block.with_what, part)
        return entry


def _by_place(known: Mapping[int, Any], part: _Part) -> dict[str, Any]:
    return {str(place): known[number] for place, number in enumerate(part.members) if number in known}
