"""Whatever is published names things only as its public copy names them, the record of changes included.

Each scenario ends with a site that is, byte for byte, that of a catalogue which never held the hidden thing. Where one
batch holds hidden and public rows, the other catalogue holds the same batch with another secret in it.
"""

import base64
import re
import zlib
from datetime import UTC, datetime, timedelta
from io import BytesIO
from zipfile import ZipFile

import pytest

from catalog.errors import BuildRefused
from tests.batches import client, things
from tests.builder.publishing.publishing_bench import (
    EMBARGO,
    INSTANT,
    SECOND_BEFORE,
    Bench,
    batch,
    contents,
    runs,
)
from tests.builder.publishing.test_embargoes import CAIRN, FIRMWARE, HIDDEN

BEFORE = datetime(2025, 9, 7, 12, 59, 59, tzinfo=UTC)
AFTER = INSTANT + timedelta(days=2)
UNTIL = "2025-09-10T09:00 America/New_York"
LATER = "2025-12-10T09:00-05:00"
WHOLE_BATCH = things(embargo=EMBARGO)
FACE = re.compile(rb"data:font/woff2;base64,[A-Za-z0-9+/=]+")
PACKED = re.compile(rb'"(e[FJN][A-Za-z0-9+/]{20,}={0,2})"')  # zlib as base64


@pytest.fixture
def benches(small_file, chart_cache, tmp_path):
    return tuple(Bench(small_file, tmp_path / name, chart_cache) for name in ("with", "without"))


def equal(one, other):
    """Two sites, with what differs by name."""
    a, b = contents(one.site), contents(other.site)
    assert a.keys() == b.keys()
    assert [name for name in a if a[name] != b[name]] == []
    return a


def holds(site, *words):
    texts = {name: _as_read(name, content) for name, content in site.items()}
    return {word for word in words for name, content in texts.items() if word.encode() in content or word in name}


def _as_read(name, content):
    """What a reader finds in a file: the letters by which faces and packed values are written spell any short word."""
    if name.endswith(".zip"):
        with ZipFile(BytesIO(content)) as archive:
            return b"".join(archive.read(member) for member in archive.namelist())
    return PACKED.sub(lambda value: zlib.decompress(base64.b64decode(value[1])), FACE.sub(b"", content))


def mixed(folder, id, title, *, device="tessarik-cairn", model="Cairn", firmware="0.9.77", **files):
    """One batch with a device under embargo and public runs of another."""
    more = CAIRN.replace("tessarik-cairn", device).replace("Cairn", model).replace("0.9.77", firmware)
    table = runs(height=1650.0) + runs(device=device, firmware=firmware).split("\n", 1)[1]
    place = batch(folder / "batches", id, more=more, title=title, runs_csv=table, **files)
    toml = place / "batch.toml"  # the session is what both catalogues share
    toml.write_text(toml.read_text(encoding="utf-8").replace(f"day-{id}", "day-mixed"), encoding="utf-8")
    return place


SECRETS = (("zqx-flagship", "ZQXTITLE", {}), ("aa-other", "Another", {"device": "tessarik-mound", "model": "Mound 77"}))
TELLTALES = ("zqx", "ZQX", "Cairn", "cairn", "0.9.77")


def test_a_cause_names_a_batch_as_the_copy_does(benches, tmp_path):
    for bench, (id, title, others) in zip(benches, SECRETS, strict=True):
        bench.publish(BEFORE)
        bench.enter(mixed(bench.folder, id, title, **others))
        report = bench.publish(SECOND_BEFORE)
        causes = {cause for change in report.changes.figures for cause in change.causes}
        assert "new batch tests-2025-08-20 (Tests of 2025-08-20)" in causes
    assert not holds(equal(*benches), *TELLTALES)
    for bench in benches:
        bench.publish(AFTER)
    shown = contents(benches[0].site)
    assert holds(shown, "zqx-flagship", "ZQXTITLE") == {"zqx-flagship", "ZQXTITLE"}


