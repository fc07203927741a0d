"""`publish` killed at any moment: the old site or the new one is there, whole, and the next run puts all in order.

Early moments fall by chance; late ones, around the note in the catalogue and the swap, are placed by a hook.
"""

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
    for number in range(
        3 * KILLS
    ):  # more than are asked for only where most came too late, as the machine's speed changed
        if number >= KILLS // 2 and caught >= KILLS // 6:
            break
        assert contents(site) == old
        moment = chance.uniform(0, 1) * took
        caught += killed("publish", site, "--catalog", catalog, "--as-of", NEW, cache=charts, after=moment) == -9
        assert contents(site) in (old, new)
        begun = time.monotonic()
        _put_in_order(site, earlier, catalog, charts, old, new)
        took = (time.monotonic() - begun) / 2  # the machine may be busier now than it was
    assert caught >= KILLS // 6, "the moments should fall while the program works"


def test_killed_around_the_swap_it_leaves_the_site_of_that_side(catalog, charts, references, tmp_path):
    old, new, _ = references
    site, earlier = tmp_path / "site", tmp_path / "site.earlier"
    code, _, err = ran("publish", site, "--catalog", catalog, "--as-of", OLD, cache=charts)
    assert code == 0, err
    publish = ("publish", site, "--catalog", catalog, "--as-of", NEW)
    code, out, err = ran(*publish, cache=charts, before=PLACED.format(last=0))
    assert code == 0, err
    moments = [line.removeprefix("moment ") for line in out.splitlines() if line.startswith("moment ")]
    _put_in_order(site, earlier, catalog, charts, old, new)
    swapped = moments.index("after exchange")
    assert moments[swapped - 1] == "before exchange"
    assert {"after leaks", "before _note", "after _note", "after _become_earlier"} <= set(moments)
    spaced = {round(i * (len(moments) - 1) / max(KILLS - 3, 1)) for i in range(KILLS - 2)}
    for place in sorted({*spaced, swapped - 1, swapped}):
        assert contents(site) == old
        code, _, _ = ran(*publish, cache=charts, before=PLACED.format(last=place + 1))
        assert code == -9, moments[place]
        assert contents(site) == (new if place >= swapped else old), moments[place]
        _put_in_order(site, earlier, catalog, charts, old, new)


# Counts what happens once the new site is composed, and ends the process at moment number *last*; 0 lists them all.
PLACED = """
import os, pathlib, shutil, signal
from builder.publishing.making import publishing
from builder.publishing.changing import site_folder
from builder.publishing.changing import swapping
moments = None
def moment(name):
    if moments is not None:
        moments.append(name)
        if len(moments) == {last}:
            os.kill(os.getpid(), signal.SIGKILL)
        if not {last}:
            print("moment", name, flush=True)
def placed(owner, name):
    real = getattr(owner, name)
    def call(*arguments, **keywords):
        global moments
        moment("before " + name)
        result = real(*arguments, **keywords)
        if name == "compose_site":
            moments = []
        moment("after " + name)
        return result
    setattr(owner, name, call)
for owner, names in (
    (publishing, ("compose_site", "faults", "leaks", "visible_batches", "_note", "state_of", "mark_published")),
    (site_folder, ("put_in_place",)), (swapping, ("exchange", "_become_earlier")), (os, ("sync",)),
    (pathlib.Path, ("rename",)), (shutil, ("rmtree",)),
):
    for name in names:
        placed(owner, name)
"""


def _put_in_order(site, earlier, catalog, charts, old, new):
    """What a killed run left is whole; the next one publishes the new site; then the old one stands there again."""
    db = open_catalog(catalog, readonly=True)
    assert verify(db) == []
    db.close()
    code, _, err = ran("publish", site, "--catalog", catalog, "--as-of", NEW, cache=charts)
    assert code == 0, err
    assert contents(site) == new
    assert sorted(p.name for p in site.parent.iterdir() if "site" in p.name) == ["site", "site.earlier"]
    if contents(earlier) != old:  # the killed run had got as far as the swap, so the last one published it again
        assert contents(earlier) == new
        shutil.rmtree(earlier)
        shutil.rmtree(site)
        code, _, err = ran("publish", site, "--catalog", catalog, "--as-of", OLD, cache=charts)
    else:
        code, _, err = ran("rollback", site, "--catalog", catalog, cache=charts)
    assert code == 0, err
