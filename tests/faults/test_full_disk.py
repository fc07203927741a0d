"""A disk that takes no more: one clear sentence, exit 1, and nothing changed. A full disk is not a damaged catalogue.

A small file system in memory (tmpfs) where the tests may mount one; everywhere also a limit to what a file may hold
(RLIMIT_FSIZE, POSIX setrlimit), which SQLite and Python meet as a failing write.
"""

import shutil
import sqlite3
import subprocess
from contextlib import closing

import pytest

from tests.faults.killing import contents, ran
from tests.faults.many_runs import many_runs

LIMIT = "import resource, signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN); resource.setrlimit(resource.RLIMIT_FSIZE, ({0}, {0}))"


def refused(code, err):
    assert code == 1, err
    assert "Traceback" not in err
    sentence = err.strip().splitlines()[-1]
    assert sentence.endswith(".")
    assert len(sentence.split()) > 5
    assert "damaged" not in sentence
    assert any(word in sentence for word in ("disk", "space", "file too large", "written")), sentence
    return sentence


def held(folder):
    """Every file and what it holds. Of a catalogue not its bytes: SQLite keeps no copy of a page that was free before."""
    files = contents(folder)
    with closing(sqlite3.connect(folder / "catalog.db")) as db:
        return files | {"catalog.db": "\n".join(db.iterdump())}


@pytest.fixture
def placed(original, tmp_path):
    """A folder with the catalogue, a published site, and a batch of half a megabyte."""
    folder = tmp_path / "bench"
    folder.mkdir()
    shutil.copy(original, folder / "catalog.db")
    return folder


@pytest.fixture(scope="module")
def batch(tmp_path_factory):
    return many_runs(tmp_path_factory.mktemp("batches") / "many", 3000)


def test_file_limit_while_publishing(placed, charts):
    site, catalog = placed / "site", placed / "catalog.db"
    code, _, err = ran("publish", site, "--catalog", catalog, cache=charts)
    assert code == 0, err
    before = contents(placed)
    for kibibytes in (4, 64, 300):
        code, _, err = ran("publish", site, "--catalog", catalog, cache=charts, before=LIMIT.format(kibibytes * 1024))
        refused(code, err)
        assert contents(placed) == before
    assert ran("publish", site, "--catalog", catalog, cache=charts)[0] == 0


def test_file_limit_while_entering(placed, batch, charts):
    catalog = placed / "catalog.db"
    before = held(placed)
    limit = LIMIT.format(catalog.stat().st_size + 16 * 1024)
    code, _, err = ran("enter", batch, "--catalog", catalog, cache=charts, before=limit)
    assert refused(code, err).startswith("The catalogue cannot be written: the disk ")
    assert held(placed) == before
    assert ran("verify", "--catalog", catalog, cache=charts)[0] == 0
    assert ran("enter", batch, "--catalog", catalog, cache=charts)[0] == 0


def test_file_limit_while_entering_into_a_new_catalogue(placed, batch, charts):
    before = contents(placed)
    for kibibytes in (4, 200):
        code, _, err = ran(
            "enter", batch, "--catalog", placed / "new.db", cache=charts, before=LIMIT.format(kibibytes * 1024)
        )
        assert refused(code, err).startswith("The catalogue cannot be written: the disk ")
        assert contents(placed) == before


@pytest.fixture
def written(placed, batch, charts):
    """The same with what verbs have written before: a dump, a map, a site with stills. Since then a batch was entered."""
    catalog = placed / "catalog.db"
    (placed / "log.csv").write_text("time,Mbit/s\n" + "".join(f"{n},{500 + n}\n" for n in range(30)))
    for verb in (
        ["dump", placed / "dump.jsonl"],
        ["map", placed / "log.csv", "--write", "older"],
        ["build", "--out", placed / "site", "--stills", "--jobs", "1"],
        ["enter", batch],
    ):
        code, _, err = ran("--catalog", catalog, *verb, cache=charts)
        assert code == 0, err
    return placed


VERBS = {
    "dump": ["dump", "dump.jsonl"],
    "a new dump": ["dump", "new.jsonl"],
    "export": ["export", "out"],
    "map": ["map", "log.csv", "--write", "newer"],
    "a first map": ["map", "alone/log.csv", "--write", "first"],
    "new": ["new", "next"],
    "stills": ["build", "--stills", "--jobs", "1"],
}


def test_file_limit_leaves_what_was_written_before(written, charts):
    (written / "alone").mkdir()
    shutil.copy(written / "log.csv", written / "alone" / "log.csv")
    before, folders = contents(written), sorted(written.rglob("*/"))
    for name, (verb, *words) in VERBS.items():
        for limit in (0, 100) if name != "stills" else (64 * 1024, 600 * 1024):
            chdir = f"import os; os.chdir({str(written)!r}); "
            code, _, err = ran(
                "--catalog", written / "catalog.db", verb, *words, cache=charts, before=chdir + LIMIT.format(limit)
            )
            sentence = refused(code, err)
            if verb != "build":
                assert "cannot be written: file too large. What was there before is as it was." in sentence
            assert contents(written) == before, name
            assert sorted(written.rglob("*/")) == folders, name


@pytest.fixture
def small_disk(tmp_path):
    """A file system of 3 MB, gone after the test."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=3m", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode != 0:
        pytest.skip("no file system may be mounted here; the file limit above tests the same")
    yield disk
    subprocess.run(["umount", "--lazy", str(disk)], check=True)


def test_full_file_system(original, batch, charts, small_disk):
    site, catalog = small_disk / "site", small_disk / "catalog.db"
    shutil.copy(original, catalog)
    (small_disk / "ballast").write_bytes(b"\0" * (shutil.disk_usage(small_disk).free - 200 * 1024))
    before = contents(small_disk)
    code, _, err = ran("publish", site, "--catalog", catalog, cache=charts)
    refused(code, err)
    assert contents(small_disk) == before
    code, _, err = ran("enter", batch, "--catalog", catalog, cache=charts)
    refused(code, err)
    assert contents(small_disk) == before
    # Not a byte is left: reading needs none, and what would have to be written is refused.
    (small_disk / "more").write_bytes(b"\0" * shutil.disk_usage(small_disk).free)
    before = contents(small_disk)
    for verb in (["publish", site], ["enter", batch], ["dump", small_disk / "d"], ["export", small_disk / "out"]):
        code, _, err = ran(*verb, "--catalog", catalog, cache=charts)
        refused(code, err)
        assert contents(small_disk) == before
    assert ran("rank", "--catalog", catalog, cache=charts)[0] == 0
    (small_disk / "more").unlink()
    (small_disk / "ballast").unlink()
    assert ran("verify", "--catalog", catalog, cache=charts)[0] == 0
