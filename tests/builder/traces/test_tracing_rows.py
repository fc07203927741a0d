"""Traces of ranks, and of figures that are single rows: computed again from the printed inputs, and found in the files."""

import csv
import json
import math
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.multitest import multipletests

from builder.shipped import demo_folder
from builder.traces.ids import (
    ceiling_figure,
    heat_figure,
    loss_figure,
    power_figure,
    price_figure,
)
from builder.traces.inputs import load_sources
from builder.traces.tracing import trace, trace_texts
from builder.windows.ranking import rank, rank_figure, ranking_groups
from catalog import queries
from catalog.entering import enter_batch
from catalog.errors import UnknownName
from catalog.visibility import public_copy
from tests.builder.traces import recomputing as again

STORIES = Path(__file__).parents[2] / "stories"
PUBLISHED = Path(__file__).parents[2] / "published"
FOLDERS = again.folders_by_batch(STORIES, demo_folder())
LATE = datetime(2027, 1, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def demo(demo_plan, tmp_path_factory):
    """The demo as it was entered: without its corrections, so that every row says what its file says."""
    path = tmp_path_factory.mktemp("rows") / "demo.db"
    for name in demo_plan["order"]:
        enter_batch(demo_folder() / "batches" / name, into=path, now=LATE)
    return load_sources(public_copy(path, as_of=LATE))


def traced(sources, figure):
    document = json.loads(json.dumps(trace(sources, figure)))
    assert (document["figure"], document["method"]["number"]) == (figure, 2)
    assert document["kind"] == figure.split("~")[0]
    assert list(trace_texts(document))
    return document


def row_of(document):
    """The one row a figure rests on, as the trace tells it, and as its file has it."""
    (side,) = document["inputs"]
    return side["row"], again.row_at(side["row"], FOLDERS)


def test_ranks_of_the_demo(demo):
    checked = set()
    for group in ranking_groups(demo.bench)[:4]:
        for window in ("near", "middle", "far"):
            found = rank(demo.bench, group, window)
            if len(found.ranked) < 2 or any(entry.bound for entry in found.ranked):
                continue
            document = traced(demo, rank_figure(found, found.ranked[0].subject.device))
            assert again.check_places(document, FOLDERS)
            low, high = document["result"]["range"]
            lines = {side["device"]: again.cells_of(side) for side in document["inputs"]}
            for entry in found.ranked:
                result = traced(demo, rank_figure(found, entry.subject.device))["result"]
                best, worst = ranks(document, lines, entry.subject.device, low, high)
                assert (result["best"], result["worst"], result["of"]) == (best, worst, len(lines))
                checked.add((best, worst))
    assert len(checked) > 5
    assert any(best != worst for best, worst in checked)


def ranks(document, lines, device, low, high):
    """Rank interval from the lines alone: apart are two where the comparisons of each say so."""
    own = apart_from(document, lines, device, low, high)
    both = {other: lead for other, lead in own.items() if device in apart_from(document, lines, other, low, high)}
    return 1 + sum(lead < 0 for lead in both.values()), len(lines) - sum(lead > 0 for lead in both.values())


def apart_from(document, lines, device, low, high):
    """Other device -> difference, of those that are separated. Source of the adjustment: statsmodels, Holm."""
    others = [name for name in lines if name != device]
    ps, differences = [], []
    for other in others:
        sides = [
            (sign, cells, again.weights_over(cells, low, high), again.slope_over(cells, low, high))
            for sign, cells in ((1, lines[device]), (-1, lines[other]))
        ]
        difference = sum(s * w * m for s, cells, ws, _ in sides for w, (_, m, *_) in zip(ws, cells, strict=True))
        u, df = again.uncertainty(document, sides, "attenuation")
        tail = stats.norm.sf(abs(difference) / u) if math.isinf(df) else stats.t.sf(abs(difference) / u, df)
        ps.append(2 * tail)
        differences.append(difference)
    apart = multipletests(ps, alpha=0.05, method="holm")[0]
    return {name: found for name, found, yes in zip(others, differences, apart, strict=True) if yes}


def test_a_device_without_a_rank_has_no_rank_to_trace(demo):
    left_out = [
        rank_figure(found, found.not_ranked[0].subject.device)
        for group in ranking_groups(demo.bench)
        for found in (rank(demo.bench, group, "far"),)
        if found.not_ranked
    ]
    assert left_out
    with pytest.raises(UnknownName, match="There is no figure"):
        trace(demo, left_out[0])


def test_ceilings_of_the_demo(demo):
    assert demo.bench.limits.ceilings
    for key, value in demo.bench.limits.ceilings.items():
        document = traced(demo, ceiling_figure(key))
        rows = [side["row"] for side in document["inputs"]]
        assert max(row["mbit_s"] for row in rows) == document["result"]["mbit_s"] == value
        assert document["result"]["bound_from_mbit_s"] == pytest.approx(0.97 * value)  # method section 4
        assert all(row["typed"] in again.row_at(row, FOLDERS) for row in rows)


def test_losses_of_the_demo(demo):
    several = 0
    for epoch in queries.epochs(demo.db)[::5]:
        document = traced(demo, loss_figure(epoch))
        rows = [side["row"] for side in document["inputs"]]
        losses = [row["reference_eirp_dbm"] - row["reading_dbm"] for row in rows]
        assert document["result"]["attenuation_db"] == pytest.approx(np.mean(losses))
        assert document["result"]["readings"] == len(rows)
        if len(rows) > 1:
            assert document["result"]["readings_sd_db"] == pytest.approx(np.std(losses, ddof=1))
            several += 1
        for row in rows:
            assert holds(again.row_at(row, FOLDERS), row["reading_dbm"])
    assert several


def test_rises_of_the_demo(demo):
    hot = 0
    for heat in queries.heat(demo.db):
        document = traced(demo, heat_figure(heat))
        row, cells = row_of(document)
        assert holds(cells, row["reading_c"])
        rise = None if row["ambient_c"] is None else pytest.approx(row["reading_c"] - row["ambient_c"])
        assert document["result"]["rise_k"] == rise
        hot += document["result"]["caution"] is not None
    assert hot


def test_powers_of_the_demo(demo):
    # Source: class limits of IEEE 802.3 (tests/published/poe.csv), at the supply and at the device.
    limits = list(csv.DictReader((PUBLISHED / "poe.csv").open(encoding="utf-8")))
    column = {"supply": "pse_min_output_w", "device": "pd_max_input_w"}
    assert queries.power(demo.db)
    for power in queries.power(demo.db):
        document = traced(demo, power_figure(power))
        row, cells = row_of(document)
        assert holds(cells, row["watts"])
        enough = [float(c[column[row["side"]]]) for c in limits if float(c[column[row["side"]]]) >= row["watts"]]
        least = document["result"]["least_class"]
        assert (least is None) == (not enough)
        if least is not None:
            (own,) = (float(c[column[row["side"]]]) for c in limits if int(c["class"]) == least)
            assert own == min(enough)


def test_prices_of_the_demo(demo):
    assert queries.prices(demo.db)
    for price in queries.prices(demo.db):
        document = traced(demo, price_figure(price))
        row, cells = row_of(document)
        assert holds(cells, row["amount"])
        assert row["currency"] in cells
        cost = row["amount"] + 3 * (row["licence_per_year"] or 0)
        assert document["result"]["cost_over_3_years"] == pytest.approx(cost)


def holds(cells, value):
    """Whether a row of a file has that number."""
    found = []
    for cell in cells:
        try:
            found.append(float(cell))
        except ValueError:
            continue
    return value in found
