"""The unit that a header states: "throughput_MBps", "rxBytes", "latency (ns)", "bits_per_second"."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from catalog.units import UNITS, Unit, possible_units

# A rate is often named by the amount that comes in a second: "rx_kbit".
_BITS_PER_SECOND: Mapping[str, Unit] = {name: UNITS[f"{name}/s"] for name in UNITS if name.endswith("bit")}
_LONG_TIMES = frozenset({"min", "h"})  # min_rtt is the least one, not one in minutes
_WORDS = re.compile(r"[A-Z]?[a-zµμ]+|[A-Z]+(?![a-z])|/")


def stated_units(header: str, quantity: str) -> tuple[Unit, ...]:
    """Every unit of *quantity* that *header* can state: none where it names none, two where its case is ambiguous.

    quantity  "rate", "data" or "time"; a number of bits is taken for a rate where one is looked for
    """
    for spelling in _spellings(header):
        units = possible_units(spelling)
        if quantity == "rate":
            units = tuple(_BITS_PER_SECOND.get(unit.name, unit) for unit in units)
        fitting = tuple(unit for unit in units if unit.quantity == quantity and unit.name not in _LONG_TIMES)
        if fitting:
            return fitting
    return ()


def _spellings(header: str) -> Iterator[str]:
    """Everything in a header that may be a unit: the longest first, and of two as long the later."""
    parts = [part for part in re.split(r"[^A-Za-zµμ/]+", header) if part]
    yield from _windows(parts)
    for part in reversed(parts):  # words run together, as in rxBytesTotal
        yield from _windows(_WORDS.findall(part))


def _windows(words: list[str]) -> Iterator[str]:
    for size in range(min(len(words), 4), 0, -1):
        for start in range(len(words) - size, -1, -1):
            yield "".join(words[start : start + size])
            yield "_".join(words[start : start + size])  # kB_s is kB/s
