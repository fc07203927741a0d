"""The first copy of a preview, begun while the rest of the program is loaded: SQLite needs no Python to make it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from builder.desk.batches import Entered, entered, watched_folders
from builder.desk.watched import States, states
from catalog.checking.logfiles import KeptLogs
from catalog.errors import InputRefused
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


@dataclass(frozen=True)
class Begun:
    """The batches as if they were entered, and the catalogue's full copy with them."""

    batches: Entered
    copy: Database


@dataclass
class FirstCopy:
    """What a preview of a catalogue and *batches* begins with, on its way in the one thread that may use its databases.

    since      what the files were before any of them was read
    kept_logs  what logs of the batches were read as
    begun      raises CatalogUnusable, or InputRefused for a batch that is not there, when it is asked for its result
    """

    catalog: Path
    batches: Sequence[Path]
    as_of: datetime
    since: States
    maker: ThreadPoolExecutor
    spread: Spread
    kept_logs: KeptLogs
    begun: Future[Begun]


def begun_copy(catalog: Path, batches: Sequence[Path], *, as_of: datetime) -> FirstCopy:
    """The copy of a catalogue with *batches* in it."""
    since = states(watched_folders(batches), catalog=catalog.resolve())
    maker, spread, kept_logs = ThreadPoolExecutor(1, "material"), Spread(), dict[Any, Any]()

    def begin() -> Begun:
        for batch in batches:
            if not batch.exists():
                raise InputRefused(f"{batch} does not exist. A batch is a folder that holds batch.toml, or a workbook.")
        result = entered(batches, catalog=catalog, now=as_of, kept_logs=kept_logs)
        source = catalog if result.whole is None else result.whole
        return Begun(result, full_copy(source, as_of=as_of, blocks=spread))

    return FirstCopy(catalog, batches, as_of, since, maker, spread, kept_logs, maker.submit(begin))
