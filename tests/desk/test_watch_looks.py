"""Looks at a bench day: which log is of which row, what a click would write, and what becomes of it."""

import csv
import json
import os
import shutil
import time
from collections import Counter
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from builder.bench.bench import load_bench
from builder.watching import looks
from builder.watching.benches import Benches, WithDay, asked_of
from builder.watching.jobs import Job
from builder.watching.saying import Known
from catalog.checking.batches import check
from catalog.connection import open_catalog
from catalog.entering import as_if_entered, check_batch, enter_batch
from catalog.reading.batch import read_batch
from catalog.reading.folder import Folder
from catalog.visibility import full_part
from tests.desk.bench_days import losses_of, write_logs
from tests.desk.watched import answer, look, row_of, write

NOW = datetime(2027, 1, 1, tzinfo=UTC)


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def codes(row):
    return [sense.code for sense in row.senses]


@pytest.mark.parametrize("form", ["day", "day.xlsx"])
def test_a_day_enters_as_it_lies_there(form, plans, day, job, landings, demo_file, tmp_path):
    batch = day
    if form != "day":
        batch = tmp_path / "beside" / form
        batch.parent.mkdir()
        shutil.copy(plans / form, batch)
    write_logs(batch if batch.is_dir() else batch.parent, landings)
    before = {path: path.read_bytes() for path in (batch.rglob("*") if batch.is_dir() else [batch]) if path.is_file()}
    job = replace(job, batch=batch)
    state = look(job)
    assert Counter(row.state for row in state.rows) == {"landed": len(landings)}
    assert [row.order for row in state.rows] == list(range(1, len(landings) + 1))
    assert not list(batch.parent.rglob("desk")) + list(batch.parent.rglob("*.desk")), "nothing is written by looking"
    refused, state = write(job)
    assert refused == []
    assert Counter(row.state for row in state.rows) == {"noted": len(landings)}
    assert state.writing.added == {}
    assert {path: path.read_bytes() for path in before} == before
    catalog = shutil.copy(demo_file, tmp_path / "catalog.db")
    report = check_batch(batch, catalog=open_catalog(catalog, readonly=True))
    assert report.problems == ()
    entered = enter_batch(batch, into=catalog, now=NOW)
    assert (entered.rows_new, entered.rows_planned) == (len(landings), 0)


def test_what_is_typed_beside_a_log_goes_into_its_row(day, job, landings):
    write_logs(day, landings[:2])
    place = row_of(look(job), landings[0].path).place
    typed = {place: {"level_dbm": "-47", "note": 'door open, "ajar"'}}
    assert row_of(look(job, typed=typed), landings[0].path).typed == typed[place]
    assert look(job, typed=typed).writing.key == look(job).writing.key, "what is typed goes along with the click"
    assert write(job, typed=typed)[0] == []
    first, second = rows(day / "desk" / "runs.csv")
    assert (first["level_dbm"], first["note"], first["log"]) == ("-47", 'door open, "ajar"', landings[0].path)
    assert first["when"] == landings[0].start.isoformat(" ", timespec="seconds")
    assert (first["outcome"], second["level_dbm"]) == ("", "")


def test_a_log_without_a_time_gets_it_typed(day, job, landings):
    one = landings[0]
    lines = [f"{number},{value:.1f}" for number, value in enumerate(one.values)]
    (day / "logs").mkdir(exist_ok=True)
    (day / one.path).write_text("\n".join(["t_s,mbit_s", *lines, ""]), encoding="utf-8")
    row = row_of(look(job), one.path)
    assert (row.state, codes(row), list(row.typed)) == ("held", ["no-time"], ["when", "level_dbm", "note"])
    typed = {row.place: {"when": "2026-11-30 08:50"}}
    assert row_of(look(job, typed=typed), one.path).state == "landed"
    assert write(job, typed=typed)[0] == []
    assert rows(day / "desk" / "runs.csv")[0]["when"] == "2026-11-30 08:50"


