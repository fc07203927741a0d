"""The descriptor of the downloads, checked by a validator that is not ours, and the views of the database."""

import hashlib
import json
import re
import sqlite3

import pytest
from frictionless import Package, validate

from builder.publishing.files.datapackage import package_name
from builder.publishing.files.packing import zipped
from builder.publishing.files.views import VIEWS
from tests.downloads import database_of, json_text_of


@pytest.fixture(scope="module", params=["small_site", "demo_site"])
def site(request):
    return request.getfixturevalue(request.param)


def test_public_validator_accepts_it_and_every_table(site):
    # The Frictionless framework reads the files by their dialect and holds each cell against its column's type.
    report = validate(str(site / "data" / "datapackage.json"))
    assert report.valid, report.flatten(["message"])
    assert report.stats["tasks"] == 7 + 3 * (site / "data" / "longruns.csv").exists()


def test_validator_would_find_a_wrong_cell(small_site, tmp_path):
    for path in (small_site / "data").iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    twin = tmp_path / "runs-semicolon.csv.zip"
    assert json_text_of(twin).count(";1;")
    twin.write_bytes(zipped("runs-semicolon.csv", [json_text_of(twin).replace(";1;", ";one;", 1).encode()]))
    assert not validate(str(tmp_path / "datapackage.json")).valid


def test_both_twins_hold_the_same_numbers(small_site):
    package = Package(str(small_site / "data" / "datapackage.json"))
    for name in ("runs", "cells"):
        plain, twin = (
            [row.to_dict() for row in package.get_resource(resource).read_rows()]
            for resource in (f"{name}-csv", f"{name}-semicolon-csv-zip")
        )
        assert plain == twin
        assert len(plain) > 10


def test_files_are_named_with_size_and_hash(site):
    package = json.loads((site / "data" / "datapackage.json").read_text(encoding="utf-8"))
    for resource in package["resources"]:
        content = (site / "data" / resource["path"]).read_bytes()
        assert resource["bytes"] == len(content)
        assert resource["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"
    # Source: Data Package 1, "name": lower case, alphanumeric with ".", "_" and "-".
    for named in (package, *package["resources"]):
        assert re.fullmatch(r"[a-z0-9][a-z0-9._-]*", named["name"])


def test_package_is_named_by_the_words_of_the_title(demo_site):
    package = json.loads((demo_site / "data" / "datapackage.json").read_text(encoding="utf-8"))
    assert (package["name"], package["title"]) == ("kettle-lane-bench", "Results of Kettle Lane Bench")


@pytest.mark.parametrize(
    "title, name",
    [
        ("Kettle Lane Bench", "kettle-lane-bench"),
        ("  Bänke & Regale: 2026!", "banke-regale-2026"),
        ("under_score", "under-score"),
        ("测试台", "likeloss"),
        ("", "likeloss"),
    ],
)
def test_any_title_gives_a_proper_name(title, name):
    assert package_name(title) == name


@pytest.mark.parametrize("name", VIEWS)
def test_view_has_the_columns_that_are_documented(name, small_site, tmp_path):
    with sqlite3.connect(database_of(small_site, tmp_path)) as db:
        found = db.execute(f"SELECT * FROM {name}")
        assert [column[0] for column in found.description] == [column.name for column in VIEWS[name].columns]
        assert found.fetchone() is not None
    text = (small_site / "data" / "index.html").read_text(encoding="utf-8")
    assert f"<strong>{name}</strong>" in text
    for column in VIEWS[name].columns:
        assert column.name in text


def test_views_say_what_the_tables_say(demo_site, tmp_path):
    with sqlite3.connect(database_of(demo_site, tmp_path)) as db:
        assert (
            db.execute("SELECT count(*) FROM view_run").fetchone() == db.execute("SELECT count(*) FROM run").fetchone()
        )
        assert (
            db.execute("SELECT sum(runs) FROM view_device").fetchone()
            == db.execute("SELECT count(*) FROM run").fetchone()
        )
        assert (
            db.execute("SELECT count(*) FROM view_device").fetchone()
            == db.execute("SELECT count(*) FROM device").fetchone()
        )
        # Each epoch ends on the day the next one of its spot and band begins.
        later = db.execute("SELECT count(*) FROM view_spot WHERE valid_until <= valid_from").fetchone()
        moved = db.execute("SELECT count(*) FROM view_spot WHERE valid_until IS NOT NULL").fetchone()
        assert later == (0,)
        assert moved[0] > 0
        measured = db.execute("SELECT DISTINCT attenuation_db FROM view_run WHERE spot IS NOT NULL").fetchall()
        assert set(measured) <= set(db.execute("SELECT attenuation_db FROM epoch").fetchall()) | {(None,)}
