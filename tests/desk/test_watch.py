"""A watch with its process: what it follows, when it looks, and what it does when either goes wrong."""

import asyncio
import os
import shutil
import socket
import time
from collections import Counter
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.watching import looks
from builder.watching import watch as module
from builder.watching.child import IN_HAND
from builder.watching.jobs import QUIET_S, Seen
from builder.watching.states import State
from builder.watching.watch import Watch
from catalog.errors import CatalogUnusable, InputRefused
from tests.desk.bench_days import write_logs

ENOUGH_S = 120.0  # on a machine that is busy with other things


async def until(holds):
    """Wait until something holds."""
    end = time.monotonic() + ENOUGH_S
    while not holds():
        assert time.monotonic() < end, "it did not come to hold"
        await asyncio.sleep(0.05)


def states(watch):
    return Counter(row.state for row in watch.state.rows)


def followed(batch, catalog, then, **settings):
    """Follow a batch while *then* goes on."""

    async def whole():
        watch = Watch(batch, catalog, **settings)
        try:
            await watch.begin()
            stop = asyncio.Event()
            following = asyncio.create_task(watch.follow(stop))
            try:
                await then(watch)
            finally:
                stop.set()
                await following
        finally:
            watch.close()
        return watch

    return asyncio.run(whole())


def test_a_log_that_lands_a_click_and_a_folder_that_goes_and_comes_back(day, landings, demo_file):
    async def then(watch):
        write_logs(day, landings[:2])
        await until(lambda: states(watch)["landed"] == 2)
        version = watch.version
        assert await watch.write("another", {}) == [
            "What would be written is not what was shown any more. Look at it once more."
        ]
        place = watch.state.rows[0].place
        assert await watch.write(watch.state.writing.key, {place: {"level_dbm": "-48"}}) == []
        assert states(watch)["noted"] == 2
        assert watch.version > version
        assert ",-48," in (day / "desk" / "runs.csv").read_text(encoding="utf-8")

        # Let go when nothing happens, and held again when something does; of what was read nothing is read again.
        await until(lambda: watch._pool is None)
        kept = {path: path.stat().st_mtime_ns for path in watch._kept.iterdir()}
        write_logs(day, landings[2:3])
        await until(lambda: states(watch)["landed"] == 1)
        assert {path: path.stat().st_mtime_ns for path in kept} == kept
        assert len(list(watch._kept.iterdir())) == len(kept) + 1

        away = day.with_name("away")
        shutil.copytree(day, away)
        shutil.rmtree(day)
        await until(lambda: watch.state.trouble)
        assert "does not exist" in watch.state.trouble[0]
        assert states(watch)["noted"] == 2, "what was there is still shown"
        assert await watch.write(watch.state.writing.key, {})
        away.rename(day)
        await until(lambda: not watch.state.trouble)
        write_logs(day, landings[3:4])
        await until(lambda: states(watch)["landed"] == 2)

    watch = followed(day, demo_file, then, idle_s=2.5)
    assert not watch._kept.exists()


@pytest.fixture
def minutes(monkeypatch):
    """The clock by which a watch waits, set by hand. [s]"""
    now = [100.0]
    monkeypatch.setattr(module, "time", SimpleNamespace(monotonic=lambda: now[0]))
    return now


def test_a_log_that_grows_is_looked_at_once_it_is_still(day, landings, demo_file, minutes):
    """A test writes a line a second; to look each time would take from the machine what it measures with."""
    write_logs(day, landings[:1])
    path, due = day / landings[0].path, []
    watch = Watch(day, demo_file)
    watch._seen = Seen(State(""), folders=(path.parent,))
    for second in range(60):
        minutes[0] = 100.0 + second
        if second < 30:
            watch._notice({path})
        if watch._is_due():
            due.append(second)
    watch.close()
    assert due == [32]


def test_a_log_without_a_last_line_end_is_looked_at_while_the_next_one_grows(day, landings, demo_file, minutes):
    write_logs(day, landings[:2])
    half, grows = (day / one.path for one in landings[:2])
    watch = Watch(day, demo_file)
    watch._show(Seen(State("", rows=()), folders=(half.parent,), young={half: 2.9}))
    due = []
    for second in range(60):
        minutes[0] = 100.0 + second
        watch._notice({grows})
        assert watch._waits_s() <= QUIET_S
        if watch._is_due():
            due.append(second)
            watch._show(Seen(State(""), folders=(half.parent,)))
    watch.close()
    assert due == [3]


