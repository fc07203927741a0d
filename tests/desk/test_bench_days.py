"""The replayed bench day itself: a clean one enters as it lies there, and a slipped one has what it says."""

import shutil
from collections import Counter
from datetime import UTC, datetime

import numpy as np
import pytest

from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from tests.desk.bench_days import bench_day, dates_of, losses_of, note_at_desk, write_logs
from tests.desk.planned_days import write_plan
from tests.desk.slips import DAYS, KINDS, counted, slipped_day

CEILING = 1015.9  # of wrenlet-u2 at 5 GHz, 80 MHz, down, as the demo's evidence has it
REFERENCE = "tessarik-plinth"
PLAN = [
    "plan", "hollendry-bobbin", "--against", REFERENCE, "--both", "--client", "wrenlet-u2", "--band", "5",
    "--width", "80", "--direction", "down", "--days", "1", "--write",
]  # fmt: skip


@pytest.fixture(scope="module")
def planned(demo_file, tmp_path_factory):
    place = tmp_path_factory.mktemp("planned")
    shutil.copy(demo_file, place / "catalog.db")
    write_plan(PLAN, place / "day", place / "catalog.db")
    return place / "day"


@pytest.fixture
def day(planned, tmp_path):
    return shutil.copytree(planned, tmp_path / "day")


def test_a_clean_day_enters_without_a_typed_answer(day, demo_file, tmp_path):
    landings = bench_day(day, losses=losses_of(demo_file), dates=dates_of(day), seed=1)
    assert len(landings) >= 50
    assert [one.at for one in landings] == sorted(one.at for one in landings)
    write_logs(day, landings)
    note_at_desk(day, landings)
    catalog = shutil.copy(demo_file, tmp_path / "catalog.db")
    report = check_batch(day, catalog=open_catalog(catalog, readonly=True))
    assert report.problems == ()
    entered = enter_batch(day, into=catalog, now=datetime(2027, 1, 1, tzinfo=UTC))
    assert (entered.rows_new, entered.rows_planned) == (len(landings), 0)


def test_thirty_slips_of_ten_kinds_and_fifty_clean_logs(day, demo_file):
    facts = {"losses": losses_of(demo_file), "dates": dates_of(day), "ceiling": CEILING, "reference": REFERENCE}
    days = [slipped_day(day, seed=seed, **facts) for seed in range(1, DAYS + 1)]
    slips, clean = counted(days)
    assert slips == 30
    assert clean >= 50
    for seed, landings in enumerate(days, start=1):
        assert set(Counter(one.slip for one in landings)) == {*KINDS, ""}
        untouched = {one.path: one for one in bench_day(day, losses=facts["losses"], dates=facts["dates"], seed=seed)}
        for one in landings:
            same = np.array_equal(one.values, untouched[one.path].values, equal_nan=True)
            same &= (one.start, one.typed) == (untouched[one.path].start, untouched[one.path].typed)
            assert same == (one.slip == ""), one.path
    again = slipped_day(day, seed=1, **facts)
    assert [one.content for one in again] == [one.content for one in days[0]]
