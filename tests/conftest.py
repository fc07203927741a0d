"""Sites that many tests look at, built once a session: the small catalogue's, and the demo's."""

import tomllib
from datetime import UTC, datetime

import pytest

from builder.publishing.making.build import build_site
from builder.shipped import demo_folder
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from tests.builder.small_catalog import small_catalog

SMALL_INSTANT = datetime(2026, 6, 30, 12, tzinfo=UTC)


@pytest.fixture(scope="session")
def chart_cache(tmp_path_factory):
    return tmp_path_factory.mktemp("charts")


@pytest.fixture(scope="session")
def small_file(tmp_path_factory):
    return small_catalog(tmp_path_factory.mktemp("small") / "catalog.db")


@pytest.fixture(scope="session")
def build(chart_cache):
    """build(catalog, out, ...) with what most tests do not care about filled in."""

    def built(catalog, out, *, as_of=SMALL_INSTANT, **others):
        keywords = {"jobs": 1, "cache": chart_cache, "progress": lambda _: None} | others
        return build_site(catalog, out=out, as_of=as_of, **keywords)

    return built


@pytest.fixture(scope="session")
def small_site(small_file, build, tmp_path_factory):
    out = tmp_path_factory.mktemp("small-site") / "site"
    build(small_file, out)
    return out


@pytest.fixture(scope="session")
def demo_plan():
    return tomllib.loads((demo_folder() / "demo.toml").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def demo_instant(demo_plan):
    return datetime.fromisoformat(demo_plan["build_instant"])


@pytest.fixture(scope="session")
def demo_file(demo_plan, tmp_path_factory):
    """The demo, entered as `likeloss demo` does it."""
    path = tmp_path_factory.mktemp("demo") / "catalog.db"
    for name in demo_plan["order"]:
        enter_batch(demo_folder() / "batches" / name, into=path, now=datetime(2026, 7, 1, tzinfo=UTC))
    db = open_catalog(path, readonly=False)
    for name in demo_plan.get("corrections", []):
        correct_file(demo_folder() / name, catalog=db, now=datetime(2026, 7, 1, tzinfo=UTC))
    db.close()
    return path


@pytest.fixture(scope="session")
def demo_report_and_site(demo_file, demo_instant, build, tmp_path_factory):
    out = tmp_path_factory.mktemp("demo-site") / "site"
    return build(demo_file, out, as_of=demo_instant, jobs=2), out


@pytest.fixture(scope="session")
def demo_site(demo_report_and_site):
    return demo_report_and_site[1]
