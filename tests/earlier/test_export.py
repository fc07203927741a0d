"""What was exported once enters for good: no question that came later stops it, and no row is lost."""

from contextlib import closing
from datetime import UTC, datetime

import pandas as pd
import pytest

from catalog.connection import open_catalog
from catalog.correcting import correct_file
from catalog.entering import check_batch, enter_batch
from catalog.exporting import verify
from tests.earlier.unpacking import demo_export

NOW = datetime(2026, 12, 1, tzinfo=UTC)
# Files of a batch -> the table that has a row for each of theirs.
TABLES = {
    "runs": "run",
    "longruns": "longrun",
    "stations": "station",
    "prices": "price",
    "features": "feature",
    "power": "power",
    "heat": "heat",
    "parts": "part",
}


@pytest.fixture(scope="module")
def folders(tmp_path_factory):
    return demo_export(tmp_path_factory.mktemp("export"))


@pytest.fixture(scope="module")
def entered(folders, tmp_path_factory):
    """The catalogue of the export, and what every batch was asked on its way."""
    path = tmp_path_factory.mktemp("entered") / "catalog.db"
    asked: dict[str, list[str]] = {}
    for folder in folders:
        if folder.name.endswith("-corrections"):
            (file,) = folder.glob("*.csv")
            with closing(open_catalog(path, readonly=False)) as db:
                correct_file(file, catalog=db, now=NOW)
            continue
        if path.exists():
            with closing(open_catalog(path, readonly=True)) as db:
                asked[folder.name] = [problem.code for problem in check_batch(folder, catalog=db).problems]
        else:
            asked[folder.name] = [problem.code for problem in check_batch(folder, catalog=None).problems]
        enter_batch(folder, into=path, now=NOW)
    return path, asked


def test_nothing_is_asked_and_no_answer_was_packed(folders, entered):
    _, asked = entered
    assert len(asked) == 20
    assert {name: codes for name, codes in asked.items() if codes} == {}
    assert [path for folder in folders for path in folder.rglob("answers.toml")] == []


@pytest.mark.parametrize("name", TABLES)
def test_every_row_is_there_again(name, folders, entered):
    path, _ = entered
    files = [file for folder in folders for file in folder.rglob(f"{name}.csv")]
    rows = sum(len(pd.read_csv(file, dtype=str, keep_default_na=False)) for file in files)
    with closing(open_catalog(path, readonly=True)) as db:
        assert db[TABLES[name]].count == rows > 0


def test_the_catalogue_is_sound(entered):
    path, _ = entered
    with closing(open_catalog(path, readonly=True)) as db:
        assert verify(db) == []
