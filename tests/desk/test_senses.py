"""Slips of a replayed day are named at their cell when their last log has come, and a clean day is left in peace."""

import shutil
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from builder.watching.senses import senses_of
from builder.watching.states import Sense
from tests.desk.bench_days import bench_day, dates_of, losses_of
from tests.desk.other_truths import otherwise
from tests.desk.planned_days import write_plan
from tests.desk.replaying import Desk
from tests.desk.slips import DAYS, KINDS, slipped_day
from tests.desk.test_bench_days import CEILING, PLAN, REFERENCE

# Each kind with what says it. A repeat may also be above what the radio link carries at all, as `check` has it.
CODES = {
    "a repeat off its siblings": {"repeat-off", "at-ceiling", "above-phy"},
    "a level off its spot's loss": {"level-off-spot"},
    "a role that never sent": {"role-silent"},
    "two logs swapped": {"logs-swapped"},
    "a clock that is an hour off": {"clock-off"},
    "the wrong day": {"wrong-day"},
    "a run that stopped": {"rate-stopped"},
    "a value at a known ceiling": {"at-ceiling"},
    "a value at a likely ceiling": {"likely-ceiling"},
    "a reference device that is off": {"reference-off"},
}


@pytest.fixture(scope="module")
def planned(demo_file, tmp_path_factory):
    place = tmp_path_factory.mktemp("watched")
    write_plan(PLAN, place / "day", demo_file)
    return place / "day"


@pytest.fixture(scope="module")
def desk(planned, demo_file, tmp_path_factory):
    return Desk(shutil.copytree(planned, tmp_path_factory.mktemp("desk") / "day"), demo_file)


@pytest.fixture(scope="module")
def clean(planned, demo_file):
    return bench_day(planned, losses=losses_of(demo_file), dates=dates_of(planned), seed=101)


def said(desk, look) -> list[Sense]:
    return senses_of(
        look.measured,
        before=desk.before,
        after=look.after,
        document=desk.document,
        now=look.now,
        of_check=look.of_check,
    )


def after(desk, landings) -> list[Sense]:
    """What is said when all of these have come."""
    return said(desk, desk.look(landings))


def changed(landings, number, **changes):
    """The first logs up to a number, the last one changed."""
    return [*landings[: number - 1], replace(landings[number - 1], **changes)]


@pytest.mark.parametrize("seed", range(1, DAYS + 1))
def test_slips_are_named_when_their_last_log_has_come(planned, desk, demo_file, seed):
    facts = {"losses": losses_of(demo_file), "dates": dates_of(planned), "ceiling": CEILING, "reference": REFERENCE}
    landings = slipped_day(planned, seed=seed, **facts)
    last = {one.number: place for place, one in enumerate(landings) if one.slip}
    slip_of = {(f"{one.table}.csv", one.table, one.row): one for one in landings}
    named, alarms = {}, set()
    for place, look in enumerate(desk.looks(landings)):
        if place not in last.values() and place % 16:
            continue
        senses = said(desk, look)
        alarms |= {(one.code, one.place) for one in senses if not slip_of[one.place].slip}
        for number, at in last.items():
            if at == place:
                named[number] = [
                    one for one in senses if slip_of[one.place].number == number and slip_of[one.place].slip
                ]
    for number, senses in named.items():
        assert {one.code for one in senses} & CODES[KINDS[number]], (KINDS[number], senses)
        assert all(one.text.endswith((".", "?")) and one.remedy for one in senses)
    swapped = [one for one in named[KINDS.index("two logs swapped")] if one.code == "logs-swapped"]
    assert len({one.place for one in swapped}) == 2
    assert len(alarms) <= sum(not one.slip for one in landings) / 50


@pytest.mark.parametrize("truth", ["", "scatter twice as high"])
def test_a_clean_day_is_left_in_peace(desk, clean, truth):
    landings = otherwise(clean, truth, seed=101) if truth else clean
    alarms = set()
    for place, look in enumerate(desk.looks(landings)):
        if place % 8 == 7:
            alarms |= {(one.code, one.place) for one in said(desk, look)}
    assert len(alarms) <= len(landings) / 50
    assert truth or not alarms


def test_of_two_repeats_both_are_named_until_a_third_tells(desk, clean):
    landings = changed(clean, 2, values=clean[1].values * 0.6)
    (sense,) = after(desk, landings)
    assert sense.code == "repeat-off"
    assert "S1 download 2 gives" in sense.text
    assert "S1 download 1 " in sense.text
    assert "nothing tells yet which is off" in sense.text
    (sense,) = after(desk, [*landings, clean[2]])
    assert sense.text.startswith("S1 download 2 gives")
    assert "under the other two repeats of this cell, of which not one in 10,000 lies so far off." in sense.text
    assert sense.remedy == "Repeat S1 download 2 now, while client and device still stand there."


def test_logs_renamed_after_they_came_are_told_by_the_order_of_the_plan(desk, clean):
    one, other = clean[8], clean[26]  # S2 and S5, each with the other's name, time and moment of arrival
    swapped = {
        one.path: replace(one, values=other.values, start=other.start, at=other.at),
        other.path: replace(other, values=one.values, start=one.start, at=one.at),
    }
    landings = sorted((swapped.get(landing.path, landing) for landing in clean[:30]), key=lambda landing: landing.at)
    senses = after(desk, landings)
    assert {(sense.code, sense.log) for sense in senses} == {("logs-swapped", one.path), ("logs-swapped", other.path)}
    assert "begins between the runs around that" in senses[0].text


