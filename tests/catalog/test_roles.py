"""Roles defined once: seats that play them, marks that change for every log, and what is held at entry."""

from __future__ import annotations

import io
from contextlib import closing
from datetime import UTC, datetime

import pytest

from catalog import queries
from catalog.checking.batches import check
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import as_if_entered, check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused, InputRefused
from catalog.exporting import dump, export_batches, load, verify
from catalog.marks import Marks, in_workload, laid_over, marks_in_force, requests_planned, requests_to_show
from catalog.reading.batch import read_batch
from catalog.visibility import public_copy
from tests.batches import batch_at, batch_toml, client, device, session

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)
MARKS = {"target_ms": 200, "target_share": 0.95}
FILM = {"id": "film", "kind": "stream", "rate_mbit_s": 8, "segment_s": 2, **MARKS, "good_ms": 40, "good_share": 0.95}
PAGES = {"id": "pages", "kind": "pages", "resources": 27, "resource_kib": 44, "pause_s": [5, 20], **MARKS}
CALL = {"id": "call", "kind": "voice", "packet_ms": 20, "codec": "G.711", "target_ms": 150, "target_share": 0.99}
UPLOAD = {"id": "send", "kind": "upload", "file_mib": 64, "at_once": 3, "target_ms": 500, "target_share": 0.5}
GAME = {"id": "game", "kind": "game", "packet_ms": 50, "target_ms": 80, "target_share": 0.99}
ROLES = [FILM, PAGES, CALL, UPLOAD, GAME]
EVENING = {
    "id": "evening",
    "version": 1,
    "title": "An evening",
    "duration_s": 900,
    "seats": [["film", "pages"], ["film"], ["call"], ["send", "game"]],
}
CLIENTS = ["lap-1", "lap-2", "lap-3", "lap-4", "lap-5"]
USUAL = {
    "device": [device("tessarik-shale-2")],
    "client": [client(name) for name in CLIENTS],
    "house": [{"id": "house-a", "name": "Test house"}],
    "session": [session("day-1", "2025-05-12")],
}
DEFAULTS = {
    "stations": {
        "workload": "evening",
        "device": "tessarik-shale-2",
        "firmware": "1.0",
        "session": "day-1",
        "when": "2025-05-12 14:00",
        "planned_s": 900,
        "outcome": "finished",
        "attenuation_db": 60,
    }
}
PLAYED = [
    "lap-1,film,5,logs/1.csv,100",
    "lap-1,pages,5,logs/2.csv,100",
    "lap-2,film,5,logs/3.csv,100",
    "lap-3,call,5,logs/4.csv,100",
    "lap-4,send,5,logs/5.csv,100",
    "lap-4,game,5,logs/6.csv,100",
]


def log(scale=1):
    """100 requests, one a second, that take 10, 20 ... 1000 ms, or so many times that."""
    return "t_s,ms,outcome\n" + "".join(f"{t},{(t + 1) * 10 * scale},finished\n" for t in range(100))


def stations(rows, mix="mix-1"):
    header = "mix,client,role,band,log,planned_requests\n"
    return header + "".join(f"{mix},{row}\n" for row in rows)


def evening(tmp_path, batch_id="first", rows=PLAYED, mix="mix-1", scale=1, files=True, **more):
    """A batch with an evening, as a folder; *more* takes the place of what it usually holds."""
    text = batch_toml(batch_id, **USUAL | {"role": ROLES, "workload": [EVENING], "defaults": DEFAULTS} | more)
    logs = {f"logs/{n}.csv": log(scale + n / 1000) for n in range(1, len(rows) + 1)} if files else {}
    return batch_at(tmp_path / batch_id, text, {"stations.csv": stations(rows, mix), **logs} if rows else {})


def enter(folder, catalog):
    return enter_batch(folder, into=catalog, now=NOW)


@pytest.fixture
def catalog(tmp_path):
    path = tmp_path / "catalog.db"
    enter(evening(tmp_path), path)
    return path


@pytest.fixture
def db(catalog):
    with closing(open_catalog(catalog, readonly=False)) as opened:
        yield opened


