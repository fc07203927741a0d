"""Every public figure that changes has its cause: one test a cause, and one for a change that has none."""

import json
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from builder.publishing.changing.changes import Change, changes_since
from builder.publishing.changing.figures import DESCRIPTOR, RECORD, read_record
from builder.publishing.changing.former_words import in_words_of_today
from catalog.errors import BuildRefused
from tests.batches import device, things
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)
LATER = DAY + timedelta(days=1)
APART = "These tests cannot tell A and B apart:"
SHOWN = "; a difference of 81 or more would have shown."


@pytest.fixture(scope="module")
def published(small_file, chart_cache, tmp_path_factory):
    bench = Bench(small_file, tmp_path_factory.mktemp("published") / "bench", chart_cache)
    bench.publish(DAY)
    return bench


@pytest.fixture
def bench(published, tmp_path):
    """A catalogue that was published, to change; the site is shared and only looked at."""
    copy = Bench(published.catalog, tmp_path / "bench", published.cache)
    copy.site = published.site
    return copy


def changed(bench, as_of=LATER):
    return changes_since(bench.catalog, bench.site, as_of=as_of)


def causes(found):
    return {cause for change in found.figures for cause in change.causes}


def test_nothing_done_nothing_changed(bench):
    found = changed(bench)
    assert (found.figures, found.unexplained, found.since) == ([], [], "2025-09-20T12:00:00Z")


def test_new_batch(bench, tmp_path):
    bench.enter(batch(tmp_path, "later", title="A later day", runs_csv=runs(height=1650.0)))
    found = changed(bench)
    assert found.without_cause == []
    cells = [c for c in found.figures if c.figure.startswith("cell~") and "day-later" in c.figure]
    # By hand: 1650 - 20 * 46 = 730.0 at S1; the mean of 727, 730 and 733.
    assert ("new", "730 Mbit/s, n 3") in {(c.kind, c.now) for c in cells}
    assert {cause for c in cells for cause in c.causes} == {"new batch later (A later day)"}
    assert any(c.kind == "changed" and c.figure.startswith("window~quillmast-sill") for c in found.figures)


def test_a_decision_on_an_odd_day_is_the_cause_of_its_factor(published, tmp_path):
    bench = Bench(published.catalog, tmp_path / "bench", published.cache)
    # By hand: at S1 the reference gives 780 (small_catalog.py), then 785 and 980: 980 / 782.5 = 1.25.
    for name, height in (("usual", 1705.0), ("odd", 1900.0)):
        bench.enter(batch(tmp_path, name, runs_csv=runs(height=height)))
    bench.publish(DAY)
    bench.correct("session,id=day-odd,decision,,set aside,a window stood open,the bench desk,2025-08-30")
    found = changed(bench)
    assert found.without_cause == []
    (factor,) = found.figures
    assert factor.figure.startswith("factor~house-a~day-odd~wrenlet-u2~5~80~down")
    assert factor.was.endswith(", suspended")
    assert factor.now.endswith(", set aside")
    assert causes(found) == {"decision corrected on 2025-08-30: was , now set aside (a window stood open)"}


def test_added_device_is_the_cause_of_others_ranks(bench, tmp_path):
    more = things(device=[device("tessarik-porch")])
    bench.enter(batch(tmp_path, "porch", more=more, runs_csv=runs(device="tessarik-porch", height=2000.0)))
    found = changed(bench)
    assert found.without_cause == []
    others = [c for c in found.figures if c.figure.startswith("rank~quillmast-sill~")]
    assert others
    for change in others:
        assert "tessarik-porch joined the ranking" in change.causes
    # Method, section 2: adding a device never alters another pair or a window mean.
    assert not [c for c in found.figures if c.kind == "changed" and c.figure.startswith(("pair~", "window~", "cell~"))]


def test_correction(bench):
    (at, value), *_ = bench.sql(
        "SELECT at_utc, throughput_typed FROM run WHERE device_id = 'quillmast-vane' AND repeat = 2 AND spot = 'S2' "
        "AND firmware = '2.10'"
    )
    key = (
        "device=quillmast-vane;unit=A;firmware=2.10;client=wrenlet-u2;driver=3.11;session=2025-06-20;band=5;"
        "width_mhz=80;direction=down;spot=S2;repeat=2"
    )
    bench.correct(f"runs,{key},throughput,{value},690,mistyped,a reader,2025-08-30")
    found = changed(bench)
    assert found.without_cause == []
    assert at
    reason = f"throughput corrected on 2025-08-30: was {value}, now 690 (mistyped)"
    cell = [c for c in found.figures if c.figure.startswith("cell~quillmast-vane~A~2.10~") and c.kind == "changed"]
    assert [c.causes for c in cell] == [(reason,)]
    assert all(reason in c.causes or any("quillmast-vane" in x for x in c.causes) for c in found.figures)