def test_an_embargo_that_runs_is_never_a_cause_and_its_move_is_never_told(benches, tmp_path):
    for bench in benches:
        if bench is benches[0]:
            bench.enter(batch(tmp_path, "hidden", more=FIRMWARE, runs_csv=runs(firmware="1.0.44", height=1760.0)))
        bench.publish(BEFORE)
        if bench is benches[0]:
            bench.correct(
                f"device.firmware.embargo,device=quillmast-sill;firmware=1.0.44,until,{UNTIL},{LATER},ZQXREASON,desk,"
                "2025-09-08",
                now=AFTER,
            )
        bench.enter(batch(bench.folder / "b", "open", title="Open day", runs_csv=runs(height=1650.0)))
        report = bench.publish(SECOND_BEFORE)
        causes = {c for change in report.changes.figures for c in change.causes}
        assert causes - {"the value of quillmast-sill changed"} == {"new batch open (Open day)"}
    assert not holds(equal(*benches), "ZQX", "1.0.44", "2025-12-10")
    for bench in benches:
        bench.publish(AFTER)
    equal(*benches)
    report = benches[0].publish(datetime(2025, 12, 10, 14, tzinfo=UTC))
    causes = {cause for change in report.changes.figures for cause in change.causes}
    assert "the embargo on firmware 1.0.44 of quillmast-sill ended at 2025-12-10T14:00:00Z" in causes
    shown = contents(benches[0].site)
    assert not holds(shown, "ZQXREASON", "2025-09-10T13:00:00Z")


def test_an_embargo_lifted_early_is_told_as_one_that_ended(benches, tmp_path):
    bench, _ = benches
    bench.enter(batch(tmp_path, "hidden", more=CAIRN, runs_csv=runs(device="tessarik-cairn", firmware="0.9.77")))
    bench.publish(BEFORE)
    early = "2025-09-08T09:00-04:00"
    bench.correct(f"device.embargo,device=tessarik-cairn,until,{UNTIL},{early},ZQXREASON,desk,2025-09-07", now=AFTER)
    report = bench.publish(BEFORE + timedelta(days=2))
    causes = {cause for change in report.changes.figures for cause in change.causes}
    assert any("the embargo on tessarik-cairn ended at 2025-09-08T13:00:00Z" in cause for cause in causes)
    assert not holds(contents(bench.site), "ZQX")


def test_a_correction_in_a_mixed_batch_shows_neither_its_id_nor_its_row(benches):
    for bench, (id, title, others) in zip(benches, SECRETS, strict=True):
        bench.publish(BEFORE)
        bench.enter(mixed(bench.folder, id, title, **others))
        bench.correct(
            f"runs,batch={id}; file=runs.csv; row=2,note,a note between us 0,better note,typo,desk,2025-09-02",
            f"runs,batch={id}; file=runs.csv; row=3,throughput,730.0,731.5,typo,desk,2025-09-02",
        )
        bench.publish(SECOND_BEFORE)
    site = equal(*benches)
    assert not holds(site, *TELLTALES)
    page = site["devices/quillmast-sill/index.html"].decode()
    assert "It concerns runs: batch tests-2025-08-20, file runs.csv." in page


def test_a_correction_whose_reason_names_what_is_hidden_waits(benches, tmp_path):
    """Its value is in force; a ledger to which one only adds could otherwise never be published before the instant."""
    bench, _ = benches
    bench.enter(batch(tmp_path, "hidden", more=CAIRN, runs_csv=runs(device="tessarik-cairn", firmware="0.9.77")))
    bench.publish(BEFORE)
    line = "prices,device=tessarik-a-b;date=2025-05-01;region=DE;condition=new,amount,189,179,{},a reader,2025-09-02"
    bench.correct(line.format("mixed up with that of Cairn"))
    report = bench.publish(SECOND_BEFORE)
    (change,) = report.changes.figures
    assert (change.now, change.causes) == ("179 EUR", ("a correction",))
    bench.publish(AFTER)
    assert holds(contents(bench.site), "mixed up with that of Cairn")


@pytest.mark.parametrize("known", [False, True], ids=["before it was seen", "after it was seen"])
def test_a_withdrawn_mixed_batch_is_told_by_its_shown_id(known, benches, tmp_path):
    for bench, (id, title, others) in zip(benches, SECRETS, strict=True):
        bench.enter(mixed(bench.folder, id, title, **others))
        if known:
            bench.publish(BEFORE)
        table = f"what,id,from,reason\nbatch,{id},2025-09-01,the source was broken\n"
        bench.enter(batch(bench.folder / "b", "back", withdrawals=table))
        bench.publish(SECOND_BEFORE)
    site = equal(*benches)
    assert not holds(site, *TELLTALES)
    assert b"Withdrawn: batch tests-2025-08-20" in site["feed.xml"]
    assert b"day-mixed" not in site["data/runs.csv"]


