"""Roles defined once, the seats that play them, and what is held at entry."""

from __future__ import annotations

from contextlib import closing

import pytest

from catalog import queries
from catalog.connection import open_catalog
from catalog.entering import check_batch
from catalog.exporting import verify
from tests.batches import batch_at, batch_toml, client, device
from tests.evenings import (
    CALL,
    CLIENTS,
    DEFAULTS,
    EVENING,
    FILM,
    PAGES,
    PLAYED,
    ROLES,
    counts,
    enter,
    evening,
    stations,
    text_of,
)


def held(folder, db=None):
    return check_batch(folder, catalog=db).problems


def test_a_role_is_defined_once_and_machines_play_several_at_once(db):
    (workload,) = queries.workloads(db)
    assert workload.seats == (("film", "pages"), ("film",), ("call",), ("game", "send"))
    assert [role.role_id for role in workload.roles] == ["call", "film", "game", "pages", "send"]
    film = workload.roles[1]
    assert (film.kind, film.target_ms, film.target_share, film.good_ms, film.good_share) == (
        "stream",
        200.0,
        0.95,
        40.0,
        0.95,
    )
    assert film.recipe == {"rate_mbit_s": 8.0, "segment_s": 2.0}
    assert (film.definition, film.marks_by) == ("film", "first")
    assert workload.roles[4].recipe == {"file_mib": 64.0, "at_once": 3}
    assert verify(db) == []


def test_requests_in_time_are_counted_by_each_mark(db):
    # By hand: answers take (10 + a trifle), (20 + ...) ms; below 200 ms are 19, below 40 ms 3, below 150 ms 14, of a
    # file below 500 ms 49, of a round trip below 80 ms 7.
    assert counts(db) == {
        ("lap-1", "film"): (19, 3),
        ("lap-1", "pages"): (19, None),
        ("lap-2", "film"): (19, 3),
        ("lap-3", "call"): (14, None),
        ("lap-4", "send"): (49, None),
        ("lap-4", "game"): (7, None),
    }


def test_the_same_again_is_nothing_new(tmp_path, catalog, db):
    before = text_of(db)
    report = enter(evening(tmp_path), catalog)
    assert (report.rows_new, report.already_entered) == (0, "first")
    copy = evening(tmp_path, "copy", rows=[])
    assert enter(copy, catalog).already_entered == "first"
    assert text_of(db) == before


def test_a_later_batch_names_a_role_by_its_id_or_repeats_it(tmp_path, catalog, db):
    more = {"device": [device("tessarik-cairn")], "client": [], "house": [], "session": [], "workload": []}
    of_cairn = {"stations": DEFAULTS["stations"] | {"device": "tessarik-cairn"}}
    again = [{"id": "film"}, {"id": "call", "target_ms": 150}]
    enter(evening(tmp_path, "second", mix="mix-2", scale=2, role=again, defaults=of_cairn, **more), catalog)
    # By hand: answers twice as slow.
    assert counts(db)["lap-1", "film"] == (9, 1)
    assert verify(db) == []


OTHER_RECIPE = "Another recipe is another role: give it an id of its own."
SUPERSEDE = "Marks hold for every log of a role, old ones too: write supersedes = true beside it if that is meant."


@pytest.mark.parametrize(
    ("role", "column", "expected", "remedy"),
    [
        ({"segment_s": 4}, "segment_s", "The role film: segment_s is 2.0 in the catalogue, and a recipe", OTHER_RECIPE),
        ({"start_buffer_s": 6}, "start_buffer_s", "start_buffer_s is not stated in the catalogue", OTHER_RECIPE),
        ({"kind": "fetch"}, "kind", "kind is 'stream' in the catalogue", OTHER_RECIPE),
        ({"segment_s": 4, "supersedes": True}, "segment_s", "a recipe never changes", OTHER_RECIPE),
        ({"target_ms": 100}, "target_ms", "The role film: target_ms is 200 in the catalogue.", SUPERSEDE),
        ({"good_share": 0.9}, "good_share", "good_share is 0.95 in the catalogue.", SUPERSEDE),
    ],
)
def test_another_recipe_or_other_marks_are_a_conflict(tmp_path, db, role, column, expected, remedy):
    folder = batch_at(tmp_path / "x", batch_toml("x", role=[{"id": "film"} | role]))
    (problem,) = held(folder, db)
    assert (problem.code, problem.column, problem.remedy) == ("conflict", column, remedy)
    assert expected in problem.expected


