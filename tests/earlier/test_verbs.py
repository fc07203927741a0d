"""Verbs on a catalogue of version 1: those that read leave it as it is, those that write bring it up."""

import hashlib
import json
from datetime import UTC, datetime, timedelta

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.publishing.files.database import PACKED_DATABASE
from catalog import schema
from tests.builder.publishing.publishing_bench import Bench, contents
from tests.builder.small_catalog import small_catalog
from tests.downloads import unpacked
from tests.earlier.unpacking import as_version_1, digests, edited, version

INSTANT = datetime(2026, 6, 30, 12, tzinfo=UTC)
NIGHT = "polmerre-rondel-4"  # it repeats every 25 minutes
BATCH = """
format = 1
id = "more"
title = "One more run"
licence = "CC-BY-4.0"
[[session]]
id = "more"
house = "birchgate"
date = 2026-06-29
"""
RUNS = """\
when,device,firmware,client,session,band,width_mhz,direction,spot,repeat,throughput_mbit_s
2026-06-29T10:00:00Z,polmerre-rondel-4,5.10,wrenlet-u2,more,5,80,down,B2,1,700
"""


def ran(*arguments, code=0):
    result = CliRunner().invoke(main, [str(argument) for argument in arguments])
    assert result.exit_code == code, result.output
    return result


def test_verbs_that_read_answer_from_a_migrated_copy(old, migrated):
    content = old.read_bytes()
    for verb in (["longrun", NIGHT], ["show", NIGHT], ["compare", NIGHT, "tessarik-cupola"], ["coverage", NIGHT]):
        at = ["--as-of", "2026-06-30T12:00:00Z"] if verb[0] != "coverage" else []
        then, now = (ran(*verb, *at, "--json", "--catalog", path).stdout for path in (old, migrated))
        assert json.loads(then) == json.loads(now)
    assert "sound" in ran("verify", "--catalog", old).output
    assert old.read_bytes() == content
    assert [path.name for path in old.parent.iterdir()] == [old.name]


def test_a_write_protected_one_can_be_read(old):
    old.chmod(0o444)
    old.parent.chmod(0o555)
    try:
        assert "It repeats every" in ran("longrun", NIGHT, "--catalog", old).output
    finally:
        old.parent.chmod(0o755)


def test_without_samples_there_is_no_figure_rather_than_a_false_one(old):
    edited(old, "DELETE FROM series")
    requests = digests(old, "station")
    assert any("stalls" in figures for figures in requests.values())
    assert "Its log gave no figures." in ran("longrun", NIGHT, "--catalog", old).output
    ran("undo", "no-such-batch", "--catalog", old, code=1)  # opens it for writing
    assert version(old) == schema.VERSION
    assert digests(old, "run") == digests(old, "longrun") == {}
    for key, figures in digests(old, "station").items():
        assert figures.items() <= requests[key].items()
        assert "stalls" not in figures
        assert figures["planned"] == requests[key]["planned"]
    assert "Its log gave no figures." in ran("longrun", NIGHT, "--catalog", old).output


def test_a_batch_is_checked_against_it_and_then_entered(old, tmp_path):
    batch = tmp_path / "more"
    batch.mkdir()
    (batch / "batch.toml").write_text(BATCH)
    (batch / "runs.csv").write_text(RUNS)
    content = old.read_bytes()
    assert json.loads(ran("check", batch, "--catalog", old, "--json").stdout)["rows_new"] == 1
    assert old.read_bytes() == content
    assert "1 new row" in ran("enter", batch, "--catalog", old).output
    assert version(old) == schema.VERSION
    assert "sound" in ran("verify", "--catalog", old).output


def test_it_is_published(old, tmp_path, chart_cache):
    bench = Bench(old, tmp_path / "published", chart_cache)
    assert bench.publish(INSTANT).figures > 2000
    assert version(bench.catalog) == schema.VERSION
    page = (bench.site / "devices" / NIGHT / "index.html").read_text(encoding="utf-8")
    assert "repeats every" in page


def test_a_site_whose_copy_is_of_version_1_is_compared_with_and_rolled_back_to(tmp_path, chart_cache):
    bench = Bench(small_catalog(tmp_path / "small.db"), tmp_path / "published", chart_cache)
    bench.publish(INSTANT)
    # As Likeloss of that version left it: plainly beside the other downloads.
    packed, sums = bench.site / "data" / PACKED_DATABASE, bench.site / "data" / "SHA256SUMS"
    before = hashlib.sha256(packed.read_bytes()).hexdigest()
    copy = unpacked(packed, packed.parent)
    packed.unlink()
    as_version_1(copy)
    line = f"{hashlib.sha256(copy.read_bytes()).hexdigest()}  {copy.name}"
    sums.write_text(sums.read_text().replace(f"{before}  {packed.name}", line))
    first = contents(bench.site)
    assert version(copy) == 1
    assert list(bench.publish(INSTANT + timedelta(days=1)).changes.figures) == []
    assert version(unpacked(packed, tmp_path)) == schema.VERSION
    ran("rollback", bench.site, "--catalog", bench.catalog)
    assert contents(bench.site) == first


@pytest.mark.parametrize(
    "verb", [["show", NIGHT], ["verify"], ["build"], ["dump", "-"], ["undo", "2022-04-ingle"], ["enter", "nowhere"]]
)
def test_one_of_a_newer_version_is_refused_with_3_and_left_alone(old, verb, tmp_path):
    if verb[0] == "enter":
        verb = ["enter", tmp_path / "more"]
        verb[1].mkdir()
        (verb[1] / "batch.toml").write_text(BATCH)
    edited(old, f"PRAGMA user_version = {schema.VERSION + 1}")
    content = old.read_bytes()
    assert "was written by a newer Likeloss" in ran(*verb, "--catalog", old, code=3).stderr
    assert old.read_bytes() == content
    assert [path.name for path in old.parent.iterdir()] == [old.name]


def test_damage_that_stops_a_step_ends_with_3(old):
    edited(old, "UPDATE series SET samples = '[1, 2' WHERE owner = 'longrun' AND owner_id = 2")
    content = old.read_bytes()
    for verb in (["verify"], ["longrun", NIGHT], ["undo", "2022-04-ingle"]):
        assert "The raw samples of longrun 2 are damaged" in ran(*verb, "--catalog", old, code=3).stderr
    assert old.read_bytes() == content
