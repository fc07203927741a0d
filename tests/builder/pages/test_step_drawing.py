"""The chart of what a firmware brought: the engine's figures of the step and of each spot."""

from builder.bench.bench import subject_named
from builder.pages.parts.step_drawing import firmware_step_figure, spot_figure
from builder.pairs.histories import firmware_steps
from builder.pairs.pairing import pairing


def steps(lab):
    bench = lab.bench()
    return bench, firmware_steps(bench, "A", company={})


def run_with(lab, firmware, *, more=0, spots=("B2", "B10", "B1")):
    for x, spot in zip((50, 60, 70), spots, strict=True):
        value = 900 - 10 * (x - 50) + more
        lab.add("A", [(x, [value, value + 4, value + 2])], firmware=firmware, spot=spot, spot_since="2025-01-01")


def test_over_all_and_each_spot_are_the_engines(lab):
    run_with(lab, "1.0")
    run_with(lab, "2.0", more=60)
    bench, (step,) = steps(lab)
    figure = firmware_step_figure(bench, step)
    assert figure.table.rows == (
        ("over all", "–", "60 more"),
        ("B2", "50", "60 more"),
        ("B10", "60", "60 more"),
        ("B1", "70", "60 more"),
    )
    leading = step.pairing.leading
    assert figure.spec["datasets"]["told_dots"][0]["x"] == leading.difference
    assert tuple(figure.spec["datasets"]["told"][0][end] for end in ("x", "x2")) == leading.interval
    assert figure.title == "Did firmware 2.0 help?"
    assert leading.sentence.startswith(figure.spoken[:40])


def test_what_zero_is_inside_of_cannot_be_told(lab):
    run_with(lab, "1.0")
    run_with(lab, "2.0", more=1)
    bench, (step,) = steps(lab)
    figure = firmware_step_figure(bench, step)
    assert {row[2] for row in figure.table.rows} == {"cannot tell"}
    assert figure.spec["datasets"]["told_dots"] == []


def test_less_is_said_as_less(lab):
    run_with(lab, "1.0")
    run_with(lab, "2.0", more=-60)
    bench, (step,) = steps(lab)
    assert {row[2] for row in firmware_step_figure(bench, step).table.rows} == {"60 less"}


def test_in_more_than_one_house_spots_are_told_apart(lab):
    for house in ("house-a", "house-b"):
        for firmware, more in (("1.0", 0), ("2.0", 50)):
            for x in (50, 60):
                value = 900 - 10 * (x - 50) + more
                lab.add(
                    "A",
                    [(x + (house == "house-b"), [value, value + 4])],
                    firmware=firmware,
                    spot=f"B{x}",
                    spot_since="2025-01-01",
                    house=house,
                )
    bench, (step,) = steps(lab)
    names = [row[0] for row in firmware_step_figure(bench, step).table.rows]
    assert names == ["over all", "B50, house-a", "B50, house-b", "B60, house-a", "B60, house-b"]


def test_there_is_none_where_no_unit_had_both_or_no_spot_is_shared(lab):
    run_with(lab, "1.0")
    lab.add("A", [(50, [900, 903])], firmware="2.0", unit="B")
    bench, (step,) = steps(lab)
    assert firmware_step_figure(bench, step) is None


def test_two_devices_at_named_spots_alone_are_drawn_spot_by_spot(lab):
    for device, more in (("A", 40), ("B", 0)):
        for spot, value in (("hall", 700), ("attic", 300)):
            lab.add(device, [(None, [value + more, value + more + 4])], spot=spot)
    bench = lab.bench()
    both = pairing(bench, subject_named(bench, "A"), subject_named(bench, "B"), company={})
    assert both.leading.verdict == "refused"
    figure = spot_figure(bench, both)
    assert figure.table.rows == (("attic", "–", "40 more"), ("hall", "–", "40 more"))
    assert figure.title == "Which gives more at the same spots, A or B?"


def test_where_no_spot_compares_them_nothing_is_drawn(lab):
    lab.add("A", [(None, [700, 704])], spot="hall")
    lab.add("B", [(None, [700, 704])], spot="attic")
    bench = lab.bench()
    both = pairing(bench, subject_named(bench, "A"), subject_named(bench, "B"), company={})
    assert spot_figure(bench, both) is None