@pytest.mark.parametrize(
    ("role", "code", "expected"),
    [
        ({"id": "x", "kind": "stream", "resources": 3}, "unknown-key", "The key 'resources' is not known here."),
        (
            {"id": "x", "kind": "movie"},
            "unknown-word",
            "'movie' is not one of stream, pages, voice, fetch, upload, game.",
        ),
        ({"id": "x", "kind": "fetch", "at_once": 0}, "out-of-range", "0"),
        ({"id": "x", "kind": "fetch", "at_once": 1.5}, "not-whole", "1.5 is not a whole number."),
        ({"id": "x", "kind": "game", "packet_ms": "x"}, "not-a-number", "'x'"),
        ({"id": "x", "kind": "game", "target_share": 95}, "out-of-range", "95"),
        ({"id": "x"}, "missing", "The role x has no kind."),
        ({"kind": "game"}, "missing", "has no id."),
        ({"id": "x", "kind": "game", "good_ms": 30}, "missing", "The role x has good_ms and no good_share."),
        (
            {"id": "x", "kind": "game", "target_ms": 40, "good_ms": 50, "good_share": 0.9},
            "out-of-range",
            "good would be slower than enough",
        ),
    ],
)
def test_a_role_that_cannot_be_is_held(tmp_path, role, code, expected):
    (problem, *more) = held(batch_at(tmp_path / "x", batch_toml("x", role=[role])))
    assert more == []
    assert problem.code == code
    assert expected in problem.expected


def test_two_definitions_in_one_file_are_a_conflict_though_the_second_supersedes(tmp_path):
    twice = [FILM, FILM | {"target_ms": 100, "supersedes": True}]
    (problem,) = held(batch_at(tmp_path / "x", batch_toml("x", role=twice)))
    assert (problem.code, problem.remedy) == ("conflict", "Name it once.")
    assert held(batch_at(tmp_path / "y", batch_toml("y", role=[FILM, FILM]))) == ()


@pytest.mark.parametrize(
    ("seats", "code", "expected"),
    [
        ([["film", "movie"]], "unknown-role", "The role 'movie' is not known"),
        ([["film", "film"]], "role-twice", "The workload evening: seat 1 plays film twice."),
        ("film", "wrong-shape", "seats are lists of roles"),
        (["film"], "wrong-shape", "seats are lists of roles"),
        ([[]], "wrong-shape", "seats are lists of roles"),
        ([["film", 3]], "wrong-shape", "seats are lists of roles"),
        ([], "wrong-shape", "seats are lists of roles"),
    ],
)
def test_seats_that_cannot_be_are_held(tmp_path, seats, code, expected):
    folder = batch_at(tmp_path / "x", batch_toml("x", role=ROLES, workload=[EVENING | {"seats": seats}]))
    (problem,) = held(folder)
    assert (problem.code, problem.column) == (code, "seats")
    assert expected in problem.expected


def test_other_seats_are_a_new_version(tmp_path, catalog, db):
    other = EVENING | {"seats": [["film"], ["film"], ["call"]]}
    (problem,) = held(batch_at(tmp_path / "x", batch_toml("x", workload=[other])), db)
    assert (problem.code, problem.remedy) == (
        "conflict",
        "A changed workload is a new version: raise its version number.",
    )
    enter(batch_at(tmp_path / "y", batch_toml("y", workload=[other | {"version": 2}])), catalog)
    assert [len(workload.seats) for workload in queries.workloads(db)] == [4, 3]


def swapped(number, row):
    return [*PLAYED[:number], row, *PLAYED[number + 1 :]]


