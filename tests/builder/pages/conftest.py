"""What pages are made of, read once from each catalogue."""

import pytest

from builder.pages.material import load_material
from catalog.visibility import public_copy
from tests.conftest import SMALL_INSTANT


@pytest.fixture(scope="session")
def small(small_file):
    return load_material(public_copy(small_file, as_of=SMALL_INSTANT), as_of=SMALL_INSTANT)


@pytest.fixture(scope="session")
def demo(demo_file, demo_instant):
    return load_material(public_copy(demo_file, as_of=demo_instant), as_of=demo_instant)