def test_the_withdrawal_of_a_batch_that_is_hidden_whole_is_not_told(benches, tmp_path):
    with_it, _ = benches
    with_it.enter(batch(tmp_path, "zqx-secret", more=CAIRN, runs_csv=runs(device="tessarik-cairn", firmware="0.9.77")))
    table = "what,id,from,reason\nbatch,zqx-secret,2025-09-01,ZQXREASON\nrun,zqx-secret/runs/9,2025-09-01,ZQXROW\n"
    with_it.enter(batch(tmp_path, "back", title="ZQXBACK", withdrawals=table))
    for bench in benches:
        bench.publish(SECOND_BEFORE)
    assert not holds(equal(*benches), *TELLTALES)


CLIENT = things(client=[client("client-zz", name="Setup 7")])


def test_a_hidden_batch_is_not_named_by_what_others_use_of_it(benches):
    table = runs(height=1650.0).replace("throughput_mbit_s", "client,throughput_mbit_s")
    table = "\n".join(
        line if number == 0 else ",".join([*line.split(",")[:6], "client-zz", *line.split(",")[6:]])
        for number, line in enumerate(table.strip().split("\n"))
    )
    secrets = (("zqx-secret", "ZQXTITLE", "0.03"), ("other-secret", "OTHERTITLE", "0.04"))
    for bench, (id, title, spread) in zip(benches, secrets, strict=True):
        more = f"{WHOLE_BATCH}{CLIENT}[method]\nsession_spread = {spread}\n"
        bench.enter(batch(bench.folder / "b", id, title=title, more=more))
        bench.correct(f"client,id=client-zz;batch={id},name,Setup 7,Setup 8,ZQXREASON,desk,2025-09-02")
        clean = batch(bench.folder / "b", "clean", title="Clean", runs_csv=table + "\n")
        toml = clean / "batch.toml"
        toml.write_text(toml.read_text(encoding="utf-8").replace('client = "wrenlet-u2"\ndriver = "3.11"\n', ""))
        bench.enter(clean)
        bench.publish(SECOND_BEFORE)
    site = equal(*benches)
    assert not holds(site, "zqx", "ZQX")
    assert holds(site, "client-zz", "Setup 8") == {"client-zz", "Setup 8"}


def test_withdrawals_and_articles_of_a_hidden_batch_wait(benches, tmp_path):
    with_it, _ = benches
    article = (
        '[[article]]\nid = "zqx-review"\ntitle = "Plain words"\npublished = "2025-09-01T09:00:00-04:00"\n'
        'file = "a.md"\ndevices = ["quillmast-vane"]\n'
    )
    place = batch(
        tmp_path,
        "zqx-secret",
        title="ZQXTITLE",
        more=WHOLE_BATCH + article,
        withdrawals="what,id,from,reason\nfirmware,quillmast-vane@2.9,2025-09-01,ZQXREASON2\n",
    )
    (place / "a.md").write_text("Quiet and quick.\n", encoding="utf-8")
    with_it.enter(place)
    reports = [bench.publish(SECOND_BEFORE) for bench in benches]
    assert not holds(equal(*benches), "zqx", "ZQX", "Quiet and quick")
    assert [(w.id, w.until_utc) for w in reports[0].waiting] == [("zqx-review", "2025-09-10T13:00:00Z")]
    with_it.publish(INSTANT)
    assert holds(contents(with_it.site), "zqx-review", "ZQXTITLE", "ZQXREASON2", "Quiet and quick") == {
        "zqx-review",
        "ZQXTITLE",
        "ZQXREASON2",
        "Quiet and quick",
    }


def test_an_article_waits_for_its_devices(benches, tmp_path):
    with_it, _ = benches
    article = (
        '[[article]]\nid = "zqx-review"\ntitle = "Plain words"\npublished = "2025-09-01T09:00:00-04:00"\n'
        'file = "a.md"\ndevices = ["tessarik-cairn"]\n'
    )
    place = batch(tmp_path, "zqx", more=article + CAIRN)
    (place / "a.md").write_text("Quiet and quick.\n", encoding="utf-8")
    with_it.enter(place)
    reports = [bench.publish(SECOND_BEFORE) for bench in benches]
    assert not holds(equal(*benches), *TELLTALES, "Quiet and quick")
    assert [w.id for w in reports[0].waiting] == ["zqx-review"]
    assert reports[1].waiting == []
    report = with_it.publish(INSTANT)
    assert report.waiting == []
    assert holds(contents(with_it.site), "zqx-review")