def test_what_lands_between_the_first_look_and_following_is_seen(day, landings, demo_file):
    async def whole():
        watch = Watch(day, demo_file)
        try:
            await watch.begin()
            write_logs(day, landings[:2])
            stop = asyncio.Event()
            following = asyncio.create_task(watch.follow(stop))
            await until(lambda: states(watch)["landed"] == 2)
            stop.set()
            await following
        finally:
            watch.close()

    asyncio.run(whole())


def falls_over(job):
    """A look that ends its process over the second log, the first time."""
    path = f"logs/{sorted(job.batch.glob('logs/*'))[1].name}"
    if path not in job.shunned:
        (job.kept / IN_HAND).write_text(path, encoding="utf-8")
        os._exit(1)
    return looks.look(job)


def falls(job):
    """A look that always ends its process."""
    os._exit(1)


def test_a_log_that_brings_the_process_down_is_named_and_the_rest_goes_on(day, landings, demo_file, monkeypatch):
    monkeypatch.setattr(module, "look", falls_over)
    write_logs(day, landings[:3])

    async def then(watch):
        await until(lambda: states(watch)["landed"] == 2)
        held = next(row for row in watch.state.rows if row.state == "held")
        assert held.log == landings[1].path
        assert "ended over it" in held.senses[0].text

    time.sleep(2.2)
    followed(day, demo_file, then)


def test_a_process_that_cannot_begin_is_said_once(day, demo_file, monkeypatch):
    async def then(watch):
        monkeypatch.setattr(module, "look", falls)
        (day / "notes.md").write_text("a change", encoding="utf-8")
        await until(lambda: watch.state.trouble)
        assert watch.state.trouble == ("What reads the logs ended unexpectedly. It begins anew at the next change.",)
        version = watch.version
        await asyncio.sleep(1.5)
        assert (watch.version, watch._pool) == (version, None), "no loop"

    followed(day, demo_file, then)


def test_two_watches_and_answers_and_what_is_given(day, landings, demo_file):
    """The second writes; the first is told that what it showed is not what would be written."""
    write_logs(day, landings[:2])
    (day / "logs" / "capture.csv").write_bytes(landings[2].content)
    time.sleep(2.2)

    async def both():
        first, second = Watch(day, demo_file), Watch(day, demo_file)
        try:
            for watch in (first, second):
                await watch.begin()
            assert first.state == second.state
            (other,) = first.state.others
            assert await first.give("logs/none.csv", other.likely) == ["logs/none.csv is not there any more."]
            assert await second.give(other.log, other.likely) == []
            assert second.state.others == ()
            assert await second.give(other.log, None) == []
            assert len(second.state.others) == 1
            assert await second.give(other.log, other.likely) == []
            assert await first.settle(other.likely, "rate-stopped", "early") == ["This is not asked any more."]
            key = first.state.writing.key
            assert await second.write(second.state.writing.key, {}) == []
            (sentence,) = await first.write(key, {})
            assert "not what was shown" in sentence
            assert states(first)["noted"] == 3
        finally:
            first.close()
            second.close()

    asyncio.run(both())


def test_what_is_no_batch_is_refused_at_the_start(day, demo_file, tmp_path):
    async def begin(batch, catalog=demo_file):
        watch = Watch(batch, catalog)
        try:
            await watch.begin()
        finally:
            watch.close()
        return watch.state

    (tmp_path / "empty").mkdir()
    for batch, why in ((tmp_path / "none", "does not exist"), (tmp_path / "empty", "is empty")):
        with pytest.raises(InputRefused, match=why):
            asyncio.run(begin(batch))
    with pytest.raises(CatalogUnusable, match="no catalogue"):
        asyncio.run(begin(day, tmp_path / "none.db"))
    (tmp_path / "text.db").write_text("no catalogue")
    with pytest.raises(CatalogUnusable):
        asyncio.run(begin(day, tmp_path / "text.db"))
    shutil.copytree(day, tmp_path / "broken")
    (tmp_path / "broken" / "batch.toml").write_text("title =", encoding="utf-8")
    assert "not valid TOML" in asyncio.run(begin(tmp_path / "broken")).trouble[0], "it may be corrected meanwhile"


def test_the_verb_names_what_it_cannot_begin_with(day, demo_file):
    def run(*arguments):
        result = CliRunner().invoke(main, ["watch", *map(str, arguments)])
        return result.exit_code, result.output

    code, text = run(day / "none", "--catalog", demo_file, "--port", 0)
    assert (code, "does not exist" in text) == (1, True)
    code, text = run(day, "--catalog", day / "none.db", "--port", 0)
    assert (code, "There is no catalogue at" in text) == (3, True)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        code, text = run(day, "--catalog", demo_file, "--port", taken.getsockname()[1])
    assert (code, "Name another with --port" in text) == (1, True)
