"""Minutes that a bench declares: checked, kept in its own file, the later batch over the earlier."""

from contextlib import closing

from catalog.beginning.declared_minutes import declared_minutes
from catalog.books.exporting import export_workbooks
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.exporting import export_batches
from tests.catalog.conftest import NOW

RUNS = "attenuation_db,repeat,Mbit/s\n55,1,812\n"


def test_a_later_batch_counts_and_an_export_keeps_it(write_batch, tmp_path):
    path = tmp_path / "c.db"
    enter_batch(write_batch(runs_csv=RUNS, more="\n[bench]\nrun_minutes = 3\nspot_minutes = 4.5\n"), into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        assert declared_minutes(db) == {"run_minutes": 3.0, "spot_minutes": 4.5}
    later = tmp_path / "later"
    later.mkdir()
    (later / "batch.toml").write_text(
        'format = 1\nid = "later"\ntitle = "Later"\nlicence = "CC-BY-4.0"\n[bench]\nrun_minutes = 2\n'
    )
    enter_batch(later, into=path, now=NOW)
    with closing(open_catalog(path, readonly=True)) as db:
        assert declared_minutes(db) == {"run_minutes": 2.0, "spot_minutes": 4.5}
        export_batches(db, tmp_path / "folders")
        export_workbooks(db, tmp_path / "books")
    for kind in ("folders", "books"):
        again = tmp_path / f"{kind}.db"
        for place in sorted((tmp_path / kind).iterdir(), key=lambda one: one.name):
            books = list(place.glob("*.xlsx"))
            enter_batch(books[0] if kind == "books" and books else place, into=again, now=NOW)
        with closing(open_catalog(again, readonly=True)) as db:
            assert declared_minutes(db) == {"run_minutes": 2.0, "spot_minutes": 4.5}, kind


def test_what_is_no_time_is_refused(write_batch):
    folder = write_batch(runs_csv=RUNS, more='\n[bench]\nrun_minutes = "two"\nspot_minutes = -1\nwalk = 3\n')
    assert {problem.column for problem in check_batch(folder, catalog=None).problems} == {
        "run_minutes",
        "spot_minutes",
        "walk",
    }