# What is hidden again after it was seen -> the correction that does it.
AGAIN = {
    "device": f"device.embargo,device=tessarik-cairn,until,{UNTIL},{LATER},maker asked,desk,2025-09-11",
    "unit": f"device.unit.embargo,device=quillmast-sill;unit=replacement-2,until,{UNTIL},{LATER},asked,desk,2025-09-11",
    "firmware": f"device.firmware.embargo,device=quillmast-sill;firmware=1.0.44,until,{UNTIL},{LATER},asked,desk,2025-09-11",
    "result": f"embargo,batch=hidden,until,{UNTIL},{LATER},asked,desk,2025-09-11",
}


@pytest.mark.parametrize("what", AGAIN)
def test_what_was_seen_is_hidden_again_at_once_and_leaves_no_trace(what, benches, tmp_path):
    toml, table, *_ = HIDDEN[what]
    with_it, without = benches
    with_it.enter(batch(tmp_path, "hidden", more=toml, title="Tests to come", runs_csv=table))
    for bench in benches:
        bench.publish(BEFORE)
        bench.publish(INSTANT)
    assert contents(with_it.site) != contents(without.site)
    assert with_it.site.with_name("site.earlier").exists()
    with_it.correct(AGAIN[what], now=AFTER)
    report, _ = tuple(bench.publish(AFTER) for bench in benches)
    equal(*benches)
    assert report.gone
    assert report.earlier is None
    assert not with_it.site.with_name("site.earlier").exists()
    with pytest.raises(BuildRefused, match="there is no earlier version"):
        with_it.roll_back(AFTER)
    for bench in benches:
        bench.enter(batch(bench.folder / "b", "open", title="Open", runs_csv=runs(height=1645.0)))
        bench.publish(AFTER + timedelta(days=1))
    equal(*benches)


def test_a_reference_device_is_hidden_again_and_its_house_stays(benches, tmp_path):
    bench, _ = benches
    bench.enter(batch(tmp_path, "cairn", more=CAIRN, runs_csv=runs(device="tessarik-cairn", firmware="0.9.77")))
    house = '[[house]]\nid = "house-z"\nname = "House Z"\nreference_device = "tessarik-cairn"\n'
    bench.enter(batch(tmp_path, "house", title="A house", more=house))
    bench.publish(INSTANT)
    bench.correct(AGAIN["device"], now=AFTER)
    assert bench.publish(AFTER).gone
    site = contents(bench.site)
    assert not holds(site, "Cairn", "-cairn")
    assert b"House Z" in site["houses/house-z/index.html"]


def test_results_alone_are_hidden_again_whatever_their_batch_brought(benches, tmp_path):
    with_it, without = benches
    results = CAIRN.replace('covers = "existence"', 'covers = "results"')
    table = runs(device="tessarik-cairn", firmware="0.9.77")
    with_it.enter(batch(tmp_path, "cairn", title="Cairn", more=results, runs_csv=table))
    without.enter(batch(tmp_path / "b", "cairn", title="Cairn", more=results, runs_csv=table))
    without.correct(AGAIN["device"], now=AFTER)
    for bench in benches:
        bench.publish(BEFORE)
        bench.publish(INSTANT)
    assert b"day-cairn" in contents(with_it.site)["data/runs.csv"]
    with_it.correct(AGAIN["device"], now=AFTER)
    for bench in benches:
        bench.publish(AFTER)
    assert not holds(equal(*benches), "day-cairn", "0.9.77~")


@pytest.mark.parametrize("what", ["device", "firmware"])
def test_stills_hold_nothing_of_it(what, benches, tmp_path):
    toml, table, *_ = HIDDEN[what]
    article = (
        '[[article]]\nid = "sill-review"\ntitle = "Sill and Vane"\npublished = "2025-09-01T12:00:00Z"\nfile = "a.md"\n'
        'devices = ["quillmast-sill"]\n'
    )
    text = (
        "(= under client wrenlet-u2, band 5, width 80, direction down =)\n\n"
        "(= ranking window middle : Who leads? =)\n\n(= lines quillmast-sill quillmast-vane : Which one? =)\n"
    )
    with_it, _ = benches
    with_it.enter(batch(tmp_path, "hidden", more=toml, title="Tests to come", runs_csv=table))
    for bench in benches:
        place = batch(bench.folder / "b", "words", title="Words", more=article)
        (place / "a.md").write_text(text, encoding="utf-8")
        bench.enter(place)
        bench.publish(SECOND_BEFORE, stills=True)
    assert any(name.startswith("stills/") for name in equal(*benches))
