"""Story 9 of the job analysis on whole published sites: for a device, a unit, a firmware and a result.

A second before the instant the site is, byte for byte, that of a catalogue that never held the hidden thing; at the
instant it is there, and every figure that changes has the embargo's end as its cause.
"""

from datetime import date

import pytest

from catalog.connection import open_catalog
from catalog.entering import undo_batch
from catalog.errors import BuildRefused, InputRefused
from catalog.visibility import full_copy
from tests.batches import device, things
from tests.builder.publishing.publishing_bench import EMBARGO, INSTANT, SECOND_BEFORE, Bench, batch, contents, runs

CAIRN = things(
    device=[
        device(
            "tessarik-cairn",
            aliases=["Cairn EU"],
            unit=[{"id": "A", "origin": "loaned"}],
            firmware=[{"version": "0.9.77"}],
            embargo=EMBARGO,
        )
    ]
)
REPLACEMENT = {"id": "replacement-2", "origin": "given", "by": "maker", "embargo": EMBARGO}
UNIT = things(device=[{"id": "quillmast-sill", "unit": [REPLACEMENT]}])
NEWER = {"version": "1.0.44", "released": date(2025, 8, 15), "embargo": EMBARGO}
FIRMWARE = things(device=[{"id": "quillmast-sill", "firmware": [NEWER]}])
RESULT = things(embargo=EMBARGO | {"covers": "results"})
# What is hidden -> batch.toml, runs, what is seen of it at the instant, and the embargo's subject in words.
HIDDEN = {
    "device": (CAIRN, runs(device="tessarik-cairn", firmware="0.9.77"), b"Tessarik Cairn", "tessarik-cairn"),
    "unit": (UNIT, runs(unit="replacement-2", height=1680.0), b"replacement-2", "unit replacement-2 of quillmast-sill"),
    "firmware": (FIRMWARE, runs(firmware="1.0.44", height=1760.0), b"1.0.44", "firmware 1.0.44 of quillmast-sill"),
    "result": (RESULT, runs(height=1650.0), b"day-hidden", "batch hidden"),
}


@pytest.mark.parametrize("what", HIDDEN)
def test_hidden_to_the_second(what, small_file, chart_cache, tmp_path):
    toml, table, seen, subject = HIDDEN[what]
    place = batch(tmp_path, "hidden", more=toml, title="Tests to come", runs_csv=table)
    with_it, without = (Bench(small_file, tmp_path / name, chart_cache) for name in ("with", "without"))
    with_it.enter(place)
    first = with_it.publish(SECOND_BEFORE)
    without.publish(SECOND_BEFORE)
    assert first.changes is None
    hidden, never = contents(with_it.site), contents(without.site)
    assert hidden.keys() == never.keys()
    assert [name for name in hidden if hidden[name] != never[name]] == []
    assert not any(seen in content for content in hidden.values())

    assert published(with_it) == [("2025-05-first", True), ("hidden", False)]
    report = with_it.publish(INSTANT)
    shown = contents(with_it.site)
    assert any(seen in content for name, content in shown.items() if name.endswith(".html"))
    assert report.changes is not None
    assert {change.kind for change in report.changes.figures} >= {"new"}
    for change in report.changes.figures:
        assert any(f"the embargo on {subject}" in cause for cause in change.causes) or "joined" in str(change)
    assert published(with_it) == [("2025-05-first", True), ("hidden", True)]
    db = open_catalog(with_it.catalog, readonly=False)
    with pytest.raises(InputRefused, match="was published at 2025-09-10T13:00:00Z"):
        undo_batch("hidden", catalog=db)
    db.close()


def published(bench):
    rows = bench.sql("SELECT batch_id, published_utc IS NOT NULL FROM batch ORDER BY batch_id")
    return [(batch_id, bool(seen)) for batch_id, seen in rows]


def test_a_hidden_batch_can_be_undone_after_a_publication(small_file, chart_cache, tmp_path):
    toml, table, *_ = HIDDEN["device"]
    bench = Bench(small_file, tmp_path / "bench", chart_cache)
    bench.enter(batch(tmp_path, "hidden", more=toml, runs_csv=table))
    bench.publish(SECOND_BEFORE)
    db = open_catalog(bench.catalog, readonly=False)
    undo_batch("hidden", catalog=db)
    with pytest.raises(InputRefused, match="was published"):
        undo_batch("2025-05-first", catalog=db)
    db.close()
    assert not bench.publish(INSTANT).changes.figures


@pytest.mark.parametrize("what", HIDDEN)
def test_a_copy_that_hides_nothing_is_caught_by_the_leak_scan(what, small_file, chart_cache, tmp_path, monkeypatch):
    """The last line of defence does not lean on the first: with the copy broken, publishing still refuses."""
    toml, table, *_ = HIDDEN[what]
    table = table.replace("a note between us", f"private words on the {what}")
    bench = Bench(small_file, tmp_path / "bench", chart_cache)
    bench.enter(batch(tmp_path, "hidden", more=toml, runs_csv=table))
    monkeypatch.setattr("builder.publishing.making.building.public_copy", full_copy)
    with pytest.raises(BuildRefused, match=r"(?s)holds what must not be public.*hidden"):
        bench.publish(SECOND_BEFORE)
    assert not bench.site.exists()
    assert published(bench) == [("2025-05-first", False), ("hidden", False)]
