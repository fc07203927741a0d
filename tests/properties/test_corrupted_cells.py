"""Any single corrupted cell is named with its row, or it changes nothing but its own row."""

from __future__ import annotations

import csv
import io
import shutil
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from catalog.checking.batches import check
from catalog.reading.batch import read_batch

STORY = Path(__file__).parents[1] / "stories" / "06-dirty-sheet"
HEADER = ["when", "attenuation_db", "repeat", "throughput (Mbit/s)", "firmware", "level_dbm", "note"]
ROWS = [
    [
        f"2025-03-10 14:{place * 3 + rep:02}",
        f"{50 + 10 * place}",
        f"{rep}",
        f"{900.5 - 200 * place + rep}",
        "7.10",
        f"{-40 - 10 * place}",
        "" if rep < 3 else "door open",
    ]
    for place in range(4)
    for rep in (1, 2, 3)
]

ODD = [
    "",
    "0",
    "-1",
    "54",
    "7.1",
    "1.024",
    "1,5",
    "n/a",
    "DNF",
    "nan",
    "1e999",
    "MB/s",
    "112 MB/s",
    "03/04/2025 14:00",
    "2025-03-30 02:30",
    "−54",
    "'",
    '"',
    "=1+1",
    "../x",
    "\u202e",
    "５０",
    "1_000",
    "50 dB",
    "5+6",
]
TYPED = st.one_of(
    st.sampled_from(ODD),
    # Control characters make a file binary: it is refused as a whole, by line (test_tables.py).
    st.text(st.characters(exclude_categories=["Cc", "Cs"], include_characters="\n\t\x85"), max_size=30),
    st.decimals(-2000, 2000, allow_nan=False, places=1).map(str),
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cells") / "batch"
    shutil.copytree(STORY, folder)
    (folder / "march.csv").unlink()
    text = (folder / "batch.toml").read_text()
    (folder / "batch.toml").write_text(
        text.replace("attenuation_db = 70\n", "").replace('when = "2025-03-10 14:00"\n', "")
    )
    return folder


def checked(folder, rows):
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows([HEADER, *rows])
    (folder / "runs.csv").write_bytes(text.getvalue().encode("utf-8", "surrogatepass"))
    return check(read_batch(folder), None)


def by_row(found):
    """What would be stored of each row; numbers given to rows are not what was typed."""
    return {
        row["source_row"]: {name: value for name, value in row.items() if name != "run_id"}
        for row in found.rows.get("run", [])
    }


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, len(ROWS) - 1), st.integers(0, len(HEADER) - 1), TYPED)
def test_a_corrupted_cell_is_named_or_stays_in_its_row(folder, place, column, typed):
    clean = checked(folder, ROWS)
    assert (clean.problems, clean.warnings) == ([], [])
    assert len(by_row(clean)) == len(ROWS)
    corrupted = [list(row) for row in ROWS]
    corrupted[place][column] = typed
    found = checked(folder, corrupted)
    number = place + 2
    named = {problem.row for problem in (*found.problems, *found.warnings) if problem.table == "runs.csv"}
    others = {row: values for row, values in by_row(found).items() if row != number}
    if number not in named:
        assert others == {row: values for row, values in by_row(clean).items() if row != number}
        assert number in by_row(found) or not any(corrupted[place]) or found.repairs["totals row"]
