"""The trace of a long run of requests is enough to compute it again: figure kind "longwaits"."""

import csv
from datetime import UTC, datetime

import numpy as np

from builder.traces.inputs import load_sources
from builder.traces.tracing import trace
from builder.under_load.longruns import load_longruns
from catalog.entering import enter_batch
from catalog.visibility import public_copy
from tests.builder.under_load.nights_of_requests import night_batch

LATE = datetime(2027, 1, 1, tzinfo=UTC)


def test_a_long_run_of_requests_is_computed_again_from_its_rows(tmp_path):
    folder = night_batch(tmp_path / "night")
    enter_batch(folder, into=tmp_path / "c.db", now=LATE)
    sources = load_sources(public_copy(tmp_path / "c.db", as_of=LATE))
    (run,) = load_longruns(sources.db)
    document = trace(sources, run.figure)
    (source,) = document["inputs"]
    first, last = source["log"]["rows"]
    with (folder / source["log"]["file"]).open() as file:
        rows = list(csv.DictReader(file))[first - 2 : last - 1]
    ms = np.array([float(row["ms"] or "inf") for row in rows])
    figures = document["result"]["figures"]
    assert figures["requests"] == len(rows)
    assert figures["late"] == (ms > source["mark_ms"]).sum()
    assert figures["p95_ms"] == np.quantile(ms, 0.95, method="inverted_cdf")
    # The longest run of failures, a request a second, to the next that was answered.
    failed = "".join("x" if np.isinf(one) else "." for one in ms)
    assert figures["longest_outage_s"] == max(map(len, failed.split(".")))
