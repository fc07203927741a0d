"""What is written takes its name only when it is whole; whatever fails, what was there before is there still."""

import errno
import os
import stat
import subprocess
import sys
import threading

import pytest

from catalog.errors import InputRefused, WriteRefused
from catalog.whole_files import draft_beside, require_apart, take_name, whole_file, whole_folder


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def write(target, text, *, failure=None, new=False, meanwhile=lambda: None):
    """A file written, up to a failure in the midst of it."""
    with whole_file(target, new=new) as file:
        file.write(text)
        meanwhile()
        if failure is not None:
            raise failure


def fill(target, files, *, failure=None, meanwhile=lambda: None):
    """A folder of files written, up to a failure in the midst of it."""
    with whole_folder(target) as made:
        for name, text in files.items():
            (made / name).parent.mkdir(exist_ok=True)
            (made / name).write_text(text)
        meanwhile()
        if failure is not None:
            raise failure


def test_a_file_is_replaced_when_the_new_one_is_whole(tmp_path):
    target = tmp_path / "target"
    target.write_text("older")
    with whole_file(target) as file:
        file.write(b"new")
        file.flush()
        assert target.read_text() == "older"
    assert target.read_text() == "new"
    assert names(tmp_path) == ["target"]


@pytest.mark.parametrize("failure", [RuntimeError("a fault"), KeyboardInterrupt()])
def test_a_failure_leaves_the_older_file_and_nothing_beside_it(tmp_path, failure):
    target = tmp_path / "target"
    target.write_text("older")
    with pytest.raises(type(failure)):
        write(target, b"half", failure=failure)
    assert target.read_text() == "older"
    assert names(tmp_path) == ["target"]


def test_a_full_disk_is_told_with_the_name_that_was_asked_for(tmp_path):
    target = tmp_path / "target"
    target.write_text("older")
    with pytest.raises(WriteRefused, match=r"target cannot be written: no space left on device\. What was there"):
        write(target, b"half", failure=OSError(errno.ENOSPC, "No space left on device"))
    assert target.read_text() == "older"
    assert names(tmp_path) == ["target"]


def test_a_link_stays_and_what_it_leads_to_is_replaced(tmp_path):
    (tmp_path / "far").mkdir()
    real, link = tmp_path / "far" / "real", tmp_path / "link"
    real.write_text("older")
    link.symlink_to(real)
    write(link, b"new")
    assert link.is_symlink()
    assert real.read_text() == "new"


def test_an_older_file_keeps_its_rights(tmp_path):
    # A dump holds what is under embargo: one that only its owner may read stays so.
    target = tmp_path / "target"
    target.write_text("older")
    target.chmod(0o600)
    write(target, b"new")
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    folder = tmp_path / "folder"
    folder.mkdir(mode=0o700)
    fill(folder, {"a": "a"})
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_a_pipe_is_written_as_it_is(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_bytes()))
    reader.start()
    write(pipe, b"through")
    reader.join(timeout=10)
    assert got == [b"through"]
    assert pipe.is_fifo()


def test_a_new_file_never_replaces_another_and_takes_its_folder_along(tmp_path):
    target = tmp_path / "maps" / "a.toml"
    with pytest.raises(RuntimeError, match="a fault"):
        write(target, b"half", new=True, failure=RuntimeError("a fault"))
    assert names(tmp_path) == []
    with pytest.raises(WriteRefused, match="made by someone else meanwhile"):
        write(target, b"mine", new=True, meanwhile=lambda: target.write_text("theirs"))
    assert target.read_text() == "theirs"
    assert names(tmp_path / "maps") == ["a.toml"]


def test_a_folder_appears_whole_or_not_at_all(tmp_path):
    target = tmp_path / "out"
    with pytest.raises(RuntimeError, match="a fault"):
        fill(target, {"a": "a"}, failure=RuntimeError("a fault"))
    assert names(tmp_path) == []
    target.mkdir()
    seen = []
    fill(target, {"b/c": "c"}, meanwhile=lambda: seen.extend(names(target)))
    assert seen == []
    assert (target / "b" / "c").read_text() == "c"
    assert names(tmp_path) == ["out"]


