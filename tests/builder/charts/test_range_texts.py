"""All texts of range charts measured, over many shapes of lines: none lies on another, none leaves the frame."""

import random
from itertools import combinations

import pytest

from builder.charts.label_text import LabelText
from builder.charts.range_chart import range_figure
from builder.charts.range_lines import (
    Difference,
    DifferenceKnot,
    RangeKnot,
    RangeSeries,
    RangeWindow,
    RulerMark,
)
from builder.charts.range_template import NARROW, WIDE, left_of, right_of
from tests.builder.charts.texts import Text, apart, panels, texts

ON_LINES = {"firsts", "seconds", "bold_firsts", "bold_seconds"}
WINDOWS = [
    RangeWindow(50, 60, "near", "near"),
    RangeWindow(60, 75, "a wall or two away", "a wall or two"),
    RangeWindow(75, 90, "far", "far"),
]
WALLS = [
    "none, same room",
    "far side of the room",
    "one plasterboard wall",
    "one brick wall",
    "one brick wall, one door, one metal cupboard",
    "wooden floor, two brick walls, foil-backed insulation and a water tank of unknown size",
    "Wärmedämmverbundsystemaußenwand",
]
MODELS = ["Cupola", "Rondel 4", "Sill Outdoor Extended Range Second Edition", "Low", "Dome 20", "Bobbin Home"]
KINDS = ("fan", "near-equal", "one knot", "crossing", "flat", "gaps", "dense")


def knots(chance: random.Random, kind: str, number: int) -> tuple[RangeKnot, ...]:
    start = 900 - (3 if kind == "near-equal" else 120) * number
    count = 1 if kind == "one knot" else chance.randint(2, 16 if kind == "dense" else 9)
    places = sorted({round(chance.uniform(45, 92), 1) for _ in range(count)})
    if kind == "one knot":
        places = [70.0]
    made = []
    for x in places:
        fall = {"flat": 0, "crossing": (number - 2) * 14}.get(kind, 15)
        value = max(start - fall * (x - 45) + chance.uniform(-1, 1) * (2 if kind == "near-equal" else 30), 1.0)
        spread = None if chance.random() < 0.2 else value * 0.06
        bound, at_port = chance.random() < 0.1, chance.random() < 0.1
        low, high = (None, None) if spread is None or bound else (value - spread, value + spread)
        made.append(RangeKnot(x, value, low, high, bound, f"{value:.0f}", at_port))
    return tuple(made)


def figure(seed: int, kind: str):
    chance = random.Random(f"{seed} {kind}")
    count = 2 if chance.random() < 0.4 else chance.randint(1, 6)
    series = []
    for number in range(count):
        maker, model = chance.choice(["Tessarik", "Polmerre", "Quillmast"]), MODELS[number]
        names = (LabelText(maker, model), LabelText("", model), LabelText("", model.split()[-1] + f" {number}"))
        if chance.random() < 0.2:
            names = (LabelText(f"6.{number}.0", ", before", "first"),)
        series.append(RangeSeries(f"{maker} {model}", f"firmware {number}", knots(chance, kind, number), names))
    level = chance.random() < 0.2
    if level:
        series = [
            RangeSeries(
                s.label,
                s.detail,
                tuple(RangeKnot(-k.x, k.value, k.low, k.high, k.bound, k.text) for k in s.knots),
                s.names,
            )
            for s in series
        ]
    places = [k.x for s in series for k in s.knots]
    difference = None
    if count == 2 and chance.random() < 0.7:
        values = [chance.uniform(-300, 400) for _ in places]
        difference = Difference(
            heading="Cupola minus Sill Outdoor Extended Range Second Edition, Mbit/s",
            total="over all 91, likely 31–150",
            below=("below the line: Rondel 4 gives more", "below: the other gives more"),
            knots=tuple(
                DifferenceKnot(x, v, v - 40, v + 40, chance.choice([None, None, "least", "most"]), True, f"{v:.0f}")
                for x, v in dict(zip(places, values, strict=True)).items()
            ),
        )
    return range_figure(
        key="k",
        title="How does it fade?",
        axis="level" if level else "attenuation",
        series=series,
        ruler=[] if level else [RulerMark(round(chance.uniform(44, 93), 1), chance.choice(WALLS)) for _ in range(9)],
        notes=["5 GHz, 80 MHz, client Wrenlet U2.", "Bands: 95 % interval of each value by itself."],
        spoken="It fades.",
        shared_range=(min(places), sum(places) / len(places)) if chance.random() < 0.3 else None,
        unit="Mbit/s, download",
        windows=WINDOWS,
        difference=difference,
    )


