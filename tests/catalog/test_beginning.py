"""Plans and coverage: what there is to measure, and how far the tests have come (E25)."""

import csv
import io
from datetime import UTC, date, datetime
from itertools import product

import pytest

from catalog.beginning import begin_batch, coverage, planned_cells
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch
from catalog.errors import InputRefused, UnknownName
from tests.batches import batch_at, batch_toml, client, device, radios, session, things

NOW = datetime(2025, 5, 20, tzinfo=UTC)
BANDS = (("2.4", 20, -30), ("5", 80, -40))
SPOTS = ("S1", "S2", "S3", "S4")


def bench(batch_id, name, *, returned=None, **others):
    """batch.toml of a device without a radio, and of a day on which it was tested."""
    unit = {"id": "A", "origin": "loaned"} | ({"returned": returned} if returned else {})
    return batch_toml(
        batch_id,
        device=[device(name, **{"radio": [], "unit": [unit], **others})],
        session=[session(batch_id, "2025-05-12", house="home")],
        defaults={"runs": {"device": name, "firmware": "1.0", "session": batch_id}},
    )


REGISTERS = things(
    house=[{"id": "home", "name": "Home", "reference_device": "reference"}],
    client=[client("u2", radio=radios(2, 80)), client("r4", radio=radios(4, 80))],
)


def write(folder, toml, runs, spots=()):
    files = {}
    for name, rows in (("runs", runs), ("spots", spots)):
        if rows:
            out = io.StringIO()
            csv.writer(out).writerows(rows)
            files[f"{name}.csv"] = out.getvalue()
    return batch_at(folder, toml, files)


HEADER = ("when", "client", "band", "width_mhz", "direction", "spot", "repeat", "throughput_mbit_s", "outcome")


def rows(take, repeats=3, outcome=""):
    found = [HEADER]
    minute = 0
    for setup, (band, width, _), direction, spot in product(("u2", "r4"), BANDS, ("down", "up"), SPOTS):
        if not take(setup, band, direction, spot):
            continue
        for repeat in range(1, repeats + 1):
            at = f"2025-05-12 {8 + minute // 60:02}:{minute % 60:02}"
            value = "" if outcome else str(100 + 10 * repeat + 5 * SPOTS.index(spot))
            found.append((at, setup, band, width, direction, spot, repeat, value, outcome))
            minute += 1
    return found


@pytest.fixture
def catalog(tmp_path):
    spots = [("house", "spot", "band", "valid_from", "reference_eirp_dbm", "reading_dbm")]
    spots += [
        ("home", spot, band, "2025-01-01", 20, level - 5 * SPOTS.index(spot) - reading % 2)
        for (band, _, level), spot, reading in product(BANDS, SPOTS, range(5))
    ]
    path = tmp_path / "catalog.db"
    folder = write(tmp_path / "b1", bench("first", "reference") + REGISTERS, rows(lambda *_: True), spots)
    enter_batch(folder, into=path, now=NOW)
    return path


def test_two_clients_two_bands_two_directions_four_spots_three_repeats_give_96_rows(catalog, tmp_path):
    # Source: job.md E25.
    db = open_catalog(catalog, readonly=True)
    assert len(planned_cells(db, "reference")) == 32
    _, planned = begin_batch(tmp_path / "new", catalog=db, like=None, plan=True, today=date(2025, 5, 20))
    assert planned == 96
    with (tmp_path / "new" / "runs.csv").open(newline="") as table:
        sheet = list(csv.DictReader(table))
    assert len(sheet) == 96
    assert {(r["client"], r["band"], r["direction"], r["spot"]) for r in sheet} == set(
        product(("u2", "r4"), ("2.4", "5"), ("down", "up"), SPOTS)
    )
    report = check_batch(tmp_path / "new", catalog=db)
    assert (report.problems, report.rows_read, report.rows_planned) == ((), 0, 96)
    assert {row["outcome"] for row in sheet} == {"planned"}
    assert len({row["log"] for row in sheet}) == 96


