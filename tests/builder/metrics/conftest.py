"""The tables of tests/published, row by row."""

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

PUBLISHED = Path(__file__).parents[2] / "published"


@pytest.fixture(scope="session")
def published() -> Callable[[str], list[dict[str, str]]]:
    """Rows of a published table by its stem; an empty table fails here, not silently in a loop."""

    def rows(stem: str) -> list[dict[str, str]]:
        with (PUBLISHED / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
            found = list(csv.DictReader(file))
        assert found, stem
        return found

    return rows
