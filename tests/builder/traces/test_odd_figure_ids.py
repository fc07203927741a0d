"""Ids that no figure has, typed by hand or cut in a mail: a sentence, and no failure inside."""

import contextlib
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from builder.cli import main
from builder.pages.contents import load_contents
from builder.publishing.changing.figures import record_of
from builder.traces.inputs import load_sources
from builder.traces.tracing import trace, trace_texts
from catalog.errors import UnknownName
from catalog.visibility import public_copy

LATE = datetime(2026, 6, 30, 12, tzinfo=UTC)
ODD = [
    "",
    "-1",
    "nan",
    "inf",
    "1e999",
    "9" * 400,
    "_110000_",
    "_ffffffff_",
    "_d800_",
    "_0_",
    "x",
    "٣",
    "\udc80",
    "down",
]


@pytest.fixture(scope="module")
def sources(small_file):
    return load_sources(public_copy(small_file, as_of=LATE))


@pytest.fixture(scope="module")
def figures(small_file):
    """One published figure of every kind."""
    record = record_of(load_contents(public_copy(small_file, as_of=LATE), as_of=LATE, sizes={}))
    of_kind = {figure.split("~")[0]: figure for figure in sorted(record.figures)}
    assert len(of_kind) > 4
    return list(of_kind.values())


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_a_damaged_id_gives_a_figure_or_a_sentence(sources, figures, data):
    parts = data.draw(st.sampled_from(figures)).split("~")
    for _ in range(data.draw(st.integers(1, 3))):
        at = data.draw(st.integers(0, len(parts)))
        parts[at : at + data.draw(st.integers(0, 2))] = data.draw(st.lists(st.sampled_from(ODD), max_size=1))
    with contextlib.suppress(UnknownName):
        assert list(trace_texts(trace(sources, "~".join(parts))))


@pytest.mark.parametrize(
    "figure",
    ["_110000_", "cell~_ffffffff_~a", "cell~_ffffffff_~a~b~c~d~e", "~", "pair~\udcff", "reach~quillmast-sill~A~1.0"],
)
def test_trace_says_that_there_is_no_such_figure(small_file, figure):
    result = CliRunner().invoke(main, ["trace", figure, "--catalog", str(small_file)])
    assert result.exit_code == 1
    assert "Something went wrong" not in result.stderr
    assert "figure" in result.stderr
    assert result.stderr.strip().endswith(".")
