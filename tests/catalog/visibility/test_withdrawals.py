"""What was taken back, disputed, corrected or written, and when it is seen."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from catalog import queries, schema
from catalog.visibility import full_copy, public_copy

UNTIL = "2025-06-10T13:00:00Z"


@pytest.fixture
def full_bench(bench, fill_public):
    """The public bench with one more row of every kind about Dome."""
    b = fill_public(bench)
    bench.put("workload", b, workload_id="office")
    bench.own_role(b, "office", "pages-1")
    station = bench.put("station", b, device_id="dome", mix_id="mix-1", workload_id="office", role_id="pages-1")
    longrun = bench.put("longrun", b, device_id="dome")
    for owner, number in (("run", 1), ("station", station), ("longrun", longrun)):
        bench.put("digest", owner=owner, owner_id=number, figure="mean_mbit_s", value=1.0)
        bench.put("thinned", owner=owner, owner_id=number, quantity="t", unit="us", n=1, samples="[1]")
    bench.put("feature", b, device_id="dome")
    bench.put("heat", b, device_id="dome", session_id="day-1")
    bench.put("power", b, device_id="dome")
    bench.put("part", b, device_id="dome")
    bench.put("price", b, device_id="dome")
    return bench


RESULTS = ("run", "ceiling", "station", "longrun", "digest", "thinned", "feature", "heat", "power", "part", "price")


@pytest.mark.parametrize(
    ("what", "id", "left"),
    [
        ("device", "dome", {"run": 1}),  # the one of Sill
        ("unit", "dome/A", {"run": 1, "feature": 1, "part": 1, "price": 1}),
        ("firmware", "dome@1.0", {"run": 1, "heat": 1, "power": 1, "part": 1, "price": 1}),
        ("client", "client-a", {"feature": 1, "heat": 1, "power": 1, "part": 1, "price": 1}),
        ("session", "day-1", {"feature": 1, "power": 1, "part": 1, "price": 1}),
        ("batch", "public", {}),
        (
            "mix",
            "mix-1",
            {"run": 3, "ceiling": 1, "longrun": 1, "digest": 2, "thinned": 2}
            | dict.fromkeys(("feature", "heat", "power", "part", "price"), 1),
        ),
        (
            "run",
            "public/runs/2",  # run 1, which is the evidence of a ceiling
            {"run": 2, "station": 1, "longrun": 1, "digest": 2, "thinned": 2}
            | dict.fromkeys(("feature", "heat", "power", "part", "price"), 1),
        ),
    ],
)
def test_withdrawn_results_go_and_the_note_stays(full_bench, at, what, id, left):
    note = full_bench.batch("note")
    full_bench.put("withdrawal", note, what=what, id=id, from_date="2025-06-01")
    seen = public_copy(full_bench.path, as_of=at)
    counts = {table: seen.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in RESULTS}
    assert {table: n for table, n in counts.items() if n} == left
    assert [(w.what, w.id) for w in queries.withdrawals(seen)] == [(what, id)]
    assert [d.device_id for d in queries.devices(seen)] == ["dome", "sill"]
    assert [c.client_id for c in queries.clients(seen)] == ["client-a"]
    assert seen.execute("PRAGMA foreign_key_check").fetchall() == []
    early = public_copy(full_bench.path, as_of=datetime(2025, 5, 31, 23, 59, 59, tzinfo=UTC))
    assert len(queries.runs(early)) == 3
    assert queries.withdrawals(early) == []


@pytest.mark.parametrize(
    ("id", "left"),
    [
        ("odd/runs.csv/2", {"runs.xlsx", "runs_2.csv", "runsX2.csv"}),
        ("odd/RUNS.XLSX/2", {"runs.csv", "runs_2.csv", "runsX2.csv"}),
        ("odd/runs_2/2", {"runs.csv", "runs.xlsx", "runsX2.csv"}),  # no wildcard
        ("odd/runs/2", {"runs_2.csv", "runsX2.csv"}),  # refused at entry by now: what was out of view stays so
    ],
)
def test_a_withdrawn_row_is_the_one_of_the_file_it_names(full_bench, at, id, left):
    odd = full_bench.batch("odd")
    files = ("runs.csv", "runs.xlsx", "runs_2.csv", "runsX2.csv")
    for place, file in enumerate(files):
        full_bench.put("run", odd, device_id="dome", attenuation_db=61.0 + place, source_file=file, source_row=2)
    full_bench.put("withdrawal", odd, what="run", id=id, from_date="2025-06-01", source_row=9)
    seen = public_copy(full_bench.path, as_of=at)
    assert {run.source_file for run in queries.runs(seen) if run.batch_id == "odd"} == left


def test_a_withdrawn_picture_goes_under_every_name_it_came_by(full_bench, at):
    odd = full_bench.batch("odd", files=("a.png", "b.png"))
    sha256 = full_bench.file(odd, "c.png", b"the same bytes")
    for place, path in enumerate(("images/a.png", "images/b.png")):
        full_bench.put("image", odd, path=path, sha256=sha256, device_id="dome", source_row=20 + place)
    full_bench.put("withdrawal", odd, what="image", id="images/b.png", from_date="2025-06-01", source_row=9)
    assert queries.images(public_copy(full_bench.path, as_of=at)) == []


def test_no_value_of_a_withdrawn_run_is_left(full_bench, at, public_bytes):
    b = full_bench.batch("odd")
    full_bench.put("run", b, device_id="dome", attenuation_db=61.0, throughput_typed="oddtoken", note="oddtoken")
    full_bench.put("extra", batch_id=b, source_file="runs.csv", source_row=2, header="h", typed="oddtoken")
    full_bench.put("correction", b, table_name="runs", source_file="runs.csv", source_row=2, was="oddtoken")
    assert b"oddtoken" in public_bytes(full_bench, at)
    full_bench.put("withdrawal", full_bench.batch("note"), what="run", id="odd/runs/2")
    assert b"oddtoken" not in public_bytes(full_bench, at)


def test_a_withdrawn_article_keeps_its_title_and_an_image_goes(full_bench, at):
    b = full_bench.batch("texts")
    full_bench.put("article", b, article_id="review", title="Dome again", text="Faster by far.")
    full_bench.put("image", b, path="dome.jpg", sha256=full_bench.file(b, "dome.jpg", b"x"), device_id="dome")
    assert queries.articles(public_copy(full_bench.path, as_of=at))[0].text == "Faster by far."
    full_bench.put("withdrawal", b, what="article", id="review")
    full_bench.put("withdrawal", b, what="image", id="dome.jpg")
    seen = public_copy(full_bench.path, as_of=at)
    assert [(a.title, a.text) for a in queries.articles(seen)] == [("Dome again", "")]
    assert queries.images(seen) == []


def test_withdrawing_something_hidden_tells_nothing(bench, fill_public, fill_hidden, before, public_bytes):
    fill_public(bench)
    alone = public_bytes(bench, before)
    b = fill_hidden(bench)
    for what, id in (
        ("device", "cairn"),
        ("unit", "cairn/A"),
        ("firmware", "cairn@1.0"),
        ("client", "client-c"),
        ("session", "day-c"),
        ("mix", "mix-c"),
        ("run", "cairn/runs/2"),
        ("batch", "cairn"),
        ("article", "cairn-review"),
        ("figure", "pair~dome~cairn"),
    ):
        bench.put("withdrawal", b, what=what, id=id)
    assert public_bytes(bench, before) == alone


def test_an_article_is_seen_from_the_instant_it_is_published(bench, fill_public, before, at):
    fill_public(bench)
    b = bench.batch("texts", files=("batch.toml", "articles/a.md"))
    bench.put("article", b, article_id="review", published_utc=UNTIL)
    bench.put("article_device", article_id="review", device_id="dome")
    bench.put("image", b, path="images/door.jpg", sha256=bench.file(b, "images/door.jpg", b"x"))
    assert queries.articles(public_copy(bench.path, as_of=before)) == []
    assert queries.images(public_copy(bench.path, as_of=before)) == []
    (article,) = queries.articles(public_copy(bench.path, as_of=at))
    assert article.devices == ("dome",)


def test_of_an_unpublished_batch_a_published_article_has_its_pictures(bench, fill_public, before):
    fill_public(bench)
    b = bench.batch("texts")
    bench.put("article", b, article_id="later", published_utc=UNTIL)
    bench.put("article", b, article_id="now", text="![Door](images/door.jpg)", path="articles/b.md")
    for name in ("door", "window"):
        bench.put("image", b, path=f"images/{name}.jpg", sha256=bench.file(b, f"images/{name}.jpg", name.encode()))
    seen = public_copy(bench.path, as_of=before)
    assert [a.article_id for a in queries.articles(seen)] == ["now"]
    assert [i.path for i in queries.images(seen)] == ["images/door.jpg"]


def test_corrections_and_disputes_are_seen_with_what_they_concern(bench, fill_public, fill_hidden, before, at):
    b = fill_public(bench)
    fill_hidden(bench)
    run = {"source_file": "runs.csv", "source_row": 2, "table_name": "runs", "run_id": 1, "column_name": "throughput"}
    bench.put("correction", b, **run, was="812", now="824", device_id="dome")
    bench.put("correction", b, **run, was="824", now="1100", device_id="dome")
    bench.put("correction", b, table_name="house", source_row=9, was="cairn", now="sill")
    bench.put("correction", b, table_name="embargo", source_row=3, was="2025-06-09", now="2025-06-10")
    bench.put("dispute", b, device_id="dome")
    seen = public_copy(bench.path, as_of=before)
    found = queries.corrections(seen)
    assert [(c.was, c.now) for c in found] == [("812", "824"), ("824", "1100")]
    (corrected,) = (r for r in queries.runs(seen) if r.run_id == found[0].run_id)
    assert (corrected.device, corrected.repeat, corrected.source_row) == ("dome", 1, 2)
    assert [d.device for d in queries.disputes(seen)] == ["dome"]
    assert len(queries.disputes(public_copy(bench.path, as_of=at))) == 3


def test_a_preview_shows_and_names_what_is_hidden(bench, fill_public, fill_hidden, before, at):
    b = fill_public(bench)
    fill_hidden(bench)
    bench.put("unit", b, device_id="dome", unit_id="B")
    bench.put("embargo", b, subject="unit", device_id="dome", unit_id="B", until_utc=UNTIL, covers="results")
    preview = full_copy(bench.path, as_of=before)
    assert [(h.what, h.id, h.covers, h.until_utc) for h in queries.hidden(preview)] == [
        ("article", "cairn-review", "existence", UNTIL),
        ("device", "cairn", "existence", UNTIL),
        ("unit", "dome/B", "results", UNTIL),
    ]
    assert queries.hidden(public_copy(bench.path, as_of=before)) == []
    later, public = full_copy(bench.path, as_of=at), public_copy(bench.path, as_of=at)
    assert list(later.conn.iterdump()) == list(public.conn.iterdump())
    assert queries.hidden(later) == []
    names = {row[0] for row in preview.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    assert names == set(schema.TABLES)
