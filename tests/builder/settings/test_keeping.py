"""Settings through dumps, exports, undoing and a whole site of a device that was never tested as always."""

from __future__ import annotations

import io
from contextlib import closing

import pytest

from catalog.connection import open_catalog
from catalog.entering import enter_batch, undo_batch
from catalog.errors import InputRefused
from catalog.exporting import dump, export_batches, load, verify
from tests.batches import batch_toml
from tests.builder.settings.conftest import DAY, NOW, batch, entered, run_rows
from tests.builder.settings.test_site import CUPOLA, published, text_of
from tests.builder.settings.test_verbs import HEAT, POWER


def dumped(path):
    out = io.BytesIO()
    with closing(open_catalog(path, readonly=True)) as db:
        assert verify(db) == []
        dump(db, out)
    return out.getvalue()


def test_a_dump_loads_byte_for_byte_and_an_export_enters_the_same(tmp_path):
    path = entered(batch(tmp_path / "batch", heat=HEAT, power=POWER), tmp_path / "catalog.db")
    text = dumped(path)
    load(io.BytesIO(text), tmp_path / "loaded.db")
    assert dumped(tmp_path / "loaded.db") == text
    with closing(open_catalog(path, readonly=True)) as db:
        (name,) = export_batches(db, tmp_path / "exported")
    entered(tmp_path / "exported" / name, tmp_path / "again.db")
    assert dumped(tmp_path / "again.db") == text


def later(settings):
    """A second batch: a repeat under settings of its own or of the first batch."""
    toml = batch_toml(
        "second",
        settings=settings,
        defaults={"runs": {"firmware": "1.0", "client": "lap", "session": DAY, "width_mhz": 160, "direction": "down"}},
    )
    row = f"{DAY} 18:00,{CUPOLA},5,low,S3,4,1044\n"
    return toml, run_rows({}).splitlines()[0] + "\n" + row


def test_settings_that_came_again_stay_when_the_first_batch_could_not_go(tmp_path):
    path = entered(batch(tmp_path / "batch"), tmp_path / "catalog.db")
    toml, runs = later([{"id": "low", "title": "Low power", "power": "low"}])
    folder = batch(tmp_path / "second", toml, runs=runs)
    (folder / "spots.csv").unlink()
    assert enter_batch(folder, into=path, now=NOW).rows_new == 1
    with closing(open_catalog(path, readonly=False)) as db:
        assert db.execute("SELECT count(*) FROM settings").fetchone() == (4,)
        with pytest.raises(InputRefused, match="second"):
            undo_batch("2026-03-cupola", catalog=db)
        undo_batch("second", catalog=db)
        assert db.execute("SELECT settings_id, number FROM settings ORDER BY number").fetchall() == [
            ("links-on", 1),
            ("links-off", 2),
            ("one-link", 3),
            ("low", 4),
        ]


def test_a_site_of_a_device_that_was_only_tested_under_settings(tmp_path, chart_cache):
    rows = run_rows({(CUPOLA, "5", "low"): (1040, 728, 400), ("quillmast-sill", "5", ""): (1180, 830, 450)})
    rows = rows.replace(",400\n", ",did not finish\n")
    path = entered(batch(tmp_path / "batch", runs=rows), tmp_path / "catalog.db")
    published(path, tmp_path / "site", chart_cache)
    page = text_of(tmp_path / "site" / "devices" / CUPOLA / "index.html")
    assert "Tested 1 March 2026" in page
    assert "Low power: 2 streams, 5 GHz, 160 MHz, download (Lap): 3 places Power low." in page
    assert "S3 1040 60 dB not measured" in page
    assert (tmp_path / "site" / "repeat" / CUPOLA / "index.html").is_file()
    assert "Lap alone at S5 with low power" in text_of(tmp_path / "site" / "collapses" / "index.html")
    assert not list((tmp_path / "site" / "pairs").glob("*/index.html"))