def test_a_log_of_elsewhere_is_one_of_two_things_while_its_pair_is_missing(desk, clean):
    landings = changed(clean, 10, values=clean[45].values, start=clean[45].start)
    (sense,) = after(desk, landings)
    assert sense.code == "other-time"
    assert "it is another run’s log, or a clock is wrong; it also gives 88 % under" in sense.text


@pytest.mark.parametrize(
    ("minutes", "side"), [(24, "after runs that the plan has later"), (-24, "before runs that the plan has earlier")]
)
def test_of_logs_copied_together_one_that_is_no_full_hours_off_is_on_the_side_where_it_lies(desk, clean, minutes, side):
    evening = clean[-1].at + timedelta(hours=3)
    copied = [replace(one, at=evening + timedelta(seconds=4 * number)) for number, one in enumerate(clean[:12])]
    copied[5] = replace(copied[5], start=copied[5].start + timedelta(minutes=minutes))
    (sense,) = after(desk, copied)
    assert (sense.code, sense.log) == ("other-time", copied[5].path)
    assert f", {side}: it is another run’s log" in sense.text


@pytest.mark.parametrize(("hours", "side"), [(1, "one hour ahead"), (-2, "two hours behind")])
def test_a_clock_off_by_hours(desk, clean, hours, side):
    (sense,) = after(desk, changed(clean, 10, start=clean[9].start + timedelta(hours=hours)))
    assert (sense.code, sense.grave) == ("clock-off", True)
    assert side in sense.text


def test_the_first_log_of_the_day_an_hour_behind(desk, clean):
    first = replace(clean[0], start=clean[0].start - timedelta(hours=1))
    (sense,) = after(desk, [first, *clean[1:3]])
    assert sense.text.startswith(
        "The log of S1 download 1 begins at 07:49, when its turn was at 08:49: its clock is one hour behind"
    )


def test_of_logs_that_were_copied_together_the_order_tells(desk, clean):
    evening = clean[-1].at + timedelta(hours=3)
    copied = [replace(one, at=evening + timedelta(seconds=4 * number)) for number, one in enumerate(clean[:12])]
    copied[5] = replace(copied[5], start=copied[5].start + timedelta(hours=1))
    (sense,) = after(desk, copied)
    assert (sense.code, sense.log) == ("clock-off", copied[5].path)


def test_a_clock_that_is_off_all_day_is_said_once(desk, clean):
    landings = [replace(one, start=one.start + timedelta(hours=2)) for one in clean[:5]]
    (sense,) = after(desk, landings)
    assert sense.text.startswith("All 5 logs of wrenlet-u2 are two hours ahead of this machine")


def test_logs_that_were_copied_late_prove_nothing(desk, clean):
    at_night = clean[20].at + timedelta(hours=9)
    assert after(desk, [replace(one, at=at_night) for one in clean[:20]]) == []
    one_late = [*clean[:8], replace(clean[8], at=clean[8].at + timedelta(minutes=40)), *clean[9:12]]
    assert after(desk, sorted(one_late, key=lambda one: one.at)) == []


def test_a_session_of_another_day(desk, clean):
    landings = [replace(one, start=one.start + timedelta(days=1), at=one.at + timedelta(days=1)) for one in clean[:4]]
    (sense,) = after(desk, landings)
    assert sense.text.startswith(
        "All 4 logs are of 1 December 2026, and the session 2026-11-day-day-1 is of 30 November"
    )
    after_midnight = [
        replace(one, start=one.start + timedelta(hours=16.5), at=one.at + timedelta(hours=16.5)) for one in clean[:4]
    ]
    assert [one.code for one in after(desk, after_midnight)] == ["other-day"] * 4  # what `check` says, and no slip


def test_a_log_that_ends_early(desk, clean):
    (sense,) = after(desk, changed(clean, 10, values=clean[9].values[:12]))
    assert (sense.code, sense.text.split(",")[0]) == ("run-short", "The log of S2 download 4 lasts 12 s")


def test_a_whole_visit_at_another_level(desk, clean):
    off = {"level_dbm": "-52"}
    landings = [replace(one, typed=off) if one.spot == "S3" else one for one in clean[:24]]
    (sense,) = after(desk, landings)
    assert sense.code == "level-off-spot"
    assert sense.text.startswith("All 6 levels at S3 lie")


def test_a_question_of_check_goes_along_with_what_explains_it(desk, clean):
    # An eighth of its siblings is a question about units to `check`, and another run's log here.
    (sense,) = after(desk, changed(clean, 10, values=clean[9].values / 8, start=clean[40].start))
    assert sense.code == "other-time"
    assert sense.grave


def test_a_role_whose_requests_all_failed(desk, clean):
    place = next(number for number, one in enumerate(clean) if one.table == "stations")
    silent = replace(clean[place], values=np.full(len(clean[place].values), np.nan))
    (sense,) = after(desk, [*clean[:place], silent, *clean[place + 1 : place + 4]])
    assert sense.text.startswith("None of the 150 requests of small-picture on mottle-n1 in after-supper was answered")
    assert "while 3 other roles of this mix got theirs" in sense.text


def test_a_role_whose_log_does_not_come(desk, clean):
    place = next(number for number, one in enumerate(clean) if one.table == "stations")
    look = desk.look(clean[: place + 4])
    *others, missing = look.measured
    asked = {"before": desk.before, "after": look.after, "document": desk.document}
    waiting = replace(missing, log="", arrived=None, started=None, ended=None, digest={})
    assert senses_of(others, **asked, now=look.now, still_open=[waiting]) == []
    (sense,) = senses_of(others, **asked, now=look.now + timedelta(minutes=6), still_open=[waiting])
    assert (sense.code, sense.place) == ("role-missing", missing.place)
    assert sense.text.startswith("No log of homework on wrenlet-u2 in after-supper has come, 6 minutes after the last")
