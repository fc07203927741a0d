from itertools import combinations

import altair
import pytest

from builder.charts.step_chart import WIDTH, StepRow, step_figure
from tests.builder.charts.texts import apart, texts


def drawn_rows(step):
    return step.spec["datasets"]


def test_the_grammar_is_altairs(step):
    # Reference: the Vega-Lite schema that Altair carries.
    altair.LayerChart.from_dict(step.spec, validate=True)


def test_rows_that_cannot_tell_step_back(step):
    data = drawn_rows(step)
    assert [row["x"] for row in data["told_dots"]] == [56, 99, 140]
    assert [row["x"] for row in data["open_dots"]] == [6]
    assert [(row["x"], row["x2"]) for row in data["told"]] == [(20, 92), (32, 166)]
    assert [row["x"] for row in data["at_least"]] == [140]
    assert [row["text"] for row in data["soft_words"]] == ["cannot tell", "not compared"]


def test_values_lie_where_they_say_between_names_and_words(step):
    x = next(one["encoding"]["x"] for one in step.spec["layer"] if one["data"]["name"] == "told_dots")
    low, high = x["scale"]["domain"]

    def px(value):
        return (value - low) / (high - low) * WIDTH

    assert px(-24) > 84
    assert px(166) < WIDTH - 60
    assert px(100) - px(0) == pytest.approx(px(0) - px(-100))


@pytest.mark.parametrize("name", ["B1", "by the window, Birchgate"])
def test_no_text_lies_on_another_or_leaves_the_frame(name):
    rows = [StepRow(f"{name} {i}", 45.0 + i, 900 - i, 800, 1000, None, True, f"{900 - i} more") for i in range(9)]
    made = step_figure(
        key="k",
        title="Did it help?",
        newer="6.1.0",
        older="6.0.4",
        over_all=StepRow("over all", None, -40, -95, 15, None, False, "cannot tell"),
        rows=rows,
        notes=[],
        spoken="It did.",
    )
    found = list(texts({**made.spec, "width": WIDTH}, made.spec["datasets"], made.spec["config"]))
    assert len(found) > 25
    for one, other in combinations(found, 2):
        assert apart(one, other, by=0.01), f"{one} and {other}"
    for one in found:
        assert one.left >= -0.01, one
        assert one.right <= WIDTH + 0.01, one
        assert one.size == 13


def test_the_table_says_every_row(step):
    assert step.table.rows == (
        ("over all", "–", "56 more"),
        ("B1", "45.9", "99 more"),
        ("B5", "70.7", "cannot tell"),
        ("B6", "81.5", "at least 140 more"),
        ("B7", "–", "not compared"),
    )


def test_nothing_known_is_refused():
    nothing = StepRow("over all", None, None, None, None, None, False, "not compared")
    with pytest.raises(ValueError, match="nothing is known of 2 minus 1"):
        step_figure(
            key="k", title="Did it help?", newer="2", older="1", over_all=nothing, rows=[], notes=[], spoken="No."
        )


def test_without_a_figure_over_all_there_are_rows_alone():
    made = step_figure(
        key="k",
        title="Which?",
        newer="Cupola",
        older="Tarn",
        over_all=None,
        rows=[StepRow("B1", None, 30, 10, 50, None, True, "30 more")],
        notes=[],
        spoken="This.",
    )
    assert made.spec["datasets"]["bold_names"] == []
    assert [row["text"] for row in made.spec["datasets"]["toward"]] == ["more with Cupola →"]
