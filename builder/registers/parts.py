"""Parts of devices side by side, block by block: the same marking, another, or not identified."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

from catalog.records import Part

Likeness = Literal["same", "partly", "different", "unknown"]


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
