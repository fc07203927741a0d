"""Bits of a catalogue turned by a disk: every verb ends in a sentence, with 3 where it meets the damage, and `verify` lists it."""

import gc
import os
import random
import shutil
import sqlite3

import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog.connection import open_catalog
from catalog.exporting import verify
from tests.faults.many_runs import many_runs

# Damaged copies tried: 60 in CI, several hundred by hand (LIKELOSS_DAMAGED=300).
DAMAGED = int(os.environ.get("LIKELOSS_DAMAGED", "60"))
HEAD = 4096  # what lies before is SQLite's header and the first tables: without it there is no catalogue to look at

VERBS = {
    "check": ["check", "batch"],
    "enter": ["enter", "batch"],
    "undo": ["undo", "2025-05-first"],
    "correct": ["correct", "fix.csv"],
    "coverage": ["coverage", "quillmast-vane"],
    "show": ["show", "quillmast-vane"],
    "compare": ["compare", "quillmast-vane", "tessarik-a-b"],
    "rank": ["rank"],
    "reach": ["reach", "quillmast-vane", "--at", "300"],
    "roles": ["roles", "quillmast-vane"],
    "longrun": ["longrun", "quillmast-vane"],
    "link": ["link", "quillmast-vane", "tessarik-a-b"],
    "trace": ["trace", "rank~tessarik-a-b~wrenlet-u2~5~80~down~middle"],
    "new": ["new", "next", "--plan"],
    "build": ["build", "--jobs", "1"],
    "publish": ["publish", "public", "--jobs", "1"],
    "changes": ["changes", "--since", "site"],
    "dump": ["dump", "dump.jsonl"],
    "export": ["export", "out"],
    "load": ["load", "dump.jsonl"],
    "verify": ["verify"],
    "verify --json": ["verify", "--json"],
}