def counts(db):
    """(client, role) -> requests within the mark, and within the one for good; None where there is none."""
    digests = queries.digests(db)
    return {
        (s.client, s.role): tuple(digests["station", s.station_id].get(f) for f in ("on_time", "good_on_time"))
        for s in queries.stations(db)
    }


def text_of(db):
    out = io.BytesIO()
    dump(db, out)
    return out.getvalue()


def superseding(tmp_path, batch_id="stricter", **marks):
    role = {"id": "film", "supersedes": True, **marks}
    return batch_at(tmp_path / batch_id, batch_toml(batch_id, role=[role], **marks.pop("more", {})))


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


def test_stricter_marks_are_held_against_every_log_and_undone(tmp_path, catalog, db):
    before = text_of(db)
    assert enter(superseding(tmp_path, target_ms=100, good_ms=20), catalog).rows_new == 0
    # By hand: below 100 ms are 9 answers, below 20 ms one. No other role is touched.
    assert counts(db)["lap-1", "film"] == (9, 1)
    assert counts(db)["lap-2", "film"] == (9, 1)
    assert counts(db)["lap-1", "pages"] == (19, None)
    film = queries.workloads(db)[0].roles[1]
    assert (film.target_ms, film.target_share, film.marks_by) == (100.0, 0.95, "stricter")
    late = queries.digests(db)["station", 1]["late_lag_one"]
    assert verify(db) == []
    undo_batch("stricter", catalog=db)
    assert text_of(db) == before
    assert queries.digests(db)["station", 1]["late_lag_one"] != late
    assert verify(db) == []


def test_a_mark_for_good_may_come_later(tmp_path, catalog, db):
    role = {"id": "game", "supersedes": True, "good_ms": 30, "good_share": 0.9}
    enter(batch_at(tmp_path / "good", batch_toml("good", role=[role])), catalog)
    assert counts(db)["lap-4", "game"] == (7, 2)
    assert queries.workloads(db)[0].roles[2].target_ms == 80.0


def test_logs_of_the_same_batch_are_read_by_its_marks(tmp_path, catalog, db):
    more = {"device": [device("tessarik-cairn")], "client": [], "house": [], "session": [], "workload": []}
    of_cairn = {"stations": DEFAULTS["stations"] | {"device": "tessarik-cairn"}}
    role = [{"id": "film", "supersedes": True, "target_ms": 100}]
    enter(evening(tmp_path, "second", mix="mix-2", scale=2, role=role, defaults=of_cairn, **more), catalog)
    digests = queries.digests(db)
    by_mix = {
        (s.mix, s.client): digests["station", s.station_id]["on_time"] for s in queries.stations(db) if s.role == "film"
    }
    assert by_mix == {("mix-1", "lap-1"): 9, ("mix-1", "lap-2"): 9, ("mix-2", "lap-1"): 4, ("mix-2", "lap-2"): 4}


def test_marks_are_undone_in_the_order_in_which_they_came(tmp_path, catalog, db):
    enter(superseding(tmp_path, "stricter", target_ms=100), catalog)
    enter(superseding(tmp_path, "strictest", target_ms=50), catalog)
    assert counts(db)["lap-1", "film"] == (4, 3)
    with pytest.raises(InputRefused, match=r"The marks of film that stricter sets were changed by strictest\. Undo"):
        undo_batch("stricter", catalog=db)
    undo_batch("strictest", catalog=db)
    assert counts(db)["lap-1", "film"] == (9, 3)


def test_a_role_that_came_again_stays_when_the_first_batch_goes(tmp_path):
    path = tmp_path / "two.db"
    for name in ("one", "two"):
        enter(batch_at(tmp_path / name, batch_toml(name, role=[FILM, *([GAME] if name == "two" else [])])), path)
    enter(batch_at(tmp_path / "user", batch_toml("user", workload=[EVENING | {"seats": [["film"]]}])), path)
    with closing(open_catalog(path, readonly=False)) as db:
        undo_batch("one", catalog=db)
        (film,) = queries.workloads(db)[0].roles
        assert (film.target_ms, film.good_ms, film.marks_by) == (200.0, 40.0, "two")
        assert verify(db) == []
        with pytest.raises(InputRefused, match="another batch"):
            undo_batch("two", catalog=db)


