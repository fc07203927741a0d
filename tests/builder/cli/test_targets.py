"""Where verbs may write: never over the catalogue, never over what is not of their own kind, and whole or not at all."""

import os
import shutil
import subprocess
import sys

import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog.connection import open_catalog
from tests import sheets
from tests.faults.killing import contents


@pytest.fixture
def bench(small_file, tmp_path, monkeypatch):
    """A folder with a catalogue, which is the current one."""
    folder = tmp_path / "bench"
    folder.mkdir()
    shutil.copy(small_file, folder / "catalog.db")
    monkeypatch.chdir(folder)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return folder


def run(*arguments, code=0):
    result = CliRunner().invoke(main, [str(a) for a in arguments])
    assert result.exit_code == code, result.output
    assert "Something went wrong" not in result.output
    return result


def refused(folder, *arguments, says):
    """Refused in a sentence, and not a byte below *folder* is other than before."""
    before = contents(folder)
    sentence = run(*arguments, code=1).stderr.strip()
    assert says in sentence
    assert sentence.endswith(".")
    assert contents(folder) == before
    assert not list(folder.rglob(".likeloss-writing-*"))


ITSELF = ["catalog.db", "./catalog.db", "../bench/catalog.db", "hard.db", "soft.db", "soft/catalog.db"]


@pytest.fixture
def linked(bench):
    """The same with a hard link, a link, and a link to the folder."""
    (bench / "hard.db").hardlink_to(bench / "catalog.db")
    (bench / "soft.db").symlink_to("catalog.db")
    (bench / "soft").symlink_to(bench)
    return bench


@pytest.mark.parametrize("name", ITSELF)
def test_a_dump_over_the_catalogue_is_refused(linked, name):
    refused(linked, "dump", name, says="is the catalogue itself")
    refused(linked, "--catalog", name, "dump", "catalog.db", says="is the catalogue itself")
    refused(linked, "dump", linked / name, "--catalog", name, says="is the catalogue itself")
    run("verify")


@pytest.mark.parametrize("name", ITSELF)
def test_no_other_verb_writes_over_the_catalogue(linked, name):
    refused(linked, "export", name, says="is a file")
    refused(linked, "new", name, says="is the catalogue itself")
    for verb in (["build", "--out", name], ["publish", name]):
        refused(linked, *verb, says="is the catalogue itself")
    run("verify")


@pytest.mark.parametrize("end", ["-journal", "-wal", "-shm"])
def test_names_that_sqlite_uses_beside_the_catalogue_are_refused(linked, end):
    for verb in (["dump"], ["export"], ["new"], ["publish"], ["build", "--out"]):
        refused(linked, *verb, f"catalog.db{end}", says="a name that SQLite uses")
        refused(linked, *verb, f"soft/catalog.db{end}", "--catalog", "soft.db", says="a name that SQLite uses")


def test_a_dump_replaces_a_dump_and_nothing_else(bench):
    (bench / "mine.txt").write_text("keep")
    (bench / "other.db").write_bytes((bench / "catalog.db").read_bytes())
    (bench / "folder").mkdir()
    (bench / "link.txt").symlink_to("mine.txt")
    for name in ("mine.txt", "other.db", "link.txt"):
        refused(bench, "dump", name, says="is not a dump of Likeloss, so it stays")
    refused(bench, "dump", "folder", says="is a folder")
    refused(bench, "dump", "nowhere/a.jsonl", says="nowhere does not exist")
    (bench / "empty").touch()  # as mktemp makes it
    (bench / "older").write_text('{"catalogue_version": 1, "format": "likeloss catalogue"}\n{"row": ')
    for name in ("new.jsonl", "new.jsonl", "empty", "older"):
        run("dump", name)
        assert (bench / name).read_bytes() == run("dump", "-").stdout_bytes


def test_dump_and_load_go_through_pipes(bench):
    run("dump", "whole.jsonl")
    program = [sys.executable, "-c", "from builder.cli import main; main()"]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    for source, target in (("-", "-"), ("/dev/stdout", "/dev/stdin")):
        writer = subprocess.Popen([*program, "dump", source], stdout=subprocess.PIPE, env=environment)
        reader = subprocess.run(
            [*program, "load", target, "--catalog", "again.db"], stdin=writer.stdout, env=environment, check=False
        )
        assert (writer.wait(timeout=60), reader.returncode) == (0, 0)
        assert run("dump", "-", "--catalog", "again.db").stdout_bytes == (bench / "whole.jsonl").read_bytes()
        (bench / "again.db").unlink()
    with open("again.jsonl", "wb") as file:  # noqa: PTH123 - as a shell opens it
        assert (
            subprocess.run([*program, "dump", "/dev/stdout"], stdout=file, env=environment, check=False).returncode == 0
        )
    assert (bench / "again.jsonl").read_bytes() == (bench / "whole.jsonl").read_bytes()