@pytest.fixture
def bench(catalog, charts, tmp_path, monkeypatch):
    """The small catalogue, a dump of it, a batch and a file of corrections, in the current folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("XDG_CACHE_HOME", str(charts))
    many_runs(tmp_path / "batch", 3)
    (tmp_path / "fix.csv").write_text(
        "table,key,column,was,now,reason,noticed_by,date\n"
        "device,id=quillmast-sill,model,Sill,Sill II,renamed,maker,2025-06-30\n"
    )
    assert CliRunner().invoke(main, ["dump", "dump.jsonl"]).exit_code == 0
    return tmp_path


def ended(verb):
    """Exit code and standard output of a verb that ended as it should on a catalogue that may be damaged."""
    result = CliRunner().invoke(main, VERBS[verb])
    code, out, err = result.exit_code, result.stdout, result.stderr
    assert isinstance(result.exception, SystemExit | None), f"{verb}: {result.exception!r}"
    assert code in (0, 1, 3), f"{verb}: {err}"
    assert "Something went wrong" not in err, f"{verb}: {err}"
    if code == 3 and not verb.startswith("verify"):
        (sentence,) = err.strip().splitlines()[-1:]
        assert "damaged" in sentence, f"{verb}: {err}"
        assert sentence.endswith(".")
    del result
    gc.collect()  # what a failure still held of the catalogue
    return code, out


def test_turned_bits_end_in_a_sentence_and_verify_lists_them(bench):
    catalog, dump = bench / "catalog.db", bench / "dump.jsonl"
    good, older = catalog.read_bytes(), dump.read_bytes()
    used = [place for place in range(HEAD, len(good)) if good[place]]  # an empty part of a page says nothing
    met = 0
    for seed in range(DAMAGED):
        rng = random.Random(seed)
        damaged = bytearray(good)
        for _ in range(rng.choice([1, 1, 2, 5, 20, 200])):
            damaged[rng.choice(used)] ^= 1 << rng.randrange(8)
        heavy = ("build", "publish", "changes")
        light = [verb for verb in VERBS if verb not in heavy and not verb.startswith("verify")]
        verbs = [*rng.sample(light, 3), *(heavy[seed // 8 % 3 :][:1] if seed % 8 == 0 else ()), "dump", "verify"]
        for verb in verbs:
            catalog.write_bytes(damaged)
            code, out = ended(verb)
            if code:
                assert dump.read_bytes() == older, f"seed {seed}: {verb}"
            dump.write_bytes(older)
            assert not list(bench.glob(".likeloss-writing-*"))
            for made in ("out", "next", "site", "public", "public.earlier"):
                if (bench / made).exists():
                    assert code in (0, 3) if made == "site" else code == 0, f"seed {seed}: {verb} left {made}"
                    shutil.rmtree(bench / made)
            if verb == "verify":
                assert code in (0, 3)
                assert ("sound." in out) == (code == 0)
                met += code == 3
    assert met > DAMAGED * 0.7


def changed(catalog, *statements):
    with sqlite3.connect(catalog) as db:
        db.execute("PRAGMA writable_schema = ON")
        db.execute("PRAGMA ignore_check_constraints = ON")
        for statement in statements:
            db.execute(statement)
    db.close()


DAMAGE = {
    "a text that is none": (
        "UPDATE device SET model = CAST(x'53ff6c' AS TEXT) WHERE device_id = 'quillmast-vane'",
        "model holds bytes that are no text",
        ["show", "build", "dump"],
    ),
    "an id that nothing has": (
        "UPDATE run SET session_id = 'nowhere' WHERE run_id = 3",
        "It names a session that is not there",
        ["show", "rank", "dump"],
    ),
    "a word that is none of a list": (
        "UPDATE run SET outcome = 'fknished' WHERE run_id = 3",
        "A value is impossible: CHECK constraint failed: outcome",
        ["show", "dump"],
    ),
    "a day that is none": (
        "UPDATE price SET date = '2025-05-0*'",
        "date is '2025-05-0*', which entry never writes there",
        ["build", "dump"],
    ),
    "an instant that is none": (
        "UPDATE article SET published_utc = '2025-05-01X09:00:00Z'",
        "published_utc is '2025-05-01X09:00:00Z'",
        ["dump"],
    ),
    "a number beyond all": (
        "UPDATE run SET throughput_mbit_s = 1e200 WHERE run_id = 3",
        "which nothing measures",
        ["dump"],
    ),
    "a band that is none": (
        "UPDATE run SET band = '7' WHERE run_id = 3",
        "band is '7', which entry never writes there",
        ["dump"],
    ),
    "a table defined otherwise": (
        "UPDATE sqlite_schema SET sql = replace(sql, 'throughput_mbit_s', 'throughput_mbit_z') WHERE name = 'run'",
        "The table run is not defined as it should be",
        ["show", "build", "dump", "enter"],
    ),
    "a file that cannot be unpacked": (
        "UPDATE raw_content SET deflated = x'00' WHERE sha256 = (SELECT max(sha256) FROM raw_content)",
        "cannot be unpacked",
        ["export"],
    ),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_each_kind_of_damage_is_named(bench, damage):
    statement, words, verbs = DAMAGE[damage]
    changed(bench / "catalog.db", statement)
    code, out = ended("verify")
    assert code == 3
    assert words in out
    for verb in verbs:
        assert ended(verb)[0] == 3, verb


def test_verify_goes_on_past_damage(bench):
    # A table that cannot be read, texts that are none and a file that cannot be unpacked: each is told, and none hides another.
    changed(
        bench / "catalog.db",
        "UPDATE sqlite_schema SET sql = replace(sql, 'reading_dbm', 'reading_dbn') WHERE name = 'spot_reading'",
        DAMAGE["a text that is none"][0],
        DAMAGE["a day that is none"][0],
        DAMAGE["a file that cannot be unpacked"][0],
    )
    findings = "\n".join(str(finding) for finding in verify(open_catalog(bench / "catalog.db", readonly=True)))
    for words in ("spot_reading is not defined", "bytes that are no text", "2025-05-0*", "cannot be unpacked"):
        assert words in findings


def test_a_name_of_a_table_that_is_no_text_is_damage(bench):
    content = (bench / "catalog.db").read_bytes()
    (bench / "catalog.db").write_bytes(content.replace(b"CREATE TABLE run (", b"CREATE TAB\xffE run (", 1))
    for verb in ("verify", "show", "enter"):
        assert ended(verb)[0] == 3


def test_our_own_mistake_is_not_put_down_to_a_sound_catalogue(bench, monkeypatch):
    def broken(*arguments, **keywords):
        raise KeyError("our own")

    monkeypatch.setattr("builder.cli.showing.print_lines", broken)
    result = CliRunner().invoke(main, VERBS["show"])
    assert result.exit_code == 1
    assert "Something went wrong inside Likeloss (KeyError: 'our own')" in result.stderr
    changed(bench / "catalog.db", DAMAGE["a day that is none"][0])
    assert ended("show")[0] == 3