def own_version(version, **film):
    own = {"id": "desk", "title": "Desk", "duration_s": 900, "version": version}
    return own | {"role": [{key: value for key, value in FILM.items() if key[:4] != "good"} | film]}


def test_marks_of_the_newest_version_hold_for_older_ones_with_the_same_recipe(tmp_path):
    path = tmp_path / "own.db"
    at_desk = {"stations": DEFAULTS["stations"] | {"workload": "desk", "workload_version": 1}}
    one = evening(tmp_path, "one", PLAYED[:1], role=[], workload=[own_version(1)], defaults=at_desk)
    enter(one, path)
    two = batch_at(tmp_path / "two", batch_toml("two", workload=[own_version(2, target_ms=100)]))
    other = own_version(3, target_ms=10, segment_s=4)
    three = batch_at(tmp_path / "three", batch_toml("three", workload=[other]))
    again = batch_at(
        tmp_path / "again", batch_toml("again", workload=[own_version(1)], session=[session("day-2", "2025-05-13")])
    )
    with closing(open_catalog(path, readonly=False)) as db:
        before = text_of(db)
        assert counts(db) == {("lap-1", "film"): (19, None)}
        enter(two, path)
        assert counts(db) == {("lap-1", "film"): (9, None)}
        enter(three, path)  # another recipe, so nothing to the older ones
        assert counts(db) == {("lap-1", "film"): (9, None)}
        enter(again, path)  # says of version 1 what it always said
        assert [(r.target_ms, r.marks_by) for w in queries.workloads(db) for r in w.roles] == [
            (100.0, "two"),
            (100.0, "two"),
            (10.0, "three"),
        ]
        assert verify(db) == []
        for name in ("again", "three", "two"):
            undo_batch(name, catalog=db)
        assert text_of(db) == before


HIDDEN = {"until": "2025-08-01T00:00:00Z", "covers": "existence"}


def test_marks_of_a_hidden_batch_wait_and_so_do_the_digests(tmp_path, catalog, db):
    folder = batch_at(
        tmp_path / "secret",
        batch_toml("secret", role=[{"id": "film", "supersedes": True, "target_ms": 100}], embargo=HIDDEN),
    )
    foreseen = as_if_entered(check(read_batch(folder), db), db, now=NOW)
    with closing(foreseen), public_copy(foreseen, as_of=NOW) as copy:
        assert counts(copy)["lap-1", "film"] == (19, 3)
    enter(folder, catalog)
    assert counts(db)["lap-1", "film"] == (9, 3)
    for as_of, counted, batch in ((NOW, 19, "first"), (datetime(2025, 8, 2, tzinfo=UTC), 9, "secret")):
        with public_copy(catalog, as_of=as_of) as copy:
            assert counts(copy)["lap-1", "film"] == (counted, 3)
            assert queries.workloads(copy)[0].roles[1].marks_by == batch
            assert verify(copy) == []


def test_a_role_is_shown_only_where_something_visible_uses_it(tmp_path, catalog, db):
    hidden = device("tessarik-cairn", embargo=HIDDEN)
    roles = [GAME | {"id": "arena"}, GAME | {"id": "league"}]
    workload = EVENING | {"id": "tournament", "seats": [["arena"]]}
    of_cairn = {"stations": DEFAULTS["stations"] | {"device": "tessarik-cairn", "workload": "tournament"}}
    rows = ["lap-1,arena,5,logs/1.csv,100"]
    more = {"client": [], "house": [], "session": [], "role": roles, "workload": [workload], "defaults": of_cairn}
    enter(evening(tmp_path, "secret", rows, "mix-9", 2, device=[hidden], **more), catalog)
    names = lambda copy: {role for (role,) in copy.execute("SELECT role_id FROM role").fetchall()}  # noqa: E731
    with public_copy(catalog, as_of=NOW) as copy:
        assert names(copy) == {"film", "pages", "call", "send", "game"}
        assert copy.execute("SELECT count(*) FROM role_declaration").fetchone() == (0,)
    with public_copy(catalog, as_of=datetime(2025, 8, 2, tzinfo=UTC)) as copy:
        assert {"arena", "league"} <= names(copy)
    words = queries.hidden_words(db, "2025-07-01T00:00:00Z")
    assert {"tournament"} <= set(words.ids)


