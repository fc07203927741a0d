"""What a day says so far: never more than its cells carry, in the plan's own terms, and at last what a comparison says."""

import csv
import json
import math
from dataclasses import replace

import pytest

from builder.bench.bench import subject_named
from builder.pairs.compare import compare
from builder.planning.costs import costs_of
from builder.planning.forecasts import group_spread
from builder.watching.day_plan import PlanRow, day_plan
from builder.watching.so_far import so_far_of
from builder.watching.states import SoFar
from builder.watching.to_come import Standing
from tests.desk.bench_days import bench_day, dates_of, losses_of
from tests.desk.planned_days import write_plan
from tests.desk.replaying import Desk
from tests.desk.test_bench_days import PLAN

COSTS = costs_of((), {"run_minutes": 0.9, "spot_minutes": 4.0, "session_minutes": 45.0, "swap_minutes": 8.0})


def planned(demo_file, place, *words):
    result = write_plan(words, place / "day", demo_file, "--json")
    return Desk(place / "day", demo_file), result


def plan_rows(folder):
    rows = []
    for stem in ("runs", "stations"):
        if (folder / f"{stem}.csv").exists():
            with (folder / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
                for number, row in enumerate(csv.DictReader(file), start=2):
                    texts = {name: text for name, text in row.items() if text}
                    rows.append(PlanRow((f"{stem}.csv", stem, number), len(rows) + 1, texts))
    return rows


@pytest.fixture(scope="module")
def desk(demo_file, tmp_path_factory):
    return planned(demo_file, tmp_path_factory.mktemp("sofar"), *PLAN)[0]


@pytest.fixture(scope="module")
def rows(desk):
    return plan_rows(desk.folder)


@pytest.fixture(scope="module")
def clean(desk, demo_file):
    return bench_day(desk.folder, losses=losses_of(demo_file), dates=dates_of(desk.folder), seed=101)


@pytest.fixture(scope="module")
def made(desk, rows):
    return day_plan(rows, before=desk.before, document=desk.document)


def so_far(desk, look, rows, made, *, left_out=0) -> SoFar:
    return so_far_of(
        look.measured,
        before=desk.before,
        after=look.after,
        document=desk.document,
        plan=rows,
        costs=COSTS,
        left_out=left_out,
        made=made,
    )


def standing_of(desk, look, made):
    return Standing(made, made.lattice, look.after, group_spread(desk.before, made.group))


@pytest.fixture(scope="module")
def day(desk, clean, rows, made):
    """What is said after some of the logs of a clean day."""
    wanted = {2, 8, 14, 46, 60, 184}
    return {
        place: (look, so_far(desk, look, rows, made))
        for place, look in enumerate(desk.looks(clean), start=1)
        if place in wanted
    }


def test_the_promise_is_that_of_the_plan(demo_file, tmp_path):
    desk, result = planned(demo_file, tmp_path, *PLAN)
    document = json.loads(result.stdout)
    made = day_plan(plan_rows(desk.folder), before=desk.before, document=desk.document)
    assert made.made.half == pytest.approx(document["half_width"], rel=1e-9)
    assert [made.lattice.low, made.lattice.high] == document["range"]
    assert (made.device.id, made.other.id, made.both) == ("hollendry-bobbin", "tessarik-plinth", True)


def test_the_other_device_and_the_window_are_read_from_the_batch(demo_file, tmp_path):
    words = [one for one in PLAN if one not in ("--both", "--write")]
    desk, _ = planned(demo_file, tmp_path, *words, "--window", "middle", "--hours", "2.5", "--write")
    assert desk.document["bench"] == {"against": "tessarik-plinth", "window": "middle"}
    made = day_plan(plan_rows(desk.folder), before=desk.before, document=desk.document)
    assert (made.other.id, made.both) == ("tessarik-plinth", False)
    assert (made.lattice.low, made.lattice.high) == (60.0, 75.0)


def test_no_verdict_before_three_places_and_no_promise_before_three_cells(day):
    for place, words in ((2, "one place; two more are needed."), (8, "two places; one more is needed.")):
        _, said = day[place]
        assert said.verdict == f"No verdict yet: Bobbin Home was measured at {words}"
        assert said.promise == "The plan promises that a difference of 19 Mbit/s would be shown, likely 14–30."
        assert said.pays_next.startswith("The open cells of Bobbin Home come first: without ")
    _, third = day[14]
    assert third.verdict.startswith("In the same place Bobbin Home gives")
    assert third.promise == (
        "With all runs of the plan a difference of 21 Mbit/s would be shown; the plan promised 19. Runs of Bobbin Home "
        "scatter as usual here."
    )
    assert not third.behind


def test_at_the_end_it_is_what_a_comparison_says(day, desk, made):
    look, said = day[184]
    a, b = (subject_named(look.after, one.id) for one in (made.device, made.other))
    (figure,) = [one for one in compare(look.after, a, b, match="attenuation") if one.group == made.group]
    assert said.verdict == figure.sentence
    standing = standing_of(desk, look, made)
    assert standing.half(standing.cells) == pytest.approx(figure.half_width, rel=1e-12)
    assert standing.half(standing.with_more({})) == pytest.approx(figure.half_width, rel=1e-12)


def test_what_is_expected_after_a_pass_is_what_comes(day, desk, made):
    # Eight cells of the device are begun, and the other's second half and its own are still to come.
    look, _ = day[46]
    standing = standing_of(desk, look, made)
    done = {key: cell.n for key, cell in standing.today.items()}
    left = {key: often - done.get(key, 0) for key, often in made.cells.items()}
    expected = standing.half(standing.with_more(left))
    end = standing_of(desk, day[184][0], made)
    assert expected == pytest.approx(end.half(end.cells), rel=0.15)


def test_more_runs_of_a_visit_bring_less_than_a_visit_more(day, desk, made):
    look, _ = day[60]
    standing = standing_of(desk, look, made)
    key = ("tessarik-plinth", "2026-11-day-day-1", "S6")  # nobody stands there
    now = standing.half(standing.cells)
    new = standing.half(standing.with_more({key: 6}))
    assert new < now
    cell = next(
        cell for cell in standing.with_more({key: 6})["tessarik-plinth"] if cell.session == key[1] and cell.spot == "S6"
    )
    assert (cell.n, math.isclose(sum(share for _, share in cell.visits), 1.0)) == (6, True)
    here = ("tessarik-plinth", "2026-11-day-day-1", "S3")
    stays, again = (standing.half(standing.with_more({here: 6}, stays=at)) for at in (here, None))
    assert again < stays < now


def test_what_pays_next_is_the_most_a_minute(day):
    _, said = day[60]
    assert said.pays_next.startswith(
        "Most for the next 10 minutes: 6 runs of Plinth at S5 (10 min); ±36 Mbit/s become ±32."
    )
    assert "What the plan has next, " in said.pays_next


def test_runs_that_scatter_much_more_are_behind_the_plan_at_once(desk, clean, rows, made):
    wild = [replace(one, values=one.values * (1.1 if number % 3 else 0.75)) for number, one in enumerate(clean[:15])]
    said = so_far(desk, desk.look(wild), rows, made)
    assert said.behind
    assert said.promise.startswith("Behind the plan: with all runs of the plan a difference of ")
    assert "times as much as is usual here" in said.promise


def test_picture_line_and_cells(day, desk, rows, made):
    look, said = day[46]
    assert said.picture.count("<svg") == 2
    assert "var(--" in said.picture
    assert "style=" not in said.picture
    assert (
        said.line
        == "Bobbin Home: 8 of 8 cells begun, 46 of 92 runs. It goes from 832 Mbit/s at 48.1 dB to 102 at 91.9 dB."
    )
    first = said.cells[0]
    assert (first["spot"], first["done"], first["planned"], first["value"]) == ("S1", 6, 12, "832")
    assert so_far(desk, look, rows, made, left_out=1).line.endswith("One run in question is left out.")


def test_a_batch_without_a_plan_says_nothing(desk, clean):
    look = desk.look(clean[:3])
    assert so_far(desk, look, (), None) == SoFar()
    unknown = [PlanRow(("runs.csv", "runs", 2), 1, {"device": "nobody", "spot": "S1", "repeat": "1"})]
    assert so_far(desk, look, unknown, None) == SoFar()
