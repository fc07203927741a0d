"""`publish` killed at any moment: the old site or the new one is there, whole, and the next run puts all in order."""

import random
import shutil
import time

import pytest

from catalog.connection import open_catalog
from catalog.exporting import verify
from tests.faults.killing import KILLS, contents, killed, ran

OLD, NEW = "2025-06-10T12:59:59Z", "2025-06-10T13:00:00Z"  # between them an article appears


@pytest.fixture(scope="module")
def references(original, charts, tmp_path_factory):
    """The old and the new site as they should be, and how long publishing takes with warm charts."""
    folder = tmp_path_factory.mktemp("references")
    catalog = folder / "catalog.db"
    shutil.copy(original, catalog)
    took = 0.0
    # A site remembers what was first published when, so the new one follows upon the old.
    for instant, name in ((OLD, "old"), (OLD, "new"), (NEW, "new"), (OLD, "again"), (NEW, "again")):
        begun = time.monotonic()
        code, _, err = ran("publish", folder / name, "--catalog", catalog, "--as-of", instant, cache=charts)
        took = time.monotonic() - begun
        assert code == 0, err
    assert contents(folder / "new") == contents(folder / "again")
    return contents(folder / "old"), contents(folder / "new"), took


def test_killed_publish_leaves_a_whole_site(catalog, charts, references, tmp_path):
    old, new, took = references
    chance = random.Random(20250610)
    site, earlier = tmp_path / "site", tmp_path / "site.earlier"
    code, _, err = ran("publish", site, "--catalog", catalog, "--as-of", OLD, cache=charts)
    assert code == 0, err
    caught = 0
    for number in range(KILLS):
        assert contents(site) == old
        # Half of the moments fall anywhere, half into the end, where folders change places.
        share = chance.uniform(0, 1) if number % 2 else chance.uniform(0.75, 1)
        code = killed("publish", site, "--catalog", catalog, "--as-of", NEW, cache=charts, after=share * took)
        caught += code == -9
        assert contents(site) in (old, new)
        db = open_catalog(catalog, readonly=True)
        assert verify(db) == []
        db.close()
        begun = time.monotonic()
        code, _, err = ran("publish", site, "--catalog", catalog, "--as-of", NEW, cache=charts)
        took = time.monotonic() - begun  # the machine may be busier now than it was
        assert code == 0, err
        assert contents(site) == new
        assert sorted(p.name for p in tmp_path.iterdir() if "site" in p.name) == ["site", "site.earlier"]
        if contents(earlier) != old:  # the killed run had got as far as the swap, so the last one published it again
            assert contents(earlier) == new
            shutil.rmtree(earlier)
            shutil.rmtree(site)
            code, _, err = ran("publish", site, "--catalog", catalog, "--as-of", OLD, cache=charts)
        else:
            code, _, err = ran("rollback", site, "--catalog", catalog, cache=charts)
        assert code == 0, err
    assert caught >= KILLS // 3, "the moments should fall while the program works"
