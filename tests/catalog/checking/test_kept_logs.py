"""A batch checked again after an edit: logs that are the same are not read again, and the outcome is as if they were."""

from __future__ import annotations

import os

import pytest

from catalog.checking import logfiles
from catalog.checking.batches import check
from catalog.reading.batch import read_batch
from catalog.reading.folder import Folder
from tests.catalog.checking.test_mistakes import clean, runs
from tests.catalog.checking.test_settled_logs import LINKS, TWO_LINKS

LOGS = {"logs/both.csv", "logs/pages.csv", "logs/talk.csv", "logs/night.csv"}


class Bench:
    """A batch that is checked after each edit, and which of its logs were opened and read by the last check."""

    def __init__(self, place, monkeypatch):
        self.place, self.kept = place, {}
        self.opened, self.parsed = [], []
        read = Folder.read

        def opened(folder, path, *, limit):
            self.opened.append(path)
            return read(folder, path, limit=limit)

        monkeypatch.setattr(Folder, "read", opened)
        for name in ("read_plain_log", "read_mapped_log"):
            monkeypatch.setattr(logfiles, name, self._parsed(getattr(logfiles, name)))

    def _parsed(self, read):
        def parsed(path, *about, **how):
            self.parsed.append(path)
            return read(path, *about, **how)

        return parsed

    def check(self, **how):
        """What the check says, which is what one says that kept nothing."""
        fresh = check(read_batch(self.place), None)
        self.opened, self.parsed = [], []
        checked = check(read_batch(self.place), None, kept_logs=self.kept, **how)
        assert (checked.problems, checked.warnings) == (fresh.problems, fresh.warnings)
        assert (checked.rows, checked.files) == (fresh.rows, fresh.files)
        assert [log.digest for log in checked.logs] == [log.digest for log in fresh.logs]
        return checked

    def logs_opened(self):
        return LOGS & set(self.opened)


@pytest.fixture
def bench(write_batch, monkeypatch):
    monkeypatch.setattr(logfiles, "SETTLED_NS", -1)  # so that a file is old at once
    table = runs({2: {"log": "a:logs/both.csv", "throughput_mbit_s": ""}})
    maps = {f"maps__{link}_toml": LINKS.format(link=link) for link in "ab"}
    bench = Bench(write_batch(**clean(runs_csv=table, logs__both_csv=TWO_LINKS, **maps)), monkeypatch)
    assert bench.check().problems == []
    assert bench.logs_opened() == set(bench.parsed) == LOGS
    return bench


def edit(path, before, after):
    """Other words of the same length, and the time of the file as it was."""
    text, status = path.read_text(), path.stat()
    assert before in text
    assert len(before) == len(after)
    path.write_text(text.replace(before, after))
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns))


def test_an_edit_of_a_table_opens_no_log(bench):
    table = bench.place / "runs.csv"
    table.write_text(table.read_text().replace(",706,", ",707,"))
    bench.check()
    assert bench.logs_opened() == set(bench.parsed) == set()


def test_a_log_that_changed_is_read_again_alone(bench):
    edit(bench.place / "logs/talk.csv", "\n7,20,finished", "\n7,99,finished")
    bench.check()
    assert bench.logs_opened() == set(bench.parsed) == {"logs/talk.csv"}
    edit(bench.place / "logs/talk.csv", "\n7,99,finished", "\n7,9x,finished")
    assert bench.check().problems
    assert bench.check().problems  # kept as well
    assert bench.logs_opened() == set()


def test_another_file_of_the_same_name_is_read(bench):
    path = bench.place / "logs/night.csv"
    other = path.with_name("other.csv")
    other.write_text(path.read_text().replace("\n5,605", "\n5,105"))
    os.utime(other, ns=(path.stat().st_atime_ns, path.stat().st_mtime_ns))
    other.replace(path)
    bench.check()
    assert bench.parsed == ["logs/night.csv"]


def test_a_log_that_was_only_written_again_is_hashed_and_not_parsed(bench):
    path = bench.place / "logs/night.csv"
    path.write_bytes(path.read_bytes())
    bench.check()
    assert (bench.logs_opened(), bench.parsed) == ({"logs/night.csv"}, [])
    path.unlink()
    assert bench.check().problems


def test_another_map_or_zone_reads_anew(bench):
    plan = bench.place / "maps/a.toml"
    plan.write_text(plan.read_text().replace('is = "a"', 'is = "b"'))
    other = bench.check()
    assert bench.parsed == ["logs/both.csv"]
    assert other.rows["run"][0]["throughput_mbit_s"] == pytest.approx(906)  # 904 and 0 to 4, by hand
    toml = bench.place / "batch.toml"
    toml.write_text(toml.read_text().replace("Europe/Berlin", "Asia/Tokyo"))
    bench.check()
    assert set(bench.parsed) == LOGS


def test_a_log_so_young_that_its_times_say_nothing_is_held_by_its_bytes(bench, monkeypatch):
    monkeypatch.setattr(logfiles, "SETTLED_NS", 10**18)
    state = Folder.state
    frozen = {path: state(Folder(bench.place), path) for path in LOGS}
    monkeypatch.setattr(Folder, "state", lambda _, path: frozen[path])
    bench.kept.clear()
    bench.check()
    edit(bench.place / "logs/talk.csv", "\n7,20,finished", "\n7,99,finished")
    bench.check()
    assert (bench.logs_opened(), bench.parsed) == (LOGS, ["logs/talk.csv"])


def test_who_takes_the_bytes_is_given_them(bench):
    taken = {}
    bench.check(log_read=lambda path, _, content: taken.update({path: content}))
    assert taken == {path: (bench.place / path).read_bytes() for path in LOGS}
    assert bench.parsed == []
