"""A sheet of years ago, from the proposal of its map to the trace of a value, its correction and its withdrawal.

All by the commands that a person types, in the order of a day.
"""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner

from builder.cli import main
from tests import sheets
from tests.batches import batch_at, batch_toml
from tests.downloads import json_of

SHEET = [
    ["Loss test, 4 March 2019"],
    ["Loss", "Laptop", None, "Tablet", None],
    ["dB", "Down Mbit/s", "Up Mbit/s", "Down Mbit/s", "Up Mbit/s"],
    [55, 812, 790, 700, 650],
    [65, 600, 580, 510, None],
    [75, 300, "DNF", 200, 180],
]
AS_OF = "2026-01-01T00:00Z"


@pytest.fixture
def typed(tmp_path, monkeypatch):
    """Types a command in the folder of the test; returns what it prints."""
    monkeypatch.chdir(tmp_path)

    def type_in(*words: str, code: int = 0) -> str:
        result = CliRunner().invoke(main, ["--catalog", "catalog.db", *words])
        assert result.exit_code == code, result.output
        return result.output

    return type_in


def test_from_the_sheet_to_the_site_and_back_to_its_cell(tmp_path, typed):
    content = sheets.xlsx(SHEET, title="5 GHz", merged=["B2:C2", "D2:E2"])
    folder = sheets.batch(tmp_path / "2019", content, "", defaults={"when": "2019-03-04 12:00"})
    site = {
        "title": "Bench",
        "author": "A. Bench",
        "contact": "bench@example.org",
        "language": "en",
        "licence": "CC-BY-4.0",
    }
    text = (folder / "batch.toml").read_text()
    (folder / "batch.toml").write_text(text + batch_toml("x", site=site).split('licence = "CC-BY-4.0"\n', 1)[1])
    (folder / "maps" / "old.toml").unlink()

    # 1. Without a map nothing can be read; the proposal is nearly all of one.
    assert "There is no file 'maps/old.toml' in the batch." in typed("check", "2019", code=1)
    said = typed("map", "2019/sheets/2019.xlsx", "--write", "old")
    assert 'In batch.toml, under [tables]: runs = "old:sheets/2019.xlsx"' in said
    assert "Row 2 says Laptop, Tablet. Is each the id of a client?" in said
    sentence = typed("check", "2019", code=1)
    assert "sheets/2019.xlsx, sheet 5 GHz, B2, column \"client\": The client 'Laptop' is not known." in sentence
    plan = folder / "maps" / "old.toml"
    words = '[column.client]\nwords = { "Laptop" = "wrenlet-u2", "Tablet" = "murrow-m8" }\n'
    plan.write_text(plan.read_text().replace("[column.client]\n", words))

    # 2. Checked and entered.
    assert "11 rows read, 11 new. Ready to enter." in typed("check", "2019")
    assert "11 new rows of 11 read" in typed("enter", "2019")

    # 3. The site shows the value, and the value leads back to its cell.
    typed("build", "--as-of", AS_OF, "--jobs", "1")
    page = (tmp_path / "site" / "devices" / "tessarik-shale-2" / "index.html").read_text()
    assert "812" in page
    cells = json_of(tmp_path / "site", "cells")
    (figure,) = [c["figure"] for c in cells["rows"] if c["mean"] == 812]
    trace = typed("trace", figure, "--as-of", AS_OF)
    assert re.search(r"2019/sheets/2019\.xlsx \(sha256 [0-9a-f]{12}\), sheet 5 GHz, B4 \(2019/runs/4\.B\)", trace)
    assert "read through maps/old.toml (sha256" in trace
    document = json.loads(typed("trace", figure, "--as-of", AS_OF, "--json"))
    assert '"cell": "B4"' in json.dumps(document)
    runs = (tmp_path / "site" / "data" / "runs.csv").read_text()
    assert ",2019,sheets/2019.xlsx/runs,4\n" in runs.replace("\r\n", "\n")

    # 4. Corrected by the name of its cell.
    (tmp_path / "corrections.csv").write_text(
        "table,key,column,was,now,reason,noticed_by,date\n"
        "runs,batch=2019;file=sheets/2019.xlsx;row=4.B,throughput,812,821,digits swapped,A reader,2025-12-01\n"
    )
    typed("correct", "corrections.csv")
    assert "821" in typed("trace", figure, "--as-of", AS_OF)

    # 5. Withdrawn by its id.
    batch_at(
        tmp_path / "later",
        batch_toml("later"),
        {"withdrawals.csv": "what,id,from,reason\nrun,2019/runs/4.B,2025-12-02,a cable was left in\n"},
    )
    typed("enter", "later")
    shown = typed("show", "tessarik-shale-2", "--as-of", AS_OF)
    assert "wrenlet-u2  5 GHz, 80 MHz, download  55 dB" not in shown
    assert "wrenlet-u2  5 GHz, 80 MHz, upload  55 dB: 790 Mbit/s" in shown
    typed("build", "--as-of", AS_OF, "--jobs", "1")
    assert typed("verify").count("\n") <= 2
