"""Logs and folders as they should not be: each said in words, nothing lost, and nothing read that cannot be held."""

import shutil
import signal
from dataclasses import replace
from types import SimpleNamespace

import pytest

from builder.watching import looks
from builder.watching.jobs import FileState
from builder.watching.kept_logs import LogsInFolder
from catalog.reading.folder import Folder
from tests.builder.desk.served import served
from tests.desk.bench_days import write_logs
from tests.desk.watched import look, row_of, write


def state_of(path):
    status = path.stat()
    return FileState(status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino)


@pytest.fixture
def patient(day, job, monkeypatch):
    """Looks wait for files as they do on a bench, and come half a second after the newest log, however busy the machine."""
    soon = SimpleNamespace(time=lambda: max(path.stat().st_ctime for path in (day / "logs").iterdir()) + 0.5)
    monkeypatch.setattr(looks, "time", soon)
    monkeypatch.setattr(looks, "QUIET_S", 2.1)
    monkeypatch.setattr(looks, "LONG_QUIET_S", 5.0)


def test_a_half_written_log_is_not_judged_until_it_is_still(day, job, landings, patient):
    one = landings[0]
    path = day / one.path
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(one.content[:100])
    seen = looks.look(job)
    assert (seen.state.rows[0].state, seen.state.rows[0].senses) == ("open", ())
    assert 4 < seen.young[path] <= 5, "it ends in the middle of a line, and another look is due"
    still = {one.path: (state_of(path), 3.0)}
    seen = looks.look(replace(job, seen=still))
    assert seen.state.rows[0].state == "open"
    path.write_bytes(one.content)
    seen = looks.look(replace(job, seen=still))
    assert seen.state.rows[0].state == "open", "it grew since"
    assert seen.young[path] <= 2.1
    seen = looks.look(replace(job, seen={one.path: (state_of(path), 2.2)}))
    assert (seen.state.rows[0].state, seen.young) == ("landed", {})


def test_a_log_that_stays_half_is_said(day, job, landings):
    path = day / landings[0].path
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(b"start,seconds,mbit_s\n2026-11-30T08:49:00+01:00,1,8")
    write_logs(day, landings[1:2])
    path.write_bytes(b"start,seconds,mb")
    row = row_of(look(job), landings[0].path)
    assert row.state == "held"
    assert "none of a throughput or a request log" in row.senses[0].text
    assert row_of(look(job), landings[1].path).state == "landed"
    assert look(job).writing.rows == (row_of(look(job), landings[1].path).place,)


@pytest.mark.parametrize(
    "content", [bytes(range(256)) * 40, b"\x00" * 5000, b"\xff\xfe" + b"\xd8" * 99, b"\n" * 99, b""]
)
def test_rubbish_instead_of_a_log(day, job, landings, content):
    write_logs(day, landings[:2])
    (day / landings[0].path).write_bytes(content)
    row = row_of(look(job), landings[0].path)
    assert row.state == "held"
    assert row.senses
    assert all(sense.text.endswith((".", "?")) for sense in row.senses), row.senses
    assert write(job)[0] == []
    assert row_of(look(job), landings[1].path).state == "noted"


def test_a_log_of_gigabytes_is_refused_unread(day, job, landings, monkeypatch):
    write_logs(day, landings[:1])
    for name, size in ((landings[1].path, 3 * 2**30), ("logs/other.csv", looks.LARGEST + 1)):
        with (day / name).open("wb") as file:
            file.truncate(size)
    read = []
    real = Folder.read
    monkeypatch.setattr(
        Folder, "read", lambda self, path, *, limit: read.append(len(c := real(self, path, limit=limit))) or c
    )
    state = look(job)
    row = row_of(state, landings[1].path)
    assert (row.state, row.senses[0].text) == (
        "held",
        f"{landings[1].path} has 3,221 MB. A watch reads logs up to 32 MB, because it shares the machine that measures.",
    )
    assert [sense.code for sense in state.others[0].senses] == ["too-large-to-watch"]
    assert max(read) < 10**6
    assert row_of(state, landings[0].path).state == "landed"


