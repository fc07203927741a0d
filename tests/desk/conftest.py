"""A planned day, and a look at it."""

import shutil
from datetime import UTC, datetime

import pytest

from builder.watching import looks
from builder.watching.jobs import Job
from tests.desk.bench_days import bench_day, dates_of, losses_of
from tests.desk.planned_days import write_plan

PLAN = [
    "plan", "hollendry-bobbin", "--against", "tessarik-plinth", "--both", "--client", "wrenlet-u2", "--band", "5",
    "--width", "80", "--direction", "down", "--days", "1", "--hours", "4", "--write",
]  # fmt: skip


@pytest.fixture(scope="session")
def plans(demo_file, tmp_path_factory):
    """Folder with the planned batch day/ and the workbook day.xlsx."""
    place = tmp_path_factory.mktemp("plans")
    for name in ("day", "day.xlsx"):
        write_plan(PLAN, place / name, demo_file)
    return place


@pytest.fixture
def day(plans, tmp_path):
    return shutil.copytree(plans / "day", tmp_path / "bench" / "day")


@pytest.fixture
def landings(day, demo_file):
    """The clean logs of the day, in the order in which they land."""
    return bench_day(day, losses=losses_of(demo_file), dates=dates_of(day), seed=1)


@pytest.fixture
def at_once(monkeypatch):
    """Files count as whole as soon as they are there."""
    monkeypatch.setattr(looks, "QUIET_S", -1e9)
    monkeypatch.setattr(looks, "LONG_QUIET_S", -1e9)


@pytest.fixture
def job(day, demo_file, tmp_path, at_once):
    """A look at the day that reads what is there."""
    (tmp_path / "kept").mkdir()
    looks._heads.clear()
    return Job(day, demo_file, tmp_path / "kept", datetime(2026, 12, 1, tzinfo=UTC))
