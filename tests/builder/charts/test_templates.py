"""Shipped templates are what Altair builds, and nothing is taken from them that another module would build."""

import sys

import orjson
import pytest

from builder.charts import share_template, templates
from builder.charts.share_chart import NARROW, WIDE
from builder.charts.template_list import USUAL, as_altair_builds_them
from builder.charts.theme import Layout


@pytest.fixture
def without_altair(monkeypatch):
    monkeypatch.setitem(sys.modules, "altair", None)
    templates._shipped.cache_clear()
    yield monkeypatch
    templates._shipped.cache_clear()


def test_what_is_shipped_is_what_altair_builds():
    written = orjson.loads(templates.SHIPPED.read_bytes())
    assert written == as_altair_builds_them(), "run `python -m builder.charts.template_list`"


def test_usual_templates_need_no_altair(without_altair):
    for built, calls in USUAL:
        anew = templates.template(built.__wrapped__)  # has none in memory
        for arguments in calls:
            assert "layer" in anew(*arguments)


def test_other_templates_are_built(without_altair):
    anew = templates.template(share_template.built.__wrapped__)
    assert anew(WIDE) != anew(NARROW)
    with pytest.raises(ImportError):
        anew(Layout(plot_width=1, plot_height=0, label_width=0, text=13, note=11))


def test_once_what_they_look_like_was_changed_none_is_taken(without_altair):
    without_altair.setattr(templates, "sources", lambda: "changed")
    with pytest.raises(ImportError):
        templates.template(share_template.built.__wrapped__)(WIDE)
