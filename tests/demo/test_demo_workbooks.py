"""The demo's batches as workbooks and as folders are one catalogue, both ways."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, datetime

from catalog.books import export_workbooks
from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import enter_batch
from catalog.exporting import differences, export_batches, verify

NOW = datetime(2026, 7, 1, tzinfo=UTC)  # as the demo was entered


def entered(folder, names, path):
    for name in names:
        if name.endswith("-corrections"):
            with closing(open_catalog(path, readonly=False)) as db:
                (file,) = (folder / name).glob("*.csv")
                correct_file(file, catalog=db, now=NOW)
        else:
            enter_batch(folder / name, into=path, now=NOW)
    return path


def test_the_demo_as_workbooks_and_as_folders_is_one_catalogue(demo_file, demo_plan, tmp_path):
    with closing(open_catalog(demo_file, readonly=True)) as db:
        names, left = export_workbooks(db, tmp_path / "books")
    assert left == []
    batches = [name.partition("-")[2] for name in names if not name.endswith("-corrections")]
    assert batches == demo_plan["order"]
    books = list((tmp_path / "books").rglob("*.xlsx"))
    assert len(books) == len(batches)
    assert not list((tmp_path / "books").rglob("batch.toml"))
    assert {path.parent.name for path in (tmp_path / "books").rglob("*.csv")} <= {"logs", *names}
    from_books = entered(tmp_path / "books", names, tmp_path / "books.db")
    with closing(open_catalog(demo_file, readonly=True)) as db, closing(open_catalog(from_books, readonly=True)) as new:
        assert differences(db, new) == []
        assert verify(new) == []
        assert export_batches(new, tmp_path / "folders") == names
    again = entered(tmp_path / "folders", names, tmp_path / "again.db")
    with closing(open_catalog(demo_file, readonly=True)) as db, closing(open_catalog(again, readonly=True)) as new:
        assert differences(db, new) == []