@pytest.mark.parametrize(
    ("rows", "code", "column", "expected"),
    [
        # lap-1 sits where film and pages are, not where the call is.
        (
            swapped(3, "lap-1,call,5,logs/4.csv,100"),
            "two-seats-one-client",
            "client",
            "lap-1 plays call and film and pages in mix-1, and no seat of evening version 1 has all of them.",
        ),
        # Two machines with film and pages; one seat has both.
        (
            [*PLAYED, "lap-2,pages,5,logs/7.csv,100"],
            "two-seats-one-client",
            "client",
            "The machines of mix-1 do not fit the seats of evening version 1 one to one: lap-1 plays film and pages; lap-2",
        ),
        # Three machines with film; two seats have it.
        (
            [*PLAYED, "lap-5,film,5,logs/7.csv,100"],
            "two-seats-one-client",
            "client",
            "do not fit the seats of evening version 1 one to one",
        ),
        (
            swapped(1, "lap-1,pages,2.4,logs/2.csv,100"),
            "place-differs",
            "band",
            "lap-1 is in the 2.4 GHz band here and in the 5 GHz band as film of the same run.",
        ),
    ],
)
def test_a_machine_has_one_seat_in_one_place(tmp_path, rows, code, column, expected):
    usual = [
        client(name, radio=[{"band": b, "streams": 2, "max_width_mhz": 40} for b in ("2.4", "5")]) for name in CLIENTS
    ]
    shale = device("tessarik-shale-2", radio=[{"band": b, "streams": 2, "max_width_mhz": 40} for b in ("2.4", "5")])
    (problem,) = held(evening(tmp_path, rows=rows, client=usual, device=[shale]))
    assert (problem.table, problem.code, problem.column) == ("stations.csv", code, column)
    assert expected in problem.expected


@pytest.mark.parametrize(("column", "values"), [("width_mhz", (80, 160)), ("attenuation_db", (60, 48))])
def test_a_machine_of_one_mix_at_two_losses_or_widths_is_held(tmp_path, column, values):
    rows = ["lap-1,film,5,logs/1.csv,100", "lap-1,pages,5,logs/2.csv,100"]
    folder = evening(tmp_path, rows=rows)
    header, *lines = stations(rows).splitlines()
    lines = [f"{line},{value}" for line, value in zip(lines, values, strict=True)]
    (folder / "stations.csv").write_text("\n".join([f"{header},{column}", *lines]) + "\n")
    (problem,) = held(folder)
    assert (problem.row, problem.code, problem.column) == (3, "place-differs", column)


def test_rows_of_a_mix_that_came_before_count(tmp_path, catalog, db):
    late = evening(tmp_path, "late", rows=["lap-5,film,5,logs/1.csv,100"], scale=3)
    (problem,) = held(late, db)
    assert problem.code == "two-seats-one-client"


def test_a_workload_from_before_there_were_seats_says_nothing_of_who_played_what_together(tmp_path):
    own = {key: value for key, value in EVENING.items() if key != "seats"} | {"role": [FILM, PAGES]}
    rows = ["lap-1,film,5,logs/1.csv,100", "lap-1,pages,5,logs/2.csv,100"]
    path = tmp_path / "own.db"
    enter(evening(tmp_path, rows=rows, role=[], workload=[own]), path)
    with closing(open_catalog(path, readonly=True)) as db:
        (workload,) = queries.workloads(db)
        assert workload.seats == (("film",), ("pages",))
        assert [role.definition for role in workload.roles] == ["evening~1/film", "evening~1/pages"]
        assert counts(db)["lap-1", "film"] == (19, 3)


def test_a_role_of_a_workload_conflicts_with_none(tmp_path, catalog):
    own = {"id": "morning", "title": "Morning", "duration_s": 60, "role": [FILM | {"segment_s": 4, "target_ms": 900}]}
    enter(batch_at(tmp_path / "own", batch_toml("own", workload=[own | {"version": 1}])), catalog)


def test_a_log_of_rates_is_no_log_of_a_role(tmp_path):
    folder = evening(tmp_path)
    (folder / "logs/5.csv").write_text("t_s,mbit_s\n" + "".join(f"{t},400\n" for t in range(100)))
    (problem,) = held(folder)
    assert (problem.code, problem.row) == ("log-kind", 6)


def test_a_recipe_that_cannot_show_its_own_mark_is_told_and_entered(tmp_path):
    # Source: tests/published/method2_share.csv: 59 requests show 95 %, 299 show 99 %. A page each 12.5 s on average.
    few = EVENING | {"duration_s": 600, "seats": [["pages"], ["call"]]}
    report = check_batch(batch_at(tmp_path / "x", batch_toml("x", role=[PAGES, CALL], workload=[few])), catalog=None)
    assert report.problems == ()
    (warning,) = report.warnings
    assert warning.code == "mark-not-shown"
    assert warning.expected == (
        "The workload evening: pages makes about 48 requests in 600 s; 59 are needed to show 95 %."
    )


def test_a_workload_without_a_duration_is_refused_in_words(tmp_path):
    workload = {"id": "evening", "title": "Evening", "seats": [["film"]]}
    folder = batch_at(tmp_path / "evening", batch_toml("evening", role=[FILM], workload=[workload]))
    assert "The workload evening has no duration_s." in {problem.expected for problem in held(folder)}