def test_a_folder_that_was_filled_meanwhile_is_left_alone(tmp_path):
    target = tmp_path / "out"

    def filled():
        target.mkdir()
        (target / "mine").write_text("keep")

    with pytest.raises(WriteRefused, match="out cannot be written: directory not empty"):
        fill(target, {"a": "a"}, meanwhile=filled)
    assert names(target) == ["mine"]
    assert names(tmp_path) == ["out"]


def test_where_there_is_no_folder_nothing_is_written(tmp_path):
    missing = r"nowhere does not exist, so nothing can be written in it"
    with pytest.raises(InputRefused, match=missing):
        write(tmp_path / "nowhere" / "target", b"new")
    with pytest.raises(InputRefused, match=missing):
        fill(tmp_path / "nowhere" / "out", {})
    assert names(tmp_path) == []


KILLED = """
import os, signal, sys
from pathlib import Path
from catalog.whole_files import draft_beside
with draft_beside(Path(sys.argv[1])) as draft:
    draft.write_text("half")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def test_a_draft_of_a_killed_run_goes_with_the_next_one_and_that_of_a_living_one_stays(tmp_path):
    target = tmp_path / "target"
    ended = subprocess.run([sys.executable, "-c", KILLED, str(target)], check=False)
    assert ended.returncode == -9
    (left,) = tmp_path.iterdir()
    assert left.name.startswith(".likeloss-writing-")
    with draft_beside(tmp_path / "living") as living:
        assert not left.exists()
        write(target, b"new")
        assert living.parent.exists()
    assert names(tmp_path) == ["target"]


def test_a_name_can_be_taken_once(tmp_path):
    for number in (1, 2):
        with draft_beside(tmp_path / "target") as draft:
            draft.write_text(str(number))
            if number == 1:
                take_name(draft, tmp_path / "target")
            else:
                with pytest.raises(WriteRefused, match="made by someone else meanwhile"):
                    take_name(draft, tmp_path / "target")
    assert (tmp_path / "target").read_text() == "1"


def test_the_catalogue_its_journal_and_its_folder_are_no_target(tmp_path, monkeypatch):
    folder = tmp_path / "bench"
    folder.mkdir()
    catalog = folder / "catalog.db"
    catalog.write_text("catalogue")
    (folder / "hard").hardlink_to(catalog)
    (tmp_path / "soft").symlink_to(catalog)
    (tmp_path / "soft-folder").symlink_to(folder)
    monkeypatch.chdir(folder)
    for itself in (catalog, folder / "hard", tmp_path / "soft", tmp_path / "soft-folder" / "catalog.db"):
        with pytest.raises(InputRefused, match="is the catalogue itself"):
            require_apart(itself, catalog=catalog)
        with pytest.raises(InputRefused, match="is the catalogue itself"):
            require_apart(catalog, catalog=itself)
    for relative in ("catalog.db", "./catalog.db", "../bench/catalog.db"):
        with pytest.raises(InputRefused, match="is the catalogue itself"):
            require_apart(folder / relative, catalog=catalog)
    for end in ("-journal", "-wal", "-shm"):
        with pytest.raises(InputRefused, match="a name that SQLite uses"):
            require_apart(folder / f"catalog.db{end}", catalog=tmp_path / "soft")
    for above in (folder, tmp_path, tmp_path / "soft-folder"):
        with pytest.raises(InputRefused, match="holds the catalogue"):
            require_apart(above, catalog=catalog)
    for apart in (folder / "dump", folder / "site", tmp_path / "catalog.db", folder / "catalog.db.dump"):
        require_apart(apart, catalog=catalog)
    require_apart(catalog, catalog=None)
