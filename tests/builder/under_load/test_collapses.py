"""Runs that did not finish are counted; below 20 runs there is no rate; a client's fault is not the device's."""

import pytest

from builder.under_load.collapses import Count, count, mixes
from catalog.records import Station

STATION = Station(
    "b",
    "stations.csv",
    2,
    1,
    "m1",
    "five",
    1,
    "pages",
    "pages",
    "2025-05-12T14:00:00Z",
    "",
    "d",
    "A",
    "1",
    "c1",
    None,
    "s",
    "h",
    "2025-05-12",
    "5",
    None,
    None,
    None,
    None,
    None,
    None,
    600.0,
    None,
    "finished",
    600.0,
    None,
    "log.csv",
    None,
)


def station(**changes):
    from dataclasses import replace

    return replace(STATION, **changes)


@pytest.mark.parametrize(
    ("tally", "sentence"),
    [
        (Count(0, 0), "not tested"),
        (Count(0, 1), "the only run finished"),
        (Count(0, 4), "all 4 runs finished"),
        (Count(1, 1), "1 of 1 run broke off"),
        (Count(1, 2), "1 of 2 runs broke off"),  # story 5 of the job analysis, word for word
        (Count(3, 19), "3 of 19 runs broke off"),
        (Count(1, 20), "1 of 20 runs broke off (5.0 %)"),
    ],
)
def test_sentence(tally, sentence):
    assert tally.sentence == sentence


def test_run_collapsed_if_one_of_its_clients_saw_it_collapse():
    found = mixes(
        [
            station(role="pages", client="c1"),
            station(role="talk", client="c2", outcome="did not finish", ended_at_s=380.0, ended_by="power cycle"),
            station(role="fetch", client="c3", outcome="did not finish", ended_at_s=395.0, log_path=None),
        ]
    )
    assert len(found) == 1
    assert found[0].outcome == "did not finish"
    assert (found[0].survived_s, found[0].planned_s) == (380.0, 600.0)
    assert found[0].ended_by == "power cycle"
    assert found[0].clients == 3
    assert found[0].not_tested == ("fetch",)


def test_client_fault_is_not_counted_against_the_device():
    # Source: method.md, section 6.
    found = mixes(
        [station(), station(mix="m2", outcome="client fault", ended_at_s=100.0), station(mix="m3", outcome="aborted")]
    )
    assert count(found) == Count(0, 1)
