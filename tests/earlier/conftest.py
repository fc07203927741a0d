"""A catalogue of version 1: as people have it, a copy for a test to break, and migrated."""

import shutil

import pytest

from catalog.connection import open_catalog
from tests.earlier.unpacking import version_1


@pytest.fixture(scope="session")
def original(tmp_path_factory):
    return version_1(tmp_path_factory.mktemp("earlier") / "catalog.db")


@pytest.fixture
def old(original, tmp_path):
    (tmp_path / "bench").mkdir()
    return shutil.copy(original, tmp_path / "bench" / "catalog.db")


@pytest.fixture(scope="session")
def migrated(original, tmp_path_factory):
    path = shutil.copy(original, tmp_path_factory.mktemp("migrated") / "catalog.db")
    open_catalog(path, readonly=False).close()
    return path
