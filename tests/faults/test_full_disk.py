"""A disk that takes no more: one clear sentence, exit 1, and nothing changed. A full disk is not a damaged catalogue.

A small file system in memory (tmpfs) where the tests may mount one; everywhere also a limit to what a file may hold
(RLIMIT_FSIZE, POSIX setrlimit), which SQLite and Python meet as a failing write.
"""

import shutil
import subprocess

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
        code, _, err = ran(
            "publish", site, "--catalog", catalog, cache=charts, before=LIMIT.format(kibibytes * 1024)
        )  # fmt: skip
        refused(code, err)
        assert contents(placed) == before
    assert ran("publish", site, "--catalog", catalog, cache=charts)[0] == 0


def test_file_limit_while_entering(placed, batch, charts):
    catalog = placed / "catalog.db"
    before = contents(placed)
    limit = LIMIT.format(catalog.stat().st_size + 16 * 1024)
    code, _, err = ran("enter", batch, "--catalog", catalog, cache=charts, before=limit)
    assert refused(code, err).startswith("The catalogue cannot be written: the disk ")
    assert contents(placed) == before
    assert ran("verify", "--catalog", catalog, cache=charts)[0] == 0
    assert ran("enter", batch, "--catalog", catalog, cache=charts)[0] == 0


def test_file_limit_while_entering_into_a_new_catalogue(placed, batch, charts):
    before = contents(placed)
    for kibibytes in (4, 200):
        code, _, err = ran(
            "enter", batch, "--catalog", placed / "new.db", cache=charts, before=LIMIT.format(kibibytes * 1024)
        )  # fmt: skip
        assert refused(code, err).startswith("The catalogue cannot be written: the disk ")
        assert contents(placed) == before


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
    for verb in (["publish", site], ["enter", batch]):
        code, _, err = ran(*verb, "--catalog", catalog, cache=charts)
        refused(code, err)
        assert contents(small_disk) == before
    assert ran("rank", "--catalog", catalog, cache=charts)[0] == 0
    (small_disk / "more").unlink()
    (small_disk / "ballast").unlink()
    assert ran("verify", "--catalog", catalog, cache=charts)[0] == 0