def test_coverage_is_whole_only_when_each_cell_has_a_value_or_a_reason(catalog, tmp_path):
    write(
        tmp_path / "b2",
        bench("second", "alcove", returned=date(2025, 6, 1)),
        rows(lambda client, band, direction, spot: client == "u2"),
    )
    enter_batch(tmp_path / "b2", into=catalog, now=NOW)
    write(
        tmp_path / "b3",
        bench("third", "alcove", returned=date(2025, 6, 1)),
        rows(lambda c, b, d, s: c == "r4" and b == "5" and s != "S4", repeats=1, outcome="not possible"),
    )
    enter_batch(tmp_path / "b3", into=catalog, now=NOW)
    found = coverage(open_catalog(catalog, readonly=True), "alcove", today=date(2025, 5, 20))
    assert found.like == "reference"
    assert found.counts == {"done": 16, "fewer repeats": 0, "did not finish": 0, "not possible": 6, "missing": 10}
    assert found.share == pytest.approx(22 / 32)
    assert found.days_left == {"A": 12}
    whole = coverage(open_catalog(catalog, readonly=True), "reference", today=date(2025, 5, 20))
    assert whole.share == 1.0


def test_a_device_without_the_radio_has_no_cell_there(catalog, tmp_path):
    toml = bench("second", "alcove", radio=radios(2))
    enter_batch(write(tmp_path / "b2", toml, []), into=catalog, now=NOW)
    found = coverage(open_catalog(catalog, readonly=True), "alcove", today=date(2025, 5, 20))
    assert {c.cell.band for c in found.cells} == {"5"}
    assert found.counts["missing"] == 16


def test_unknown_devices_are_named(catalog):
    with pytest.raises(UnknownName, match="Nearest: reference"):
        coverage(open_catalog(catalog, readonly=True), "referense", today=date(2025, 5, 20))


def test_a_new_batch_never_goes_into_a_folder_that_holds_something(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "note.txt").write_text("keep")
    with pytest.raises(InputRefused, match="holds something"):
        begin_batch(tmp_path / "mine", catalog=None, like=None, plan=False, today=date(2025, 5, 20))
    with pytest.raises(InputRefused, match="no catalogue yet"):
        begin_batch(tmp_path / "new", catalog=None, like=None, plan=True, today=date(2025, 5, 20))
    assert not (tmp_path / "new").exists()


def test_the_skeleton_of_a_first_batch_is_sound(tmp_path):
    begin_batch(tmp_path / "first-bench", catalog=None, like=None, plan=False, today=date(2025, 5, 20))
    report = check_batch(tmp_path / "first-bench", catalog=None)
    assert not report.problems
    assert not report.repairs
    enter_batch(tmp_path / "first-bench", into=tmp_path / "catalog.db", now=NOW)


def test_the_radios_of_the_device_to_be_like_are_taken_over(catalog, tmp_path):
    toml = bench("second", "alcove", radio=radios(3))
    enter_batch(write(tmp_path / "b2", toml, []), into=catalog, now=NOW)
    db = open_catalog(catalog, readonly=True)
    begin_batch(tmp_path / "next", catalog=db, like="alcove", plan=False, today=date(2025, 5, 20))
    assert "streams = 3" in (tmp_path / "next" / "batch.toml").read_text()
    assert not check_batch(tmp_path / "next", catalog=db).problems


def test_the_roles_of_a_skeleton_are_sound_once_they_are_taken_up(tmp_path):
    begin_batch(tmp_path / "new", catalog=None, like=None, plan=False, today=date(2025, 5, 20))
    toml = tmp_path / "new" / "batch.toml"
    text = toml.read_text(encoding="utf-8")
    example = text[text.index("# [[role]]") :].split("\n\n", 1)[0]
    taken_up = text.replace(example, "\n".join(line.removeprefix("# ") for line in example.splitlines()))
    toml.write_text(taken_up, encoding="utf-8")
    report = check_batch(tmp_path / "new", catalog=None)
    assert report.problems == ()
    assert report.batch
