"""A rollback asks the catalogue: what is hidden or withdrawn now never comes back by it."""

import shutil
from datetime import UTC, datetime, timedelta

import pytest

from builder.publishing.making.publishing import roll_back_site
from catalog.connection import create_catalog
from catalog.errors import BuildRefused, CatalogUnusable
from tests.builder.publishing.publishing_bench import INSTANT, Bench, batch, contents, runs
from tests.builder.publishing.test_embargoes import CAIRN

AFTER = INSTANT + timedelta(days=2)
MOVED = "device.embargo,device=tessarik-cairn,until,2025-09-10T09:00 America/New_York,2025-12-10T09:00-05:00,asked,desk,2025-09-11"
PRICE = "prices,device=tessarik-a-b;date=2025-05-01;region=DE;condition=new,amount,189,179,mistyped,a reader,2025-09-02"


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


def refused(bench, now, *sentences):
    before = contents(bench.site), contents(bench.site.with_name("site.earlier"))
    with pytest.raises(BuildRefused, match="shows again what is hidden or withdrawn now") as refusal:
        bench.roll_back(now)
    for sentence in sentences:
        assert sentence in str(refusal.value)
    assert (contents(bench.site), contents(bench.site.with_name("site.earlier"))) == before


def seen_twice(bench, tmp_path, *, session="2025-05-12"):
    """Cairn, measured on a day that is known anyway, is in the site and in the version before."""
    table = runs(device="tessarik-cairn", firmware="0.9.77")
    place = batch(tmp_path, "cairn", more=CAIRN, runs_csv=table)
    toml = place / "batch.toml"
    head, _, tail = toml.read_text(encoding="utf-8").partition("[[session]]")
    toml.write_text(head + "[defaults.runs]" + tail.split("[defaults.runs]")[1].replace("day-cairn", session))
    bench.enter(place)
    bench.publish(INSTANT)
    bench.publish(INSTANT + timedelta(hours=1))


def test_what_is_hidden_since_does_not_come_back(bench, tmp_path):
    seen_twice(bench, tmp_path)
    bench.correct(MOVED, now=AFTER)
    refused(bench, AFTER, "Device tessarik-cairn: hidden now.", "15 rows of run of tessarik-cairn: hidden now.")
    report = bench.publish(AFTER)
    assert any("tessarik-cairn" in sentence for sentence in report.gone)
    assert not bench.site.with_name("site.earlier").exists()
    assert not [name for name, content in contents(bench.site).items() if b"Cairn" in content or b"-cairn" in content]
    # The day it may be seen again, it may come back, too.
    late = datetime(2025, 12, 11, tzinfo=UTC)
    bench.publish(late)
    report = bench.publish(late + timedelta(days=1))
    assert report.gone == []
    bench.roll_back(late + timedelta(days=1))


@pytest.mark.parametrize(
    ("withdrawal", "sentence"),
    [
        ("device,quillmast-vane", "Device quillmast-vane: withdrawn from 2025-09-11, loose antenna."),
        ("device,tessarik-new", "Device tessarik-new: withdrawn from 2025-09-11, loose antenna."),
        ("firmware,quillmast-vane@2.9", "Firmware quillmast-vane@2.9: withdrawn from 2025-09-11, loose antenna."),
        ("article,a-b-review", "Article a-b-review: withdrawn from 2025-09-11, loose antenna."),
        ("image,images/ports.png", "withdrawn from 2025-09-11, loose antenna."),
        ("run,2025-05-first/runs/20", "withdrawn from 2025-09-11, loose antenna."),
        ("batch,2025-05-first", "withdrawn from 2025-09-11, loose antenna."),
    ],
)
def test_what_is_withdrawn_since_does_not_come_back(withdrawal, sentence, bench, tmp_path):
    bench.sql("UPDATE article SET text = 'Without the picture, which would be missed.'")
    bench.publish(INSTANT)
    bench.publish(INSTANT + timedelta(hours=1))
    bench.enter(batch(tmp_path, "back", withdrawals=f"what,id,from,reason\n{withdrawal},2025-09-11,loose antenna\n"))
    refused(bench, AFTER, sentence)
    assert bench.publish(AFTER).earlier is None
    assert not bench.site.with_name("site.earlier").exists()
    assert bench.publish(AFTER + timedelta(days=1)).earlier is not None
    bench.roll_back(AFTER + timedelta(days=1))


def test_what_was_corrected_since_may_come_back(bench):
    bench.publish(INSTANT)
    old = contents(bench.site)
    bench.correct(PRICE)
    bench.correct(
        "runs,batch=2025-05-first;file=runs.csv;row=2,when,2025-05-12T08:00:00Z,2025-05-12T07:59:00Z,clock,desk,2025-09-02"
    )
    assert bench.publish(AFTER).earlier is not None
    bench.roll_back(AFTER)
    assert contents(bench.site) == old


def test_only_the_catalogue_it_was_made_from_can_say(bench, tmp_path):
    bench.publish(INSTANT)
    bench.publish(AFTER)
    with pytest.raises(CatalogUnusable, match="It has to be asked what is hidden or withdrawn now"):
        roll_back_site(bench.site, catalog=tmp_path / "none.db", now=AFTER)
    create_catalog(tmp_path / "empty.db").close()
    with pytest.raises(BuildRefused, match="Device quillmast-sill: not in the catalogue"):
        roll_back_site(bench.site, catalog=tmp_path / "empty.db", now=AFTER)
    assert bench.site.with_name("site.earlier").exists()


def test_a_name_that_only_a_text_of_the_earlier_version_holds_stops_it(bench, tmp_path):
    bench.publish(INSTANT)
    bench.correct("article,id=a-b-review,title,A<b: quiet,A<b: quieter than Cairn,wording,desk,2025-09-02")
    bench.publish(INSTANT + timedelta(hours=1))
    bench.correct("article,id=a-b-review,title,A<b: quieter than Cairn,A<b: quiet,wording,desk,2025-09-02")
    bench.publish(INSTANT + timedelta(hours=2))
    more = CAIRN.replace("2025-09-10T09:00", "2025-12-10T09:00")
    bench.enter(batch(tmp_path, "cairn", more=more, runs_csv=runs(device="tessarik-cairn", firmware="0.9.77")))
    refused(bench, AFTER, "holds the name of something hidden")


def test_a_version_without_data_is_not_brought_back(bench):
    bench.publish(INSTANT)
    bench.publish(AFTER)
    shutil.rmtree(bench.site.with_name("site.earlier") / "data")
    with pytest.raises(BuildRefused, match="cannot be compared with"):
        bench.roll_back(AFTER)
