"""How the pairs of a catalogue are parted over files.

Devices lie in groups by a hash of their id, and a file holds the pairs of two such groups. So a choice of two devices
reads one small file, and new results of one device change only the files of its group: the square root of their number.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

PAIR_WORDS = "pairs/words"  # under what the sentences of pairs are handed over to scripts

_DEVICES_A_PART = 16  # on average at most: a file of two full parts then holds 256 pairs


def parts_of(devices: Sequence[str]) -> dict[str, int]:
    """Device -> number of its part. A device keeps its part until the catalogue has doubled."""
    parts = 1
    while parts * _DEVICES_A_PART < len(devices):
        parts *= 2
    return {device: int.from_bytes(hashlib.sha256(device.encode()).digest()[:4]) % parts for device in devices}


def cards_key(part: int) -> str:
    """Under what the cards of a part's devices are handed over to scripts."""
    return f"cards/{part}"


def part_key(one: int, other: int) -> str:
    """Under what the pairs of two parts are handed over to scripts."""
    return f"pairs/{min(one, other)}-{max(one, other)}"
