import os
import warnings

import altair
import pytest

from builder.charts.converting import VL_VERSION, compiled, converter, drawing
from builder.charts.figures import bare


@pytest.mark.parametrize("name", ["pair", "level", "crowd", "ranking"])
def test_a_grammar_compiled_once_is_the_chart_compiled_anew(request, name):
    # Reference: vl-convert compiling the whole specification.
    figure = request.getfixturevalue(name)
    for spec in (figure.spec, figure.narrow, bare(figure.spec)):
        assert compiled(spec) == converter().vegalite_to_vega(spec, vl_version=VL_VERSION)


def test_another_chart_of_the_same_grammar_does_not_disturb_the_first(pair, crowd):
    first = drawing(pair.spec)
    assert drawing(crowd.spec) != first
    assert drawing(pair.spec) == first


def test_no_font_of_the_machine_is_used_and_the_setting_is_taken_back(monkeypatch):
    monkeypatch.setenv("FONTCONFIG_FILE", "as it was")
    converter.cache_clear()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        converter()
    assert os.environ["FONTCONFIG_FILE"] == "as it was"


def test_the_grammar_is_of_a_pinned_version():
    # Both libraries name the versions they know.
    assert VL_VERSION in converter().get_vegalite_versions()
    assert altair.SCHEMA_VERSION.removeprefix("v").split(".")[0] == VL_VERSION.split(".")[0]
