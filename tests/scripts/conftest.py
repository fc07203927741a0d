"""Node, and the demo as pages get it."""

import os
import shutil
from contextlib import closing

import pytest

from builder.pages.contents import load_contents
from catalog.visibility import public_copy


@pytest.fixture(scope="session")
def node():
    found = shutil.which("node")
    if found is None:
        reason = "node is not installed, so the pure parts of scripts cannot be run"
        pytest.fail(reason) if os.environ.get("LIKELOSS_BROWSER_REQUIRED") == "1" else pytest.skip(reason)
    return found


@pytest.fixture(scope="module")
def contents(demo_file, demo_instant, tmp_path_factory):
    with closing(public_copy(demo_file, as_of=demo_instant, to=tmp_path_factory.mktemp("copy") / "public.db")) as copy:
        return load_contents(copy, as_of=demo_instant, sizes={})