def test_withdrawal(bench, tmp_path):
    table = "what,id,from,reason\ndevice,quillmast-vane,2025-09-20,loose antenna\n"
    bench.enter(batch(tmp_path, "away", withdrawals=table))
    found = changed(bench)
    assert found.without_cause == []
    gone = [c for c in found.figures if c.kind == "gone" and c.figure.startswith("cell~quillmast-vane")]
    assert gone
    assert {x for c in gone for x in c.causes} == {"device quillmast-vane was withdrawn from 2025-09-20: loose antenna"}


def test_other_constants(bench, tmp_path):
    method = "[method]\nattenuation_sigma_db = 2.5\n"
    bench.enter(batch(tmp_path, "constants", title="Better readings", more=method))
    found = changed(bench)
    assert found.without_cause == []
    assert causes(found) >= {"the constants of the method, set by batch constants (Better readings)"}
    assert {c.figure.split("~")[0] for c in found.figures} & {"window", "pair"}
    assert not [c for c in found.figures if c.figure.startswith("cell~")]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE run SET throughput_mbit_s = throughput_mbit_s + 40 WHERE device_id = 'quillmast-vane' AND repeat = 2",
        "DELETE FROM run WHERE device_id = 'quillmast-vane' AND repeat = 2",
        "UPDATE spot_reading SET reading_dbm = reading_dbm - 2 WHERE spot = 'S2'",
        "UPDATE price SET amount = 1",
    ],
)
def test_a_change_past_the_batches_stops_publishing(statement, bench, small_file, chart_cache, tmp_path):
    bench.sql(statement)
    found = changed(bench)
    assert found.unexplained
    assert found.without_cause
    own = Bench(small_file, tmp_path / "own", chart_cache)
    own.publish(DAY)
    before = contents(own.site)
    own.sql(statement)
    with pytest.raises(BuildRefused, match=r"Public figures change and nothing in the catalogue says why"):
        own.publish(LATER)
    assert contents(own.site) == before


def test_a_figure_made_otherwise_of_the_same_rows_has_no_cause(bench, tmp_path):
    """As after a change of the program that nobody gave a new definition number."""
    site = tmp_path / "site"
    shutil.copytree(bench.site, site)
    record = json.loads((site / RECORD).read_text(encoding="utf-8"))
    one = next(figure for figure in record["figures"] if figure["figure"].startswith("cell~"))
    one["text"] = "1 Mbit/s, n 3"
    (site / RECORD).write_text(json.dumps(record), encoding="utf-8")
    found = changes_since(bench.catalog, site, as_of=LATER)
    assert [(c.figure, c.was, c.causes) for c in found.figures] == [(one["figure"], "1 Mbit/s, n 3", ())]
    record["definitions"]["throughput"] = 0
    (site / RECORD).write_text(json.dumps(record), encoding="utf-8")
    (change,) = changes_since(bench.catalog, site, as_of=LATER).figures
    assert change.causes == ("the definition of throughput is number 2 now, was 0",)


def test_document_has_every_change(bench, tmp_path):
    bench.enter(batch(tmp_path, "later", runs_csv=runs(height=1650.0)))
    found = changed(bench)
    document = json.loads(json.dumps(found.to_json()))
    assert list(document) == ["since", "as_of", "changes", "unexplained", "articles"]
    assert len(document["changes"]) == len(found.figures)
    assert all(list(c) == ["figure", "kind", "was", "now", "causes"] for c in document["changes"])
    assert all((c["was"] is None) == (c["kind"] == "new") for c in document["changes"])


def test_record_is_in_the_digits_of_the_pages(bench):
    record = read_record(bench.site)
    page = (bench.site / "devices" / "quillmast-vane" / "index.html").read_text(encoding="utf-8")
    windows = [
        p.text for f, p in record.figures.items() if f.startswith("window~quillmast-vane~A~2.10~wrenlet-u2~5~80~down")
    ]
    assert windows
    assert all(text.split(" ")[0] in page for text in windows)


def test_folder_without_a_record_is_said(bench, tmp_path):
    with pytest.raises(BuildRefused, match="holds no published site to compare with"):
        changes_since(bench.catalog, tmp_path, as_of=LATER)
    (tmp_path / "data").mkdir()
    (tmp_path / RECORD).write_text("{}")
    with pytest.raises(BuildRefused, match="cannot be read"):
        changes_since(bench.catalog, tmp_path, as_of=LATER)


def test_the_instant_of_a_record_is_that_of_the_descriptor_or_of_an_older_record_its_own(bench, tmp_path):
    shutil.copytree(bench.site / "data", tmp_path / "data")
    assert read_record(tmp_path) == read_record(bench.site)
    (tmp_path / DESCRIPTOR).unlink()
    with pytest.raises(BuildRefused, match="cannot be read"):
        read_record(tmp_path)
    older = json.loads((tmp_path / RECORD).read_text(encoding="utf-8")) | {"as_of": "2025-01-02T03:04:05Z"}
    (tmp_path / RECORD).write_text(json.dumps(older), encoding="utf-8")
    assert read_record(tmp_path) == replace(read_record(bench.site), as_of="2025-01-02T03:04:05Z")


