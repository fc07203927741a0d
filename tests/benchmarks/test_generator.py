"""The generated bench is the same each time, and holds what it says it holds."""

import csv
import re
from collections import Counter

import numpy as np
import pytest

from tests.benchmarks import generator

COUNT = 40


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Forty devices, without the logs, which take the time."""
    place = tmp_path_factory.mktemp("bench")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(generator.mixes, "request_log", lambda *_: "")
        patch.setattr(generator.mixes, "_throughput", lambda *_: "")
        assert len(list(generator.batches(place, COUNT))) == 1 + COUNT / 10
    return place


@pytest.fixture(scope="module")
def runs(folder):
    return [row for file in sorted(folder.glob("*/runs.csv")) for row in _rows(file)]


def test_two_times_the_same_bytes(tmp_path):
    for name in ("one", "two"):
        assert len(list(generator.batches(tmp_path / name, generator.LEAST))) == 2
    files = sorted(path.relative_to(tmp_path / "one") for path in (tmp_path / "one").rglob("*") if path.is_file())
    assert len(files) > 20
    for path in files:
        assert (tmp_path / "one" / path).read_bytes() == (tmp_path / "two" / path).read_bytes()


def test_too_few_devices_are_refused(tmp_path):
    with pytest.raises(ValueError, match="at least 8 devices, got 7"):
        list(generator.batches(tmp_path, 7))


def test_repeats_are_skewed_and_tied_and_some_are_missing(runs):
    cells = {}
    for row in runs:
        key = tuple(row[name] for name in ("device", "firmware", "session", "client", "direction", "spot"))
        cells.setdefault(key, []).append(row)
    whole = [[float(r["throughput (Mbit/s)"] or "nan") for r in rows] for rows in cells.values() if len(rows) == 3]
    values = np.array([cell for cell in whole if not np.isnan(cell).any()])
    scaled = values / values.mean(axis=1, keepdims=True) - 1
    assert (scaled**3).mean() / (scaled**2).mean() ** 1.5 < -0.5  # a normal truth: 0
    assert np.mean(np.ptp(values, axis=1) == 0) > 0.02  # the wired port holds all three
    outcomes = Counter(row["outcome"] for row in runs)
    assert outcomes["did not finish"]
    assert outcomes["client fault"]
    assert outcomes["aborted"]
    assert {row["statistic"] for row in runs} == {"", "mean", "median"}
    assert 110 < len(runs) / COUNT < 160


def test_all_kinds_of_things_are_there(folder):
    text = "".join(path.read_text(encoding="utf-8") for path in sorted(folder.glob("*/batch.toml")))
    for what, least in (("[[article]]", 5), ("[device.embargo]", 2), ("aliases", 5), ("[[role]]", 5), ("seats", 1)):
        assert text.count(what) >= least, what
    assert max(len(re.findall("device.firmware", part)) for part in text.split("[[device]]\n")) == 2
    articles = "".join(path.read_text(encoding="utf-8") for path in folder.glob("*/articles/*.md"))
    assert articles.count("(= claim ") >= 5
    assert articles.count("(= value ") >= 10
    for table in ("stations", "longruns", "heat", "power", "parts", "features", "prices", "withdrawals"):
        assert sum(len(_rows(file)) for file in folder.glob(f"*/{table}.csv")) >= 3, table


def _rows(file):
    with file.open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))
