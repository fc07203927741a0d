"""The first copy of a preview, begun while the rest of the program is loaded: SQLite needs no Python to make it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from sqlite_utils import Database

from catalog.visibility import full_copy

_APART = 2**40  # between the numbers of two devices: room for halving it 20 times, and for a million runs
_LEAST = 2**20


class Spread:
    """Where the numbers of each device's runs begin: far apart, and the same in every copy that is made with it."""

    def __init__(self) -> None:
        self._places: list[str] = []
        self._behind: dict[str, int] = {}

    def __call__(self, devices: Sequence[str]) -> Mapping[str, int]:
        """The number behind which the runs of each device are counted. New devices come in between."""
        fresh = [device for device in devices if device not in self._behind]
        if len(fresh) > len(self._places):
            self._lay(sorted({*self._places, *fresh}))
        for device in fresh:
            if device not in self._behind and not self._put_between(device):
                self._lay(sorted({*self._places, *fresh}))
        return {device: self._behind[device] for device in devices}

    def _lay(self, devices: list[str]) -> None:
        self._places = devices
        self._behind = {device: place * _APART for place, device in enumerate(devices, start=1)}

    def _put_between(self, device: str) -> bool:
        place = bisect_left(self._places, device)
        low = self._behind[self._places[place - 1]] if place else 0
        high = self._behind[self._places[place]] if place < len(self._places) else low + 2 * _APART
        if high - low < 2 * _LEAST:
            return False
        self._places.insert(place, device)
        self._behind[device] = (low + high) // 2
        return True


@dataclass
class FirstCopy:
    """A catalogue's full copy, on its way in the one thread that may use it.

    copy  raises CatalogUnusable when it is asked for its result; None where batches have to be entered first
    """

    maker: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1, "material"))
    spread: Spread = field(default_factory=Spread)
    copy: Future[Database] | None = None


def begun_copy(catalog: Path, *, as_of: datetime) -> FirstCopy:
    """The copy of a catalogue to which nothing is added."""
    first = FirstCopy()
    first.copy = first.maker.submit(full_copy, catalog, as_of=as_of, blocks=first.spread)
    return first