def test_a_published_copy_that_was_damaged_is_said(bench, tmp_path):
    site = tmp_path / "site"
    shutil.copytree(bench.site, site)
    copy = site / "data" / "likeloss.db.zip"
    content = bytearray(copy.read_bytes())
    content[-100] ^= 1
    copy.write_bytes(content)
    for damage in (lambda: None, copy.unlink):
        damage()
        with pytest.raises(BuildRefused, match=r"likeloss\.db\.zip is not as it was published"):
            changes_since(bench.catalog, site, as_of=LATER)


def test_values_and_causes_that_are_sentences_end_once():
    change = Change(
        "pair~a~b", "changed", "They cannot be told apart.", "a gives 50 more.", ("Withdrawn: old.", "New.")
    )
    assert str(change) == (
        "pair~a~b: was They cannot be told apart, now a gives 50 more. Cause: Withdrawn: old and New."
    )
    assert str(replace(change, causes=())).endswith("now a gives 50 more. Cause: nobody can say why.")


def test_a_corrected_target_is_the_cause_of_its_role(bench):
    bench.correct("workload.role,workload=five;version=1;id=pages,target_ms,1000,1500,a slip,desk,2025-08-30")
    found = changed(bench)
    assert found.unexplained == []
    assert found.without_cause == []


def test_a_day_that_moves_is_the_cause_of_the_places_it_has_then(published, tmp_path):
    bench = Bench(published.catalog, tmp_path / "bench", published.cache)
    spots = (
        "house,spot,band,valid_from,reference_eirp_dbm,reading_dbm,reference_source,reference_receiver\n"
        "house-a,S1,5,2025-08-25,20.0,-28.0,KS,LR\n"
    )
    bench.enter(batch(tmp_path, "moved", runs_csv=runs(height=1650.0), spots=spots))
    bench.publish(DAY)
    bench.correct("session,id=day-moved,date,2025-08-20,2025-08-26,written down later,desk,2025-08-30")
    found = changed(bench)
    assert any(change.kind == "gone" and "~S1~" in change.figure for change in found.figures)
    assert found.unexplained == []
    assert found.without_cause == []
    assert "date corrected on 2025-08-30: was 2025-08-20, now 2025-08-26 (written down later)" in causes(found)


def test_a_corrected_time_keeps_its_row_and_says_so(bench):
    bench.correct(
        "runs,batch=2025-05-first;file=runs.csv;row=2,when,2025-05-12T08:00:00Z,2025-05-12T07:59:00Z,clock,desk,2025-08-30"
    )
    assert changed(bench).unexplained == []


def test_a_new_step_of_a_dispute_has_its_batch_as_cause(bench, tmp_path):
    table = (
        "device,date,by,claim,state,evidence\ntessarik-a-b,2025-07-03,the maker,old <firmware>,not upheld,a retest\n"
    )
    bench.enter(batch(tmp_path, "answer", disputes=table))
    assert changed(bench).without_cause == []


@pytest.mark.parametrize(
    ("before", "now"),
    [
        # By hand: the same figures, seen from the one that is ahead, without a sign.
        (f"{APART} at S7 A minus B is −7 Mbit/s, likely −87 to +74{SHOWN}", f"{APART} at S7 B was 7 Mbit/s ahead, likely 74 behind to 87 ahead{SHOWN}"),
        (f"{APART} at S7 A minus B is +72 Mbit/s, likely 0 to +144{SHOWN}", f"{APART} at S7 A was 72 Mbit/s ahead, likely 0–144 ahead{SHOWN}"),
        (f"{APART} at S7 A minus B is 0.0 Mbit/s, likely −8.1 to +8.2{SHOWN}", f"{APART} at S7 they came out 0.0 Mbit/s apart, A likely 8.1 behind to 8.2 ahead{SHOWN}"),
        ("A: 5 GHz, 80 MHz, download, udp, 8 flows.", "A: 5 GHz, 80 MHz, download, UDP, 8 flows."),
        ("680 Mbit/s, n 3", "680 Mbit/s, n 3"),
    ],
)  # fmt: skip
def test_what_is_only_said_otherwise_is_no_changed_figure(before, now):
    assert in_words_of_today(before) == now
    assert in_words_of_today(now) == now


def test_a_record_in_former_words_is_read_in_those_of_today(bench, tmp_path):
    (tmp_path / RECORD).parent.mkdir()
    for name in (RECORD, DESCRIPTOR):
        shutil.copy(bench.site / name, tmp_path / name)
    record = json.loads((tmp_path / RECORD).read_text(encoding="utf-8"))
    record["figures"][0]["text"] = f"{APART} at S7 A minus B is −7 Mbit/s, likely −87 to +74{SHOWN}"
    (tmp_path / RECORD).write_text(json.dumps(record), encoding="utf-8")
    read = read_record(tmp_path).figures[record["figures"][0]["figure"]]
    assert read.text == f"{APART} at S7 B was 7 Mbit/s ahead, likely 74 behind to 87 ahead{SHOWN}"
