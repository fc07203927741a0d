"""Marks in force for every log of a role: declared, superseded, undone, corrected, hidden, and carried along."""

from __future__ import annotations

import io
from contextlib import closing
from datetime import UTC, datetime

import pytest

from catalog import queries
from catalog.checking.batches import check
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import as_if_entered, undo_batch
from catalog.errors import BatchRefused, InputRefused
from catalog.exporting import export_batches, load, verify
from catalog.marks import Marks, in_workload, laid_over, marks_in_force, requests_planned, requests_to_show
from catalog.reading.batch import read_batch
from catalog.visibility import public_copy
from tests.batches import batch_at, batch_toml, device, session
from tests.evenings import DEFAULTS, EVENING, FILM, GAME, NOW, PLAYED, counts, enter, evening, superseding, text_of


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


def test_marks_of_an_older_version_are_not_corrected_but_those_in_force(tmp_path, catalog, corrected, db):
    for version, target_ms in ((1, 200), (2, 100)):
        name = f"desk-{version}"
        workload = own_version(version, target_ms=target_ms)
        enter(batch_at(tmp_path / name, batch_toml(name, workload=[workload])), catalog)
    key = '"workload=desk; version={}; id=film"'
    with pytest.raises(BatchRefused, match="The marks of the newest version of the workload are in force"):
        corrected(f"workload.role,{key.format(1)},target_ms,100,50")
    assert corrected(f"role,{key.format(2)},target_ms,100,50") == 1
    desk = [role.target_ms for plan in queries.workloads(db) if plan.workload_id == "desk" for role in plan.roles]
    assert desk == [50.0, 50.0]
    assert verify(db) == []


def test_verify_names_marks_that_nobody_declared(db):
    db.execute("UPDATE role SET good_ms = 41 WHERE role_id = 'film'")
    (finding,) = verify(db)
    assert str(finding) == "role row 1: good_ms of film is 41.0, but the batches said 40.0."


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