def test_a_log_that_is_replaced_is_read_again(day, job, landings):
    write_logs(day, landings[:1])
    value = row_of(look(job), landings[0].path).value
    slower = replace(landings[0], values=landings[0].values / 2)
    write_logs(day, [slower])
    half = row_of(look(job), landings[0].path).value
    assert value != half
    (day / landings[0].path).write_bytes(slower.content[:-400])
    assert row_of(look(job), landings[0].path).value != half or row_of(look(job), landings[0].path).state == "held"
    (day / landings[0].path).unlink()
    assert row_of(look(job), landings[0].path).state == "open"


def test_a_log_that_changed_after_it_was_noted(day, job, landings):
    """Its row says when it was; another one in its place is of another time."""
    write_logs(day, landings[:1])
    assert write(job)[0] == []
    (day / landings[0].path).write_bytes(landings[5].content)
    row = row_of(look(job), landings[0].path)
    assert row.state == "held"
    assert [sense.code for sense in row.senses] == ["repeated-after-noting"]
    (day / landings[0].path).unlink()
    assert "no file" in row_of(look(job), landings[0].path).senses[0].text


def test_logs_that_lead_out_of_the_batch_are_left_alone(day, job, landings, tmp_path):
    (day / "logs").mkdir(exist_ok=True)
    (tmp_path / "secret.csv").write_bytes(landings[0].content)
    (day / landings[0].path).symlink_to(tmp_path / "secret.csv")
    assert row_of(look(job), landings[0].path).state == "open"
    (day / landings[1].path).mkdir()
    assert row_of(look(job), landings[1].path).state == "open"


def test_a_log_over_which_the_process_ended_is_left_alone(day, job, landings, monkeypatch):
    write_logs(day, landings[:2])
    shunned = {landings[0].path: state_of(day / landings[0].path)}
    read = []
    real = Folder.read
    with monkeypatch.context() as patch:
        patch.setattr(Folder, "read", lambda self, path, *, limit: read.append(path) or real(self, path, limit=limit))
        state = look(job, shunned=shunned)
    assert landings[0].path not in read
    assert row_of(state, landings[0].path).state == "held"
    assert "ended over it" in " ".join(sense.text for sense in row_of(state, landings[0].path).senses)
    assert row_of(state, landings[1].path).state == "landed"
    write_logs(day, landings[:1])
    assert row_of(look(job, shunned=shunned), landings[0].path).state == "landed", "another file is read"


def test_planned_rows_with_odd_logs(day, job, landings):
    path = day / "runs.csv"
    text = path.read_text(encoding="utf-8")
    for number, odd in enumerate(("/", "..", "../x.csv", ".", "logs/", "a:b:c", "logs\\x.csv")):
        text = text.replace(f"planned,{landings[number].path}", f"planned,{odd}")
    path.write_text(text, encoding="utf-8")
    write_logs(day, landings[8:9])
    state = look(job)
    assert row_of(state, landings[8].path).state == "landed"
    assert {row.state for row in state.rows} == {"open", "landed"}


def test_a_catalogue_that_goes(day, job, landings, tmp_path):
    job = replace(job, catalog=shutil.copy(job.catalog, tmp_path / "catalog.db"))
    look(job)
    job.catalog.unlink()
    with pytest.raises(Exception, match=r"catalog\.db"):
        look(job)


def test_where_no_file_can_be_written_a_log_is_read_all_the_same(tmp_path):
    with pytest.raises(KeyError):  # as of any log that is not kept
        LogsInFolder(tmp_path / "no such folder")["batch", "logs/1.csv", "", None]


def test_a_watch_that_is_ended_does_not_say_that_nothing_was_changed(day, demo_file):
    with served(demo_file, day, verb="watch") as running:
        running.process.send_signal(signal.SIGINT)
        _, said = running.process.communicate(timeout=60)
    assert running.process.returncode == 130
    assert said.strip() == "The watch has ended. It wrote nothing but what you let it write to desk/."