def test_a_level_that_is_none_holds_its_row(day, job, landings):
    write_logs(day, landings[:2])
    seen = looks.look(job)
    place = row_of(seen.state, landings[0].path).place
    typed = {place: {"level_dbm": "loud"}}
    row = row_of(look(job, typed=typed), landings[0].path)
    assert row.state == "held"
    assert "loud" in " ".join(sense.text for sense in row.senses)
    assert look(job, typed=typed).writing.rows == (row_of(seen.state, landings[1].path).place,)
    again = looks.look_and_write(replace(job, typed=typed), seen.state.writing.key)
    assert "not what was shown" in again.refused[0]
    assert not (day / "desk").exists()


def as_json(landing):
    """The same log as another machine writes it."""
    lines = [line.split(",") for line in landing.content.decode().splitlines()[1:]]
    return json.dumps({"rows": [{"at": at, "len": float(step), "rate": float(rate)} for at, step, rate in lines]})


MAP = """kind = "throughput"
format = "json"
rows = "$.rows[*]"
[column.start]
from = "$.at"
[column.seconds]
from = "$.len"
[column.rate]
from = "$.rate"
unit = "Mbit/s"
"""


def test_a_log_is_tied_by_its_name_whatever_its_ending(day, job, landings):
    one, two, three = landings[:3]
    (day / "logs").mkdir(exist_ok=True)
    (day / two.path).with_suffix(".TXT").write_bytes(two.content)
    (day / three.path).with_suffix(".json").write_text(as_json(three), encoding="utf-8")
    state = look(job)
    assert row_of(state, two.path.replace(".csv", ".TXT")).state == "landed"
    held = row_of(state, three.path.replace(".csv", ".json"))
    assert held.state == "held"
    assert "likeloss map" in held.senses[0].text + held.senses[0].remedy
    assert "missing" not in codes(held), "that it has no time only follows"
    (day / "maps").mkdir()
    (day / "maps" / "bench.toml").write_text(MAP, encoding="utf-8")
    (day / "maps" / "other.toml").write_text('kind = "throughput"\nformat = "csv"\n', encoding="utf-8")
    assert row_of(look(job), held.log).state == "landed"
    assert write(job)[0] == []
    assert {row["log"] for row in rows(day / "desk" / "runs.csv")} == {
        two.path.replace(".csv", ".TXT"),
        f"bench:{held.log}",
    }
    assert check_batch(day, catalog=open_catalog(job.catalog, readonly=True)).problems == ()
    assert one.path not in {row.log for row in look(job).rows if row.state != "open"}


def test_two_maps_that_read_a_log_are_named(day, job, landings):
    (day / "logs").mkdir(exist_ok=True)
    (day / "maps").mkdir()
    (day / landings[0].path).with_suffix(".json").write_text(as_json(landings[0]), encoding="utf-8")
    for name in ("a", "b"):
        (day / "maps" / f"{name}.toml").write_text(MAP, encoding="utf-8")
    row = row_of(look(job), landings[0].path.replace(".csv", ".json"))
    assert "can be read through the maps a and b" in next(one for one in row.senses if one.code == "which-map").text
    assert look(job).writing.added == {}


def test_a_log_of_another_name_is_asked_about(day, job, landings):
    write_logs(day, landings[:1])
    (day / "logs" / "capture (3).csv").write_bytes(landings[1].content)
    (day / "logs" / "readme.md").write_text("not a log", encoding="utf-8")
    state = look(job)
    (other,) = state.others
    assert other.log == "logs/capture (3).csv"
    second = next(row for row in state.rows if row.state == "open")
    assert (other.likely, other.may_be[0]) == (second.place, second.place)
    assert all(place[1] == "runs" for place in other.may_be), "a throughput is of a run"
    assert state.writing.rows == (row_of(state, landings[0].path).place,), "a guess is not written"
    given = {other.log: second.place}
    state = look(job, given=given)
    assert state.others == ()
    assert next(row for row in state.rows if row.place == second.place).state == "landed"
    assert write(job, given=given)[0] == []
    assert rows(day / "desk" / "runs.csv")[1]["log"] == other.log
    assert look(job).others == (), "its row is noted"


def test_a_log_of_another_name_is_judged_as_the_row_it_is_likely_of(day, job, landings):
    write_logs(day, landings[:2])
    (day / "logs" / "again.csv").write_bytes(landings[0].content)
    (other,) = look(job).others
    assert "log-used-twice" in [sense.code for sense in other.senses]


