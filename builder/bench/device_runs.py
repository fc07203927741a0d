"""The runs of each device, made of their rows only where something asks for them: most of a build looks at few."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence, ValuesView
from functools import cached_property
from itertools import groupby
from operator import itemgetter
from typing import Any

import orjson
from sqlite_utils import Database

from builder.observed import digest_of
from catalog import queries
from catalog.records import Run

RunsOf = Mapping[str, Mapping[int, Run]]  # device -> its runs by number


class DeviceRuns(Mapping[int, Run]):
    """The runs of one device by number, in the order of `queries.runs`.

    rows  their rows, the number first
    """

    def __init__(self, rows: Sequence[tuple[Any, ...]], made: Callable[[tuple[Any, ...]], Run]) -> None:
        self._rows, self._made = rows, made

    @cached_property
    def _runs(self) -> dict[int, Run]:
        return {row[0]: self._made(row) for row in self._rows}

    @cached_property
    def digest(self) -> str:
        """SHA-256 of what they say, whatever their numbers in this copy are."""
        return hashlib.sha256(orjson.dumps([row[1:] for row in self._rows])).hexdigest()

    def __getitem__(self, number: int) -> Run:
        return self._runs[number]

    def __contains__(self, number: object) -> bool:
        return number in self._runs

    def __iter__(self) -> Iterator[int]:
        return (row[0] for row in self._rows)

    def __len__(self) -> int:
        return len(self._rows)

    def values(self) -> ValuesView[Run]:
        return self._runs.values()


class EveryRun(Mapping[int, Run]):
    """All runs by number, in the order of their devices."""

    def __init__(self, runs_of: RunsOf) -> None:
        self._runs_of = runs_of

    @cached_property
    def _device(self) -> dict[int, str]:
        return {number: device for device, runs in self._runs_of.items() for number in runs}

    @cached_property
    def digest(self) -> str:
        """SHA-256 of what they say."""
        return digest_of(list(self._runs_of.values()))

    def __getitem__(self, number: int) -> Run:
        return self._runs_of[self._device[number]][number]

    def __iter__(self) -> Iterator[int]:
        return (number for runs in self._runs_of.values() for number in runs)

    def __len__(self) -> int:
        return sum(map(len, self._runs_of.values()))


def device_runs(db: Database) -> RunsOf:
    """All runs of a copy, by device."""
    rows, made = queries.run_rows(db)
    return {device: DeviceRuns(list(of_device), made) for device, of_device in groupby(rows, itemgetter(2))}
