"""The list of figures that the method page is made from is whole and true to the functions."""

import inspect
import re

import pytest

from builder.metrics import METRICS, Metric
from catalog.units import UNITS


@pytest.mark.parametrize("metric", METRICS.values(), ids=lambda metric: metric.name)
def test_every_entry_is_whole(metric: Metric) -> None:
    assert METRICS[metric.name] is metric
    assert metric.meaning.endswith(".")
    assert metric.source
    assert metric.definition >= 1
    assert metric.better in ("higher", "lower", "neither")
    assert metric.unit.removesuffix(" per hour") in {*UNITS, "1", "R", "MOS"}


@pytest.mark.parametrize("metric", METRICS.values(), ids=lambda metric: metric.name)
def test_every_figure_has_a_definition_with_a_source(metric: Metric) -> None:
    assert re.search(r"^Source +\S", inspect.getdoc(metric.compute) or "", re.MULTILINE)


def test_definitions_have_the_numbers_they_were_published_with() -> None:
    # A snapshot. Who kept a figure sees by this number whether it still means the same: it moves with a definition only.
    changed = {metric.name: metric.definition for metric in METRICS.values() if metric.definition > 1}
    once = (
        "throughput",
        "median and fifth percentile of a long run",
        "drift",
        "period",
        "touch caution",
        "shown or not",
        "stalls of a stream",
    )
    assert changed == dict.fromkeys(once, 2)


def test_no_function_is_listed_twice() -> None:
    functions = [metric.compute for metric in METRICS.values()]
    assert len(set(functions)) == len(functions)


def test_every_module_is_on_the_list() -> None:
    # A module that no entry names would compute figures the method page does not explain.
    import builder.metrics as package

    modules = {name for name, value in vars(package).items() if inspect.ismodule(value) and name != "standards"}
    listed = {metric.compute.__module__.rpartition(".")[2] for metric in METRICS.values()}
    assert modules <= listed
    assert len(modules) == 14
