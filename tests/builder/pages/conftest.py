"""What pages are made of, read once from each catalogue."""

import pytest

from builder.pages.material import load_material
from builder.pages.parts.picturing import image_address
from catalog import queries
from catalog.visibility import public_copy
from tests.conftest import SMALL_INSTANT


def material(path, instant):
    copy = public_copy(path, as_of=instant)
    sizes = {image_address(image): (40, 20) for image in queries.images(copy)}
    return load_material(copy, as_of=instant, sizes=sizes)


@pytest.fixture(scope="session")
def small(small_file):
    return material(small_file, SMALL_INSTANT)


@pytest.fixture(scope="session")
def demo(demo_file, demo_instant):
    return material(demo_file, demo_instant)