def stopped(landing):
    values = landing.values.copy()
    values[len(values) // 2 :] = 0.0
    return replace(landing, values=values)


def test_an_answer_is_written_with_its_row_at_the_place_it_gets(day, job, landings, demo_file, tmp_path):
    write_logs(day, landings[:2])
    assert write(job)[0] == []
    write_logs(day, [landings[2], stopped(landings[3])])
    row = row_of(look(job), landings[3].path)
    assert (row.state, codes(row)) == ("held", ["rate-stopped"])
    (question,) = [sense for sense in row.senses if sense.asks]
    answers = (answer(job, question, "did not finish"),)
    state = look(job, answers=answers)
    assert row_of(state, landings[3].path).state == "landed"
    assert set(state.writing.added) == {"desk/runs.csv", "desk/answers.toml"}
    refused, state = write(job, answers=answers)
    assert refused == []
    assert 'table = "desk-runs"\nrow = 5\n' in (day / "desk" / "answers.toml").read_text(encoding="utf-8")
    report = check_batch(day, catalog=open_catalog(demo_file, readonly=True))
    assert report.problems == ()
    assert "stale-answer" not in {warning.code for warning in report.warnings}
    assert enter_batch(day, into=shutil.copy(demo_file, tmp_path / "c.db"), now=NOW).rows_new == 4


def test_the_band_is_said_where_there_are_several(day, job):
    (first, *_) = look(job).rows
    assert first.what == "Bobbin Home, S1, download, repeat 1"
    path = day / "runs.csv"
    head, *lines = path.read_text(encoding="utf-8").splitlines()
    lines[-1] = lines[-1].replace(",5,80,", ",2.4,20,")
    path.write_text("\n".join([head, *lines]) + "\n", encoding="utf-8")
    assert look(job).rows[0].what == "Bobbin Home, S1, 5 GHz, download, repeat 1"


def test_a_run_repeated_after_it_was_noted_takes_its_new_time_by_a_click(day, job, landings, demo_file, tmp_path):
    """No line is replaced; a run may be repeated once more."""
    write_logs(day, landings[:3])
    assert write(job)[0] == []
    noted = (day / "desk" / "runs.csv").read_bytes()
    for hours in (1, 2):
        again = replace(
            landings[1], start=landings[1].start + timedelta(hours=hours), values=landings[1].values - hours
        )
        write_logs(day, [again])
        row = row_of(look(job), again.path)
        (sense,) = row.senses
        assert (row.state, sense.code) == ("held", "repeated-after-noting")
        assert f"08:49, and the log there now begins at {8 + hours:02}:49." in sense.text
        assert "desk/runs.csv row 3" in sense.remedy
        repeated = (answer(job, sense, f"It was repeated at {8 + hours:02}:49"),)
        state = look(job, answers=repeated)
        row = row_of(state, again.path)
        assert (row.state, row.at, row.senses) == ("noted", f"{8 + hours:02}:49", ())
        assert list(state.writing.added) == ["desk/answers.toml"]
        assert write(job, answers=repeated)[0] == []
        assert row_of(look(job), again.path).state == "noted"
    assert (day / "desk" / "runs.csv").read_bytes() == noted
    catalog = shutil.copy(demo_file, tmp_path / "c.db")
    assert enter_batch(day, into=catalog, now=NOW).rows_new == 3
    with closing(open_catalog(catalog, readonly=True)) as db:
        ((at,),) = db.execute("SELECT at_utc FROM run WHERE log_path = ? AND batch_id = '2026-11-day'", [again.path])
    assert at.startswith("2026-11-30T09:49")


def test_a_log_whose_name_is_no_text_is_said(day, job, landings):
    write_logs(day, landings[:1])
    for name in (b"M\xe4rz.csv", b"M\xe4rz.jpg"):
        Path(os.fsdecode(os.fsencode(day / "logs") + b"/" + name)).write_bytes(landings[1].content)
    state = look(job)
    assert [sense.text for sense in state.senses] == [
        "The name of logs/M\\xe4rz.csv is not UTF-8 text, so no row can have it."
    ]
    assert state.others == ()
    assert row_of(state, landings[0].path).state == "landed"


def test_an_answer_about_a_row_that_was_noted_before(day, job, landings):
    write_logs(day, landings[:1])
    assert write(job)[0] == []
    path = day / "desk" / "runs.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("wrenlet-u2,", "wrenlet-uu2,"), encoding="utf-8")
    state = look(job)
    row = row_of(state, landings[0].path)
    assert row.state == "held"
    (question,) = [sense for sense in row.senses if sense.free]
    answers = (answer(job, question, "wrenlet-u2"),)
    assert row_of(look(job, answers=answers), row.log).state == "noted"
    assert write(job, answers=answers)[0] == []
    assert check_batch(day, catalog=open_catalog(job.catalog, readonly=True)).problems == ()


def test_a_row_that_was_noted_by_hand_without_its_log(day, job, landings):
    write_logs(day, landings[:2])
    planned = rows(day / "runs.csv")[0]
    noted = {**planned, "when": "2026-11-30 08:50", "throughput_mbit_s": "812", "outcome": "finished", "log": ""}
    (day / "desk").mkdir()
    with (day / "desk" / "runs.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(noted))
        writer.writeheader()
        writer.writerow(noted)
    state = look(job)
    assert (state.rows[0].state, state.rows[0].value, codes(state.rows[0])) == (
        "noted",
        "812 Mbit/s",
        ["noted-without"],
    )
    assert state.rows[1].state == "landed"
    assert state.others == (), "the log has the name of a row"
    assert state.writing.rows == (state.rows[1].place,)


def test_a_run_in_question_is_not_noted_until_somebody_keeps_it(day, job, landings):
    """It is likely repeated under its name; one that is noted could not be any more."""
    odd = landings[2]
    write_logs(day, [*landings[:2], replace(odd, values=odd.values * 0.5), *landings[3:6]])
    state = look(job)
    row = row_of(state, odd.path)
    (sense,) = row.senses
    assert (row.state, sense.code, sense.grave, sense.asks) == ("landed", "repeat-off", True, ("keep as it is",))
    assert row.place not in state.writing.rows
    assert "5 of " in state.so_far.line
    assert state.so_far.line.endswith("One run in question is left out."), "nor do the results so far rest on it"
    answers = (answer(job, sense, "keep as it is"),)
    state = look(job, answers=answers)
    assert row.place in state.writing.rows
    assert set(state.writing.added) == {"desk/runs.csv"}, "it is no answer to a question of a check"
    assert [one.grave for one in row_of(state, odd.path).senses] == [False]
    assert "6 of " in state.so_far.line
    write_logs(day, [replace(odd, values=odd.values * 0.6)])
    assert row.place not in look(job, answers=answers).writing.rows, "another log was not kept"
    write_logs(day, [odd])
    assert row_of(look(job), odd.path).senses == ()
    assert write(job)[0] == []
    assert row_of(look(job), odd.path).state == "noted"


def test_what_another_watch_wrote_is_not_written_again(day, job, landings, tmp_path):
    write_logs(day, landings[:3])
    key = look(job).writing.key
    (tmp_path / "kept-2").mkdir()
    assert write(replace(job, kept=tmp_path / "kept-2"))[0] == []
    text = (day / "desk" / "runs.csv").read_bytes()
    seen = looks.look_and_write(job, key)
    assert "not what was shown" in seen.refused[0]
    assert (day / "desk" / "runs.csv").read_bytes() == text
    assert Counter(row.state for row in seen.state.rows)["noted"] == 3


def test_each_log_is_read_once(day, job, landings, monkeypatch):
    """Over many looks, also when the process that looks is another one: what it had in memory is gone then."""
    monkeypatch.setattr(looks, "QUIET_S", 2.1)
    opened = Counter()
    read = Folder.read

    def counted(self, path, *, limit):
        opened[path] += 1
        return read(self, path, limit=limit)

    monkeypatch.setattr(Folder, "read", counted)
    write_logs(day, landings[:3])
    time.sleep(2.2)
    for number in range(4):
        looks._heads.clear()
        looks._known = Known()
        assert Counter(row.state for row in look(job).rows)["landed"] == 3, number
    assert write(job)[0] == []
    look(job)
    assert {path: count for path, count in opened.items() if path.startswith("logs/")} == {
        one.path: 1 for one in landings[:3]
    }


def test_a_batch_without_planned_rows(job, tmp_path, landings):
    """Everything is done, or a log that is of no row."""
    batch = tmp_path / "plain"
    (batch / "logs").mkdir(parents=True)
    (batch / "batch.toml").write_text('format = 1\nid = "plain"\ntitle = "Plain"\nlicence = "CC-BY-4.0"\n')
    (batch / "logs" / "a.csv").write_bytes(landings[0].content)
    state = look(job, batch=batch)
    assert (state.rows, state.trouble) == ((), ())
    assert [(other.log, other.likely, other.may_be) for other in state.others] == [("logs/a.csv", None, ())]


def test_the_bench_with_the_day_is_that_of_all_that_was_tested(day, job, landings):
    write_logs(day, landings[:30])
    assert write(job)[0] == []
    db = open_catalog(job.catalog, readonly=True)
    checked = check(read_batch(day), db)
    asked = asked_of({"hollendry-bobbin", "tessarik-plinth"}, {"wrenlet-u2"})
    benches = Benches()
    before = benches.before(job.catalog, db, asked, now=NOW)
    assert benches.before(job.catalog, db, asked, now=NOW) is before
    with_day = WithDay(before, db, checked, now=NOW)
    after = with_day.bench()
    whole = load_bench(full_part(as_if_entered(checked, db, now=NOW), asked, as_of=NOW))
    assert len(whole.cells) > len(before.bench.cells)

    def comparable(bench):
        return [replace(cell, run_ids=()) for cell in (*bench.cells, *bench.cells_under)]  # each copy numbers anew

    assert comparable(after) == comparable(whole)
    assert after.scatter == whole.scatter
    # Without some of its runs it is what it would be if they had never come.
    left_out = {(one["source_file"], one["source_row"]) for one in checked.rows["run"][-2:]}
    fewer = replace(checked, rows={**checked.rows, "run": checked.rows["run"][:-2]})
    never = load_bench(full_part(as_if_entered(fewer, db, now=NOW), asked, as_of=NOW))
    without = with_day.bench(without=left_out)
    assert comparable(without) == comparable(never) != comparable(after)
    assert without.scatter == never.scatter
    losses = losses_of(job.catalog)
    day = [cell for cell in after.cells if cell.session not in {old.session for old in before.bench.cells}]
    assert day
    assert all(cell.attenuation_db == losses[cell.spot] for cell in day), "each cell is where its spot is"


def test_the_plan_of_a_day_that_is_away_or_broken(day, job):
    (day / "batch.toml").write_text("title = ", encoding="utf-8")
    seen = looks.look(job)
    assert "not valid TOML" in seen.state.trouble[0]
    assert not seen.no_batch
    shutil.rmtree(day)
    seen = looks.look(job)
    assert "does not exist" in seen.state.trouble[0]
    assert seen.no_batch


def test_a_job_may_name_what_is_gone(day, job, landings):
    """A row that is not in the plan any more, and a log that is not there."""
    write_logs(day, landings[:1])
    gone = ("runs.csv", "runs", 999)
    state = look(job, given={"logs/gone.csv": gone}, typed={gone: {"note": "x"}})
    assert Counter(row.state for row in state.rows)["landed"] == 1
    assert isinstance(job, Job)


def test_when_a_log_came_is_as_it_was_watched_whatever_the_times_of_its_file(day, job, landings):
    """A copy may keep the time of the machine that wrote the log, whose clock is the one in question."""
    landings = [*landings[:3], replace(landings[3], start=landings[3].start - timedelta(hours=1)), *landings[4:6]]
    write_logs(day, landings)
    came = {}
    for one in landings:
        path = day / one.path
        ended = one.start + timedelta(seconds=len(one.values) * one.step_s)
        os.utime(path, (ended.timestamp(), ended.timestamp()))
        came[path.stat().st_ino, path.stat().st_mtime_ns] = one.at
    assert [codes(row) for row in look(job, came=came).rows[:6]] == [[], [], [], ["clock-off"], [], []]
    kept = {key: at for key, at in came.items() if key != list(came)[3]}
    assert "clock-off" not in codes(look(job, came=kept).rows[3]), "its file agrees with its clock"
