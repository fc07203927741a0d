"""A value that the device's own wired port held back is marked wherever it stands.

1448 bytes of payload in 1538 on the wire: TCP carries 941.5 Mbit/s through 1 Gbit/s (RFC 6349, section 4), 949.3
without time stamps; a value within 3 % is at the port.
"""

import pytest

from builder.bench.bench import subject_named
from builder.pairs.compare import compare
from builder.windows.by_client import client_rows
from builder.windows.line_points import line_point
from builder.windows.ranking import rank
from builder.windows.standing import device_sentence, top_sentence

FREE = [(50, [1900.0, 1910.0]), (60, [1700.0, 1710.0]), (70, [1500.0, 1510.0]), (76, [900.0, 910.0])]
HELD = [(50, [940.0, 941.0]), (60, [935.0, 936.0]), (70, [600.0, 610.0]), (76, [500.0, 510.0])]
HELD_WORDS = "B was held back by its 1 Gbit/s port."


@pytest.fixture
def ported(lab):
    lab.ports = {"A": 10000.0, "B": 1000.0}
    lab.add("A", FREE)
    lab.add("B", HELD)
    return lab


def test_a_comparison_names_the_port(ported):
    bench, (a, b) = ported.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="attenuation")
    assert figure.sentence.endswith(HELD_WORDS)
    assert (figure.port_a, figure.port_b) == (None, 1000.0)
    (other_way,) = compare(bench, b, a, match="attenuation")
    assert other_way.sentence.endswith(HELD_WORDS)


def test_where_the_port_is_not_reached_nothing_is_said(lab):
    lab.ports = {"A": 10000.0, "B": 1000.0}
    lab.add("A", FREE)
    lab.add("B", [*HELD[2:], (84, [300.0, 302.0])])
    bench, (a, b) = lab.subjects("A", "B")
    (figure,) = compare(bench, a, b, match="attenuation")
    assert "port" not in figure.sentence


def test_a_ranking_and_what_is_said_of_it_name_the_port(ported):
    bench, (_, b) = ported.subjects("A", "B")
    ranking = rank(bench, bench.cells[0].group, "near")
    assert [(entry.subject.device, entry.port) for entry in ranking.ranked] == [("A", None), ("B", 1000.0)]
    assert "(held back by its 1 Gbit/s port)" in device_sentence(ranking, "B")
    assert "port" not in top_sentence(ranking)
    (row,) = client_rows(bench, b, reach_at=100)
    assert row.means["near", "down"].at_port
    assert not client_rows(bench, subject_named(bench, "A"), reach_at=100)[0].means["near", "down"].at_port


def test_a_line_names_the_port_only_where_it_was_reached(ported):
    bench, (_, b) = ported.subjects("A", "B")
    line = bench.line(b, bench.cells[0].group, "attenuation")
    assert [line_point(bench, line, x).at_port for x in (50, 55, 60, 65, 70, 75)] == [
        True,
        True,
        True,
        True,
        False,
        False,
    ]
