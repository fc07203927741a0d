"""Links to a figure as it was published (D06): the old value with a notice and the way on; none after a withdrawal."""

import html
import re
from datetime import UTC, datetime, timedelta

import pytest

from builder import addresses
from builder.publishing.changing.figures import read_record
from tests.builder.publishing.publishing_bench import Bench, batch, contents, runs
from tests.downloads import script_value

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)
SINCE = "2025-09-20T12:00:00Z"
PRICE = "price~tessarik-a-b~2025-05-01~DE~new"
CORRECTED = "prices,device=tessarik-a-b;date=2025-05-01;region=DE;condition=new,amount,189,179,mistyped again,a reader,2025-09-02"


@pytest.fixture
def bench(small_file, chart_cache, tmp_path):
    return Bench(small_file, tmp_path / "bench", chart_cache)


def row(bench, figure, *, since=SINCE, device="tessarik-a-b"):
    """The row that a dated link leads to, as text."""
    text = (bench.site / addresses.as_published(device, since)).read_text(encoding="utf-8")
    (found,) = re.findall(rf'<tr id="{re.escape(figure)}".*?</tr>', text, re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", found)).replace("\u00a0", " "), found


def test_the_link_stands_from_the_first_day(bench):
    bench.publish(DAY)
    words, _ = row(bench, PRICE)
    assert "189 EUR" in words  # the small catalogue's corrected price
    assert "still so" in words
    page = (bench.site / "devices" / "tessarik-a-b" / "index.html").read_text(encoding="utf-8")
    assert 'href="published/2025-09-20T120000/index.html">As published on 20 September 2025, 12:00 UTC</a>' in page
    bench.publish(DAY + timedelta(days=1))  # nothing changed: nothing more to link to
    assert len(list((bench.site / "devices" / "tessarik-a-b" / "published").iterdir())) == 1


def test_after_a_correction_it_shows_the_old_value_a_notice_and_the_way_to_the_new(bench):
    bench.publish(DAY)
    bench.correct(CORRECTED)
    bench.publish(DAY + timedelta(days=1))
    words, found = row(bench, PRICE)
    assert "189 EUR" in words
    assert "Replaced on 21 September 2025: now 179 EUR" in words
    assert "mistyped again" in words
    assert 'href="../2025-09-21T120000/index.html"' in found
    words, _ = row(bench, PRICE, since="2025-09-21T12:00:00Z")
    assert "179 EUR" in words
    assert "still so" in words
    # It lasts over further publications, and a roll-back takes site and history back together.
    third = DAY + timedelta(days=2)
    bench.publish(third)
    assert row(bench, PRICE)[0] == row(bench, PRICE)[0]
    assert "189 EUR" in row(bench, PRICE)[0]
    bench.roll_back(third)
    assert read_record(bench.site).as_of == "2025-09-21T12:00:00Z"


def test_after_a_withdrawal_it_shows_no_value_anywhere(bench, tmp_path):
    bench.publish(DAY)
    figures = read_record(bench.site).figures
    cell = next(f for f in figures if f.startswith("cell~tessarik-a-b") and "~S2~" in f and "skarn" not in f)
    assert figures[cell].text in row(bench, cell)[0]
    withdrawals = "what,id,from,reason\ndevice,tessarik-a-b,2025-09-21,the maker sent a sample of its own\n"
    bench.enter(batch(tmp_path, "back", withdrawals=withdrawals))
    bench.publish(DAY + timedelta(days=1))
    words, _ = row(bench, cell)
    assert "taken back" in words
    assert "the maker sent a sample of its own" in words
    record = read_record(bench.site)
    assert all(former.text == "" for former in record.former if "~tessarik-a-b~" in former.figure)
    values = {
        text for figure, text in ((f, p.text) for f, p in figures.items()) if figure.startswith("cell~tessarik-a-b")
    }
    everything = b"\n".join(contents(bench.site).values()).decode("utf-8", "replace")
    shown = [text for text in values if text in everything and not any(text == p.text for p in record.figures.values())]
    assert shown == []
    # Corrected before, withdrawn later: the earlier value goes, too.
    bench.publish(DAY + timedelta(days=2))
    assert all(former.text == "" for former in read_record(bench.site).former if "~tessarik-a-b~" in former.figure)


def test_a_value_that_was_corrected_and_then_withdrawn_is_gone_from_every_dated_page(bench, tmp_path):
    bench.publish(DAY)
    key = "device=tessarik-a-b;unit=A;firmware=7.1;client=skarn-c3;spot=S5;session=2025-05-12;repeat=1"
    was = next(
        v
        for (v,) in bench.sql(
            "SELECT throughput_mbit_s FROM run WHERE device_id = 'tessarik-a-b' AND client_id = 'skarn-c3' AND spot = 'S5' AND repeat = 1"
        )
    )
    bench.correct(f"runs,{key},throughput,{was:g},19.5,read wrongly,a reader,2025-09-02")
    bench.publish(DAY + timedelta(days=1))
    cell = next(
        f for f in read_record(bench.site).figures if f.startswith("cell~tessarik-a-b") and "skarn" in f and "~S5~" in f
    )
    old = next(former for former in read_record(bench.site).former if former.figure == cell)
    assert old.text
    assert f": {old.text}" in searched(bench)
    place = bench.sql(
        "SELECT batch_id, source_row FROM run WHERE device_id = 'tessarik-a-b' AND client_id = 'skarn-c3' AND spot = 'S5' AND repeat = 2"
    )
    (origin, number) = place[0]
    withdrawals = f"what,id,from,reason\nrun,{origin}/runs/{number},2025-09-22,cable left in\n"
    bench.enter(batch(tmp_path, "back", withdrawals=withdrawals))
    bench.publish(DAY + timedelta(days=2))
    former = [one for one in read_record(bench.site).former if one.figure == cell]
    assert len(former) == 2
    assert [one.text for one in former] == ["", ""]
    assert f": {old.text}" not in searched(bench)
    assert "taken back" in searched(bench)


def searched(bench):
    """The names of the figures of former days that the search knows."""
    index = script_value((bench.site / "scripts" / "search.js").read_bytes())
    return " ".join(name for kind, _, name, _, _ in index["entries"] if kind == "figure as published")


def test_what_is_hidden_again_leaves_no_trace(bench, tmp_path):
    # Published by mistake: the embargo of a batch is written in later, by a correction.
    first = datetime(2025, 8, 25, 12, tzinfo=UTC)
    more = '[embargo]\nuntil = "2025-08-22T00:00Z"\ncovers = "results"\n'
    bench.enter(batch(tmp_path, "later", more=more, runs_csv=runs(height=1650.0)))
    bench.publish(first)
    before = contents(bench.site)
    hidden = {f for f in read_record(bench.site).figures if "~day-later" in f or f.endswith("~2025-08-20")}
    assert any("day-later" in f for f in hidden)
    bench.correct("embargo,batch=later,until,2025-08-22T00:00:00Z,2025-12-15T00:00:00Z,too early,maker,2025-08-30")
    bench.publish(first + timedelta(days=6))
    record = read_record(bench.site)
    assert not hidden & (set(record.figures) | {former.figure for former in record.former})
    assert not [name for name, content in contents(bench.site).items() if b"day-later" in content]
    # Links that had been given away still lead somewhere, as far as what they name may be seen.
    gone = {name for name in before if name.endswith(".html") and "/published/" in name}
    assert all((bench.site / name).is_file() for name in gone)


def test_equal_catalogues_with_equal_histories_are_byte_identical(small_file, chart_cache, tmp_path):
    sites = []
    for name in ("one", "other"):
        bench = Bench(small_file, tmp_path / name, chart_cache)
        bench.publish(DAY)
        bench.correct(CORRECTED)
        bench.publish(DAY + timedelta(days=1))
        sites.append(contents(bench.site))
    assert sites[0] == sites[1]


def test_a_site_that_is_only_built_has_no_dated_pages(small_site):
    assert not list(small_site.glob("devices/*/published"))