def test_a_cut_dump_makes_no_catalogue(bench):
    run("dump", "whole.jsonl")
    lines = (bench / "whole.jsonl").read_bytes().splitlines(keepends=True)
    (bench / "cut.jsonl").write_bytes(b"".join(lines[: len(lines) // 2]))
    refused(bench, "load", "cut.jsonl", "--catalog", "new.db", says="was cut off after line")
    result = CliRunner().invoke(main, ["load", "-", "--catalog", "new.db"], input=(bench / "cut.jsonl").read_bytes())
    assert (result.exit_code, (bench / "new.db").exists()) == (1, False)
    assert "was cut off after line" in result.stderr


def test_an_export_goes_into_a_new_folder_or_an_empty_one(bench):
    (bench / "mine").mkdir()
    (bench / "mine" / "note.txt").write_text("keep")
    refused(bench, "export", "mine", says="is not empty. Export into a new folder")
    refused(bench, "export", "nowhere/out", says="nowhere does not exist")
    (bench / "empty").mkdir()
    run("export", "empty")
    run("export", "new")
    assert contents(bench / "empty") == contents(bench / "new") != {}
    refused(bench, "export", "new", says="is not empty")


def test_workbooks_are_exported_whole_and_enter_again(bench):
    run("export", "books", "--workbook")
    refused(bench, "export", "books", "--workbook", says="is not empty")
    books = sorted((bench / "books").glob("*/*.xlsx"))
    assert books
    for number, book in enumerate(books):
        assert "new row" in run("enter", book if number else book.parent, "--catalog", "new.db").output


def test_an_export_that_meets_damage_leaves_no_half_folder(bench):
    db = open_catalog(bench / "catalog.db", readonly=False)
    db.execute("UPDATE raw_content SET deflated = x'00' WHERE sha256 = (SELECT max(sha256) FROM raw_content)")
    db.close()
    assert "is damaged in the catalogue" in run("export", "out", code=3).stderr
    assert sorted(path.name for path in bench.iterdir()) == ["catalog.db"]


def test_a_map_never_replaces_another(bench):
    (bench / "log.csv").write_text("time,Mbit/s\n" + "".join(f"{n},{500 + n}\n" for n in range(30)))
    run("map", "log.csv", "--write", "mine")
    assert (bench / "maps" / "mine.toml").is_file()
    refused(bench, "map", "log.csv", "--write", "mine", says="exists already. Name another")
    for odd in ("", ".", "..", "a/b", "../a"):
        assert "plain name" in run("map", "log.csv", "--write", odd, code=2).stderr
    assert sorted(path.name for path in (bench / "maps").iterdir()) == ["mine.toml"]


def test_a_map_says_where_its_log_belongs(bench):
    (bench / "log.csv").write_text("time,Mbit/s\n" + "".join(f"{n},{500 + n}\n" for n in range(30)))
    run("new", "batch")
    outside = run("map", "log.csv", "--write", "mine", "--batch", "batch").stdout
    assert (bench / "batch" / "maps" / "mine.toml").is_file()
    assert outside.endswith(f'written. Put log.csv into {bench / "batch"}. In a table: log = "mine:log.csv"\n')
    (bench / "batch" / "logs").mkdir()
    (bench / "log.csv").rename(bench / "batch" / "logs" / "log.csv")
    inside = run("map", "batch/logs/log.csv", "--write", "other").stdout
    assert inside.endswith('maps/other.toml written. In a table: log = "other:logs/log.csv"\n')
    refused(bench, "map", "batch/logs/log.csv", "--write", "third", "--batch", "nowhere", says="does not exist")
    assert "--write NAME" in run("map", "batch/logs/log.csv", "--batch", "batch", code=2).stderr


@pytest.mark.parametrize("verb", [["build", "--out"], ["publish"]])
def test_a_site_never_replaces_the_folder_of_the_catalogue(bench, verb):
    # A site's folder is replaced whole, whatever somebody put into it.
    for holds in ("site", "site.earlier") if verb == ["publish"] else ("site",):
        folder = bench / holds
        folder.mkdir()
        (folder / ".likeloss-site").write_text("ours")
        (folder / "catalog.db").write_bytes((bench / "catalog.db").read_bytes())
        refused(bench, *verb, "site", "--catalog", folder / "catalog.db", says="holds the catalogue")
        shutil.rmtree(folder)


def test_a_map_of_a_sheet_says_which_table_reads_it(bench):
    (bench / "2019.xlsx").write_bytes(
        sheets.xlsx([["Loss", "Down Mbit/s", "Up Mbit/s"], [60, 800, 700], [70, 500, 400]])
    )
    proposed = run("map", "2019.xlsx")
    assert 'kind = "runs"' in proposed.stdout
    assert "4 rows read\n2.B  direction down, attenuation 60, repeat 1, throughput 800\n" in proposed.stderr
    run("new", "bench.xlsx")
    beside = run("map", "2019.xlsx", "--write", "other").stdout
    assert beside.endswith("written. In the sheet Batch: tables.runs | other:2019.xlsx\n")
    run("new", "batch")
    outside = run("map", "2019.xlsx", "--write", "old", "--batch", "batch").stdout
    assert outside.endswith(
        f'written. Put 2019.xlsx into {bench / "batch"}. In batch.toml, under [tables]: runs = "old:2019.xlsx"\n'
    )
    assert (bench / "batch" / "maps" / "old.toml").read_text() == proposed.stdout