def page_of(spec) -> list[Text]:
    """Texts of all panels in px of the first one."""
    first, *rest = panels(spec)
    found = list(texts(first, spec["datasets"], spec["config"]))
    for panel in rest:
        down = first["height"] + spec["spacing"]
        found += [
            Text(t.text, t.data, t.size, t.left, t.top + down, t.right, t.bottom + down)
            for t in texts(panel, spec["datasets"], spec["config"])
        ]
    return found


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("layout", [WIDE, NARROW], ids=["wide", "narrow"])
def test_no_text_lies_on_another_or_leaves_the_frame(kind, layout):
    for seed in range(30):
        made = figure(seed, kind)
        spec = made.spec if layout is WIDE else made.narrow
        found = page_of(spec)
        assert len(found) > 8
        for one, other in combinations(found, 2):
            assert apart(one, other, by=0.01), f"{kind} {seed}: {one} and {other}"
        for one in found:
            # Numbers left of the plot may grow into the page's margin, of 10 px at least.
            margin = 8 if one.data in ("steps", "y axis") else 0.01
            assert one.left >= -left_of(layout) - margin, f"{kind} {seed}: {one}"
            assert one.right <= layout.plot_width + right_of(layout) + 0.01, f"{kind} {seed}: {one}"
            # Of 340 px in a column of 300, or 836 in one of 700, that leaves 11 px on the screen.
            if one.data != "notes":  # pages set those as text of their own
                assert one.size * (300 / 340 if layout is NARROW else 700 / 836) >= 11
            if one.data in ON_LINES:
                assert one.top >= -9, f"{kind} {seed}: {one}"
                assert one.bottom <= spec.get("height", panels(spec)[0]["height"]), f"{kind} {seed}: {one}"


@pytest.mark.parametrize("kind", KINDS)
def test_every_line_has_a_name_of_its_own(kind):
    for seed in range(30):
        made = figure(seed, kind)
        for spec in (made.spec, made.narrow):
            said: dict[str, str] = {}
            for data in ("firsts", "bold_firsts", "bold_seconds", "seconds"):
                for row in spec["datasets"][data]:
                    said[row["series"]] = said.get(row["series"], "") + row["text"]
            assert sorted(said) == [str(number + 1) for number in range(made.parts)]
            assert len(set(said.values())) == made.parts


def test_a_name_keeps_a_third_of_its_width_free():
    # Where a face is that much wider, a name grows to both sides of where its parts meet and meets no other name.
    for seed in range(60):
        for spec in (figure(seed, "fan").spec, figure(seed, "near-equal").narrow):
            names = [text for text in page_of(spec) if text.data in ON_LINES]
            for one, other in combinations(names, 2):
                assert apart(widened(one), widened(other), by=0.01)


def widened(text: Text) -> Text:
    more = (text.right - text.left) / 3
    left, right = (more, 0) if text.data.endswith("firsts") else (0, more)
    return Text(text.text, text.data, text.size, text.left - left, text.top, text.right + right, text.bottom)


def test_six_names_in_the_same_place_bring_samples_of_their_marks():
    lines = [RangeSeries(f"Porch {i}", "x", (RangeKnot(60, 500, None, None, False, "500"),)) for i in range(6)]
    made = range_figure(
        key="k", title="Who?", axis="attenuation", series=lines, ruler=[], notes=[], spoken="All.", shared_range=None
    )
    for spec in (made.spec, made.narrow):
        assert len(spec["datasets"]["samples"]) >= 4
        assert len(spec["datasets"]["bold_seconds"]) == 6


def test_two_lines_with_room_stand_apart_from_their_names_and_need_no_sample():
    made = range_figure(
        key="k",
        title="Who?",
        axis="attenuation",
        series=[
            RangeSeries("Up", "x", tuple(RangeKnot(x, 900 - x, None, None, False, "1") for x in (50, 60, 70))),
            RangeSeries("Down", "x", tuple(RangeKnot(x, 500 - x, None, None, False, "1") for x in (50, 60, 70))),
        ],
        ruler=[],
        notes=[],
        spoken="Both.",
        shared_range=None,
    )
    assert made.spec["datasets"]["samples"] == []
    upper, lower = made.spec["datasets"]["bold_seconds"]
    assert upper["at"] > 900 - upper["x"]  # above the upper, below the lower
    assert lower["at"] < 500 - lower["x"]
