"""A few charts as files, for the eye. Our own output: it says what changed, never what is right."""

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from builder.charts.rendering import render_file

SNAPSHOTS = Path(__file__).parents[2] / "snapshots" / "charts"


@pytest.mark.parametrize("name", ["pair", "level", "apart", "step", "ranking", "mix", "shares", "long", "waits"])
def test_the_chart_looks_as_it_did(request, name):
    file = render_file(request.getfixturevalue(name))
    drawing = readable(re.sub("<style>.*</style>", "", file, flags=re.DOTALL))  # the face is not for the eye
    kept, changed = SNAPSHOTS / f"{name}.svg", SNAPSHOTS / f"{name}.changed.svg"
    if kept.exists() and kept.read_text(encoding="utf-8") == drawing:
        changed.unlink(missing_ok=True)
        return
    changed.write_text(drawing, encoding="utf-8")
    pytest.fail(f"{changed} differs from {kept.name}: look at both, and rename it if the change is meant")


def readable(drawing: str) -> str:
    """One element a line."""
    ElementTree.register_namespace("", "http://www.w3.org/2000/svg")
    tree = ElementTree.fromstring(drawing)
    ElementTree.indent(tree, " ")
    return ElementTree.tostring(tree, encoding="unicode") + "\n"
