"""When and with what a device was tested in any way: alone with one client, with several at once, or for hours."""

from __future__ import annotations

from collections import Counter

from builder.bench.naming import series_name
from builder.pages.contents import Results


def test_days(results: Results, device: str) -> list[str]:
    """Every day on which the device was tested, the earliest first."""
    mixes, longruns = results.under_load(device)
    return sorted({test.date for tests in (results.bench.every_cell(device), mixes, longruns) for test in tests})


def first_day(results: Results, device: str) -> str | None:
    """The day of its first test of any kind; None without tests."""
    return next(iter(test_days(results, device)), None)


def client_names(results: Results, device: str) -> list[str]:
    """The clients it was tested with, those with most single-client results first."""
    bench = results.bench
    mixes, longruns = results.under_load(device)
    alone = Counter(series_name(bench, cell.group.series) for cell in bench.every_cell(device))
    met = [*(client for mix in mixes for client in mix.client_ids), *(run.client for run in longruns)]
    others = Counter(bench.clients[client].name for client in met)
    return list(dict.fromkeys([name for names in (alone, others) for name, _ in names.most_common()]))
