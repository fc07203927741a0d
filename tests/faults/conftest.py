"""A small catalogue for each test to break, and a chart cache that is warm after the first build."""

import shutil

import pytest

from tests.builder.small_catalog import small_catalog


@pytest.fixture(scope="session")
def charts(tmp_path_factory):
    """Where the program under test keeps its charts (XDG_CACHE_HOME)."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture(scope="session")
def original(tmp_path_factory):
    return small_catalog(tmp_path_factory.mktemp("original") / "catalog.db")


@pytest.fixture
def catalog(original, tmp_path):
    """A copy of the small catalogue, nothing of it published."""
    return shutil.copy(original, tmp_path / "catalog.db") and tmp_path / "catalog.db"