def test_batches_and_dumps_give_the_same_catalogue(tmp_path, catalog, db):
    enter(superseding(tmp_path, target_ms=100), catalog)
    text = text_of(db)
    load(io.BytesIO(text), tmp_path / "loaded.db")
    with closing(open_catalog(tmp_path / "loaded.db", readonly=True)) as loaded:
        assert text_of(loaded) == text
    export_batches(db, tmp_path / "out")
    for folder in sorted((tmp_path / "out").iterdir()):
        enter(folder, tmp_path / "again.db")
    with closing(open_catalog(tmp_path / "again.db", readonly=True)) as again:
        assert text_of(again) == text


@pytest.fixture
def corrected(tmp_path, db):
    def correct(line):
        path = tmp_path / "corrections.csv"
        path.write_text(f"table,key,column,was,now,reason,noticed_by,date\n{line},mistyped,a reader,2025-06-30\n")
        return correct_file(path, catalog=db, now=NOW).applied

    return correct


def test_a_mistyped_mark_is_corrected_and_counts_follow(corrected, db):
    assert corrected("role,id=film,target_ms,200,300") == 1
    assert counts(db)["lap-1", "film"] == (29, 3)
    assert verify(db) == []
    assert corrected("role,id=film,good_ms,40,") == 1
    assert counts(db)["lap-1", "film"] == (29, None)
    assert verify(db) == []


def test_recipes_are_not_corrected(corrected):
    for column in ("kind", "id"):
        with pytest.raises(BatchRefused, match=f"{column} of role is not corrected"):
            corrected(f"role,id=film,{column},stream,fetch")
    with pytest.raises(BatchRefused, match="role has no column 'segment_s'"):
        corrected("role,id=film,segment_s,2,4")


def test_a_correction_that_seats_a_machine_twice_is_refused(corrected, db):
    before = list(db.conn.iterdump())
    with pytest.raises(BatchRefused, match="lap-1 plays call and film and pages in mix-1"):
        corrected("stations,mix=mix-1; client=lap-3; role=call,client,lap-3,lap-1")
    with pytest.raises(BatchRefused, match="lap-1 is at 48 dB here"):
        corrected("stations,mix=mix-1; client=lap-1; role=pages,attenuation_db,60,48")
    assert list(db.conn.iterdump()) == before


def test_marks_are_laid_over_each_other_in_the_order_of_entry():
    first = laid_over(Marks(), {"target_ms": 200.0, "target_share": 0.95}, "a")
    assert laid_over(first, {"target_ms": 200.0}, "b") is first
    assert laid_over(first, {"target_ms": 100.0}, "c") == Marks(100.0, 0.95, batch_id="c")
    told = [("film", "a", '{"target_ms": 200.0}'), ("film", "c", '{"target_ms": 100.0}')]
    assert marks_in_force([("film", "stream", "{}"), ("call", "voice", "{}")], told) == {
        "film": Marks(100.0, batch_id="c"),
        "call": Marks(),
    }
    assert in_workload("film") is None
    assert str(in_workload("desk-row~12/pages-1")) == "desk-row~12/pages-1"


def test_how_many_requests_a_recipe_makes():
    assert requests_planned("stream", {"segment_s": 2.0}, 900.0) == 450
    assert requests_planned("voice", {"packet_ms": 20.0}, 60.0) == 3000
    assert requests_planned("game", {"packet_ms": 50.0}, 60.0) == 1200
    assert requests_planned("pages", {"pause_s": [5.0, 20.0]}, 900.0) == 72
    for kind in ("fetch", "upload", "stream", "voice", "pages"):
        assert requests_planned(kind, {"file_mib": 64.0}, 900.0) is None
    assert requests_to_show(0.95) == 59
