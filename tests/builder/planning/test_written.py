"""A plan as a batch: a folder or a workbook with planned rows, refused where something is in the way."""

import shutil
import tomllib

import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog.connection import open_catalog
from catalog.entering import check_batch
from catalog.reading.batch import read_batch

PAIR = ["plan", "hollendry-bobbin", "--against", "tessarik-cupola", "--client", "wrenlet-u2", "--band", "5"]
ASKED = [*PAIR, "--width", "80", "--direction", "down", "--hours", "2.2"]


@pytest.fixture
def bench(demo_file, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copy(demo_file, tmp_path / "catalog.db")

    def run(*words):
        return CliRunner().invoke(main, [*ASKED, *words])

    return run


def test_folder_and_workbook_hold_the_same_planned_rows(bench, tmp_path):
    for name in ("day", "day.xlsx"):
        result = bench("--write", name)
        assert result.exit_code == 0, result.output
        assert f"likeloss check {name}" in result.stderr
    reports = [
        check_batch(tmp_path / name, catalog=open_catalog(tmp_path / "catalog.db", readonly=True))
        for name in ("day", "day.xlsx")
    ]
    assert [report.problems for report in reports] == [(), ()]
    assert reports[0].rows_planned == reports[1].rows_planned > 20
    assert {report.rows_read for report in reports} == {0}
    document = tomllib.loads((tmp_path / "day" / "batch.toml").read_text())
    assert document["timezone"] == "Europe/Berlin"
    of_book = read_batch(tmp_path / "day.xlsx").document.values
    assert document["bench"] == of_book["bench"] == {"against": "tessarik-cupola"}
    rows = (tmp_path / "day" / "runs.csv").read_text().splitlines()
    assert rows[1].endswith(",,planned,logs/01-s1-down-1.csv,")
    assert (tmp_path / "day" / "logs").is_dir()


def test_what_is_in_the_way_stays_as_it_was(bench, tmp_path):
    (tmp_path / "day").mkdir()
    (tmp_path / "book.xlsx").write_text("mine")
    for name, words in (
        ("day", "day is there already"),
        ("book.xlsx", "book.xlsx is there already"),
        ("day.txt", "neither a folder nor an .xlsx workbook"),
        ("catalog.db", "catalog.db"),
        ("no/such/place", "no/such"),
    ):
        result = bench("--write", name)
        assert result.exit_code == 1, name
        assert words in result.output, name
    assert list((tmp_path / "day").iterdir()) == []
    assert (tmp_path / "book.xlsx").read_text() == "mine"


def test_an_empty_catalogue_and_a_missing_one(tmp_path):
    result = CliRunner().invoke(main, ["plan", "a", "--catalog", str(tmp_path / "none.db")])
    assert result.exit_code == 3
    batch = tmp_path / "b"
    batch.mkdir()
    (batch / "batch.toml").write_text(
        'format = 1\nid = "b"\ntitle = "b"\nlicence = "CC-BY-4.0"\n[[house]]\nid = "h"\nname = "H"\n'
    )
    assert CliRunner().invoke(main, ["enter", str(batch), "--catalog", str(tmp_path / "c.db")]).exit_code == 0
    result = CliRunner().invoke(main, ["plan", "a", "--catalog", str(tmp_path / "c.db")])
    assert (result.exit_code, "holds no results yet" in result.output) == (1, True)


def test_the_command_it_prints_holds_together_where_a_path_has_a_space(bench):
    result = CliRunner().invoke(main, [*ASKED, "--write", "bench day"])
    assert "then: likeloss check 'bench day'" in result.stderr
