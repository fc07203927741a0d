"""Roles of a mix by the seats of its workload, and the two marks of a role."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime

import pytest

from builder.traces.inputs import load_sources
from builder.traces.tracing import trace
from builder.under_load.documents import mix_json
from builder.under_load.mixes import load_mixes
from builder.under_load.roles import role_result
from catalog.records import Role
from catalog.visibility import public_copy
from tests.builder.under_load.test_workloads import digest, result
from tests.evenings import EVENING, FILM, PLAYED, ROLES, enter, evening, superseding

AS_OF = datetime(2025, 8, 1, tzinfo=UTC)


@pytest.fixture
def mix_of(tmp_path):
    """The one run of a catalogue that holds an evening; *more* as evening() takes it."""

    def played(rows=PLAYED, **more):
        path = tmp_path / "catalog.db"
        enter(evening(tmp_path, rows=rows, **more), path)
        with closing(public_copy(path, as_of=AS_OF)) as copy:
            (result,) = load_mixes(copy)
        return result

    return played


def by_role(result):
    return {(r.role.role_id, r.station.client if r.station else ""): r for r in result.roles}


def test_a_role_that_two_seats_play_has_a_result_of_each(mix_of):
    result = mix_of()
    assert list(by_role(result)) == [
        ("call", "lap-3"),
        ("film", "lap-1"),
        ("film", "lap-2"),
        ("game", "lap-4"),
        ("pages", "lap-1"),
        ("send", "lap-4"),
    ]
    assert result.seats == (2, 2, 1, 1)
    assert not result.incomplete
    # In the order of the workload, whatever the machines are called.
    assert [(seat.client, seat.roles) for seat in result.arrangement.seats] == [
        ("lap-1", ("film", "pages")),
        ("lap-2", ("film",)),
        ("lap-3", ("call",)),
        ("lap-4", ("game", "send")),
    ]


def test_machines_stand_in_the_order_of_the_seats(mix_of):
    turned = {"lap-1": "lap-4", "lap-4": "lap-1", "lap-2": "lap-3", "lap-3": "lap-2"}
    result = mix_of([f"{turned[row[:5]]}{row[5:]}" for row in PLAYED])
    assert [seat.client for seat in result.arrangement.seats] == ["lap-4", "lap-3", "lap-2", "lap-1"]


@pytest.mark.parametrize("rows", [PLAYED[:2] + PLAYED[3:], PLAYED[2:]])
def test_a_seat_that_nobody_sat_in_is_not_tested(mix_of, rows):
    result = mix_of(rows)
    films = [r for r in result.roles if r.role.role_id == "film"]
    assert [r.verdict for r in films] == ["not-met", "not-tested"]
    assert films[1].sentence == "Not tested: nobody played this role in the run."
    assert films[1].figure == "role~mix-1~~film"
    assert result.incomplete


def test_every_empty_seat_has_a_figure_of_its_own(mix_of):
    seats = [["film"], ["film"], ["film"], ["call"]]
    result = mix_of(PLAYED[3:4], workload=[EVENING | {"seats": seats}])
    figures = [r.figure for r in result.roles]
    assert figures == [
        "role~mix-1~lap-3~call",
        "role~mix-1~~film",
        "role~mix-1~empty-2~film",
        "role~mix-1~empty-3~film",
    ]


def test_two_marks_are_judged_by_themselves(mix_of):
    # By hand: 19 of 100 answers come within 200 ms, 3 within 40 ms.
    lax = FILM | {"target_share": 0.5, "good_share": 0.02}
    result = mix_of(role=[lax, *ROLES[1:]])
    film = by_role(result)["film", "lap-1"]
    assert (film.on_time_share, film.verdict) == (0.19, "not-met")
    assert (film.good_on_time_share, film.good_verdict) == (0.03, "met")
    document = next(s for s in mix_json(result)["stations"] if (s["role"], s["client"]) == ("film", "lap-1"))
    assert {key: document[key] for key in document if key.startswith("good")} == {
        "good_ms": 40.0,
        "good_share": 0.02,
        "good_on_time_share": 0.03,
        "good_verdict": "met",
    }
    assert by_role(result)["pages", "lap-1"].good_verdict is None


def test_a_mark_is_reached_as_it_was_typed():
    # 0.29 * 100 is 28.999999999999996 as a float.
    role = Role("pages", "pages", 1000.0, 0.29, {}, good_ms=500.0, good_share=0.29)

    def verdicts(good, **station):
        one = result(role, digest(29, 100, good_on_time=float(good)), **station)
        return one.verdict, one.good_verdict

    assert verdicts(29) == ("met", "met")
    assert verdicts(28) == ("met", "not-met")
    assert verdicts(29, outcome="did not finish") == ("did-not-finish", "did-not-finish")
    nobody = role_result("m", role, None, None, series="", excluded="")
    assert (nobody.verdict, nobody.good_verdict) == ("not-tested", "not-tested")


def test_a_trace_leads_to_the_batch_that_set_the_marks(tmp_path):
    path = tmp_path / "catalog.db"
    enter(evening(tmp_path), path)

    def traced():
        with closing(public_copy(path, as_of=AS_OF)) as copy:
            return trace(load_sources(copy), "role~mix-1~lap-1~film")["target"]

    target = traced()
    assert (target["batch"], target["target_ms"], target["good_share"]) == ("first", 200.0, 0.95)
    assert target["row"] > 1
    enter(superseding(tmp_path, target_ms=100), path)
    target = traced()
    assert (target["batch"], target["target_ms"], target["row"]) == ("stricter", 100.0, None)
