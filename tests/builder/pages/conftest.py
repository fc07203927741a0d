"""What pages are made of, read once from each catalogue."""

from dataclasses import replace

import pytest

from builder.pages.contents import Contents, load_contents
from builder.pages.parts.picturing import image_address
from catalog import queries
from catalog.visibility import public_copy
from tests.conftest import SMALL_INSTANT


def with_changed(contents, **changed):
    """The contents with other values of these fields, in whichever part they are."""
    return Contents(*(replace(part, **{k: v for k, v in changed.items() if hasattr(part, k)}) for part in contents))


def by_heading(table):
    """Each row of a table as heading -> entry."""
    headings = [column.text for column in table.columns]
    return [dict(zip(headings, (row.head, *row.entries), strict=True)) for row in table.rows]


def contents(path, instant):
    copy = public_copy(path, as_of=instant)
    sizes = {image_address(image): (40, 20) for image in queries.images(copy)}
    return load_contents(copy, as_of=instant, sizes=sizes)


@pytest.fixture(scope="session")
def small(small_file):
    return contents(small_file, SMALL_INSTANT)


@pytest.fixture(scope="session")
def demo(demo_file, demo_instant):
    return contents(demo_file, demo_instant)
