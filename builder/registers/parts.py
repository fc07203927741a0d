"""Parts of devices side by side, block by block: the same marking, another, or not identified."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from catalog.records import Part

Likeness = Literal["same", "partly", "different", "unknown"]

MAIN_WORDS = ("processor", "radio", "memory")
"""A block with one of these words in its name is a main part: it decides what a device can do."""


@dataclass(frozen=True, slots=True)
class Block:
    """One function block of two devices.

    likeness  unknown: on one of the two nothing was identified
    inferred  a marking that decides was not read off the part
    """

    name: str
    a: tuple[Part, ...]
    b: tuple[Part, ...]
    likeness: Likeness
    inferred: bool
    shared: tuple[str, ...]


def matched_blocks(a: Sequence[Part], b: Sequence[Part]) -> list[Block]:
    """Every block that either device has a part of, by name."""
    blocks: dict[str, tuple[list[Part], list[Part]]] = defaultdict(lambda: ([], []))
    for side, parts in enumerate((a, b)):
        for part in parts:
            blocks[part.block][side].append(part)
    return [_block(name, *blocks[name]) for name in sorted(blocks)]


def _block(name: str, a: list[Part], b: list[Part]) -> Block:
    markings = [{p.marking for p in side} for side in (a, b)]
    shared = markings[0] & markings[1]
    likeness: Likeness = "different"
    if not a or not b:
        likeness = "unknown"
    elif markings[0] == markings[1]:
        likeness = "same"
    elif shared:
        likeness = "partly"
    inferred = any(p.read != "read" for p in (*a, *b))
    return Block(name, tuple(a), tuple(b), likeness, inferred, tuple(sorted(shared)))


def devices_by_part(parts: Iterable[Part]) -> dict[tuple[str, str], list[str]]:
    """(block, marking) -> devices that have it, by block and marking."""
    results: dict[tuple[str, str], set[str]] = defaultdict(set)
    for part in parts:
        results[part.block, part.marking].add(part.device)
    return {key: sorted(devices) for key, devices in sorted(results.items())}


def is_main(block: str) -> bool:
    """Whether a block is a main part."""
    return any(word in block.lower() for word in MAIN_WORDS)


@dataclass(frozen=True, slots=True)
class Alike:
    """Two devices that share a main part, and all their blocks side by side."""

    a: str
    b: str
    blocks: tuple[Block, ...]

    def named(self, *likeness: Likeness) -> list[str]:
        """Blocks of that likeness, main parts first, the processor before the others."""
        return sorted((b.name for b in self.blocks if b.likeness in likeness), key=_rank)

    @property
    def inferred(self) -> list[str]:
        """Blocks whose likeness rests on a marking that was inferred."""
        return sorted((b.name for b in self.blocks if b.inferred and b.likeness != "unknown"), key=_rank)

    @property
    def order(self) -> tuple[int, bool, int, int, str, str]:
        """Sorts the most alike first: by main parts in common, the processor among them, fewer inferred or different."""
        shared = [name for name in self.named("same", "partly") if is_main(name)]
        inferred = sum(name in shared for name in self.inferred)
        no_processor = not any(MAIN_WORDS[0] in name.lower() for name in shared)
        return -len(shared), no_processor, inferred, len(self.named("different")), self.a, self.b


def _rank(block: str) -> tuple[int, str]:
    return next((i for i, word in enumerate(MAIN_WORDS) if word in block.lower()), len(MAIN_WORDS)), block


def alike(parts: Mapping[str, Sequence[Part]]) -> list[Alike]:
    """Every two devices that share a main part, the most alike first; *parts* by device."""
    owners = devices_by_part(part for of_device in parts.values() for part in of_device)
    pairs = {pair for (block, _), devices in owners.items() if is_main(block) for pair in combinations(devices, 2)}
    results = [Alike(a, b, tuple(matched_blocks(parts[a], parts[b]))) for a, b in pairs]
    return sorted(results, key=lambda one: one.order)
