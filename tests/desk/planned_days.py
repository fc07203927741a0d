"""Batches as `plan --write` makes them, all of one day: sentences and times of the tests name it."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from builder.cli import main, planning


class Day(date):
    """A calendar that stands still."""

    @classmethod
    def today(cls) -> date:
        return date(2026, 11, 30)


def write_plan(words: Sequence[str], batch: Path, catalog: Path, *more: str) -> Result:
    """What the words of `plan` ask for, written to *batch*."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning, "date", Day)
        result = CliRunner().invoke(main, [*words, str(batch), "--catalog", str(catalog), *more])
    assert result.exit_code == 0, result.output
    return result
