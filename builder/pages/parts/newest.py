"""The days of what a page shows, for the line that says how new its newest data is."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Protocol

from builder.pages.contents import Catalogue, Results
from builder.pages.parts.tested_in_any_way import test_days


class _Dated(Protocol):
    @property
    def date(self) -> str: ...


def days_of(records: Iterable[_Dated]) -> Iterator[str]:
    """The day of each record."""
    return (record.date for record in records)


def days_in(register: Mapping[str, Sequence[_Dated]]) -> Iterator[str]:
    """The day of each record of a register by device."""
    return days_of(chain.from_iterable(register.values()))


def days_tested(results: Results, devices: Iterable[str]) -> Iterator[str]:
    """Every day on which one of *devices* was tested in any way."""
    return (day for device in devices for day in test_days(results, device))


def days_about(catalogue: Catalogue, results: Results, device: str) -> Iterator[str]:
    """The days of all that a device's page tells: tests, prices, evidence of features, corrections and disputes."""
    yield from days_tested(results, [device])
    yield from days_of(catalogue.prices.get(device, ()))
    yield from days_of(catalogue.features.get(device, ()))
    yield from days_of(c for c in catalogue.corrections if c.device == device)
    yield from days_of(d for d in catalogue.disputes if d.device == device)
