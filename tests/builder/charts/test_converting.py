import os
import warnings

import altair

from builder.charts.converting import VL_VERSION, converter


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
