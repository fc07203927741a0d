"""A process killed before each single step of a swap, with an exchange in one step and without one."""

import subprocess
import sys

import pytest

from builder.publishing.changing.site_folder import staged
from builder.publishing.changing.swapping import earlier_of, exchange, settle
from tests.faults.killing import ROOT, contents

KILLED = """
import os, pathlib, shutil, signal, sys
from builder.publishing.changing import site_folder
from builder.publishing.changing import swapping
out, last, exchanging, keep = pathlib.Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "yes", sys.argv[4] == "yes"
steps = 0
def counted(real):
    def call(*arguments, **keywords):
        global steps
        steps += 1
        if steps == last:
            os.kill(os.getpid(), signal.SIGKILL)
        return real(*arguments, **keywords)
    return call
swapping.exchange = counted(swapping.exchange if exchanging else lambda one, other: False)
pathlib.Path.rename = counted(pathlib.Path.rename)
shutil.rmtree = counted(shutil.rmtree)
with site_folder.staged(out, keep_earlier=keep) as stage:
    (stage / "index.html").write_text("third")
    (stage / "page.html").write_text("third")
"""
MOST_STEPS = 12


def put(out, text, *, keep=True):
    with staged(out, keep_earlier=keep) as stage:
        for name in ("index.html", "page.html"):
            (stage / name).write_text(text)


def shown(folder):
    """The one text that every page of a site holds."""
    texts = {content.decode() for name, content in contents(folder).items() if name.endswith(".html")}
    assert len(texts) == 1, f"{folder} is mixed: {texts}"
    return texts.pop()


def kill_at(step, out, *, exchanging, keep):
    """Whether the process was killed: with fewer steps it ends by itself."""
    words = [str(out), str(step), "yes" if exchanging else "no", "yes" if keep else "no"]
    ended = subprocess.run([sys.executable, "-c", KILLED, *words], cwd=ROOT, capture_output=True, check=False)
    assert ended.returncode in (0, -9), ended.stderr
    return ended.returncode == -9


@pytest.fixture
def out(tmp_path):
    put(tmp_path / "site", "first")
    put(tmp_path / "site", "second")
    assert shown(earlier_of(tmp_path / "site")) == "first"
    return tmp_path / "site"


def can_exchange(tmp_path):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    able = exchange(tmp_path / "a", tmp_path / "b")
    (tmp_path / "a").rmdir()
    (tmp_path / "b").rmdir()
    return able


@pytest.mark.parametrize("keep", [True, False])
@pytest.mark.parametrize("step", range(1, MOST_STEPS))
def test_exchange_leaves_a_whole_site_at_every_step(step, keep, out, tmp_path):
    if not can_exchange(tmp_path):
        pytest.skip("this file system cannot exchange two folders in one step")
    was_killed = kill_at(step, out, exchanging=True, keep=keep)
    assert shown(out) in (("second", "third") if was_killed else ("third",))
    settled(out, keep=keep)


@pytest.mark.parametrize("step", range(1, MOST_STEPS))
def test_without_exchange_the_next_run_brings_the_site_back(step, out):
    kill_at(step, out, exchanging=False, keep=True)
    settled(out, keep=True)


def settled(out, *, keep):
    """After cleaning up, one whole site is there, and beside it what was there before."""
    settle(out)
    now = shown(out)
    assert now in ("second", "third")
    assert sorted(path.name for path in out.parent.iterdir()) == ["site", "site.earlier"]
    assert shown(earlier_of(out)) == ("second" if now == "third" and keep else "first")
    put(out, "fourth")
    assert shown(out) == "fourth"
    assert shown(earlier_of(out)) == now
    assert sorted(path.name for path in out.parent.iterdir()) == ["site", "site.earlier"]


def test_exchange_is_one_step_here(tmp_path):
    # Source: renameat2(2): RENAME_EXCHANGE exists since Linux 3.15 (glibc wrapper 2.28); ext4, tmpfs, btrfs, xfs have it.
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / "x").write_text("x")
    (tmp_path / "b").mkdir()
    if not exchange(tmp_path / "a", tmp_path / "b"):
        pytest.skip("this file system cannot exchange two folders in one step")
    assert [p.name for p in (tmp_path / "b").iterdir()] == ["x"]
    assert list((tmp_path / "a").iterdir()) == []


def test_missing_folder_is_an_error_not_a_fallback(tmp_path):
    (tmp_path / "a").mkdir()
    with pytest.raises(FileNotFoundError):
        exchange(tmp_path / "a", tmp_path / "b")


@pytest.mark.parametrize("step", range(1, MOST_STEPS))
def test_a_swap_that_keeps_nothing_leaves_a_whole_site_and_nothing_else_once_settled(step, out, tmp_path):
    if not can_exchange(tmp_path):
        pytest.skip("this file system cannot exchange two folders in one step")
    script = KILLED.replace("keep_earlier=keep", "keep_earlier=keep, drop_earlier=lambda: True")
    words = [str(out), str(step), "yes", "yes"]
    ended = subprocess.run([sys.executable, "-c", script, *words], cwd=ROOT, capture_output=True, check=False)
    assert ended.returncode in (0, -9), ended.stderr
    assert shown(out) in ("second", "third")
    settle(out)
    names = sorted(path.name for path in out.parent.iterdir())
    if shown(out) == "third":
        assert names == ["site"]
    if ended.returncode == 0:
        assert shown(out) == "third"
