"""Every column of a measured table tells rows apart or is compared: a value typed twice, differently, is never skipped."""

import pytest

from catalog.checking.idempotence import IDENTITIES
from catalog.connection import create_catalog

# What a row says beside its measurement, and how it came in: another of these is not another value.
ORIGIN = {"batch_id", "source_file", "source_row"}
BESIDE = {
    "run": {"at_typed", "throughput_typed", "log_path", "note", "epoch_id"},
    "station": {"at_typed", "log_path", "note"},
    "longrun": {"at_typed", "log_path", "note"},
    "bridge": {"at_typed", "note"},
}


class Asked(dict):
    """A row that notes which of its columns are asked for."""

    def __init__(self, columns, values):
        super().__init__(values)
        self.asked = set()
        self.columns = columns

    def __getitem__(self, name):
        assert name in self.columns, name
        self.asked.add(name)
        return self.get(name)


def told_apart(table, columns, **values):
    row = Asked(columns, values)
    IDENTITIES[table].key(row)
    return row.asked


@pytest.mark.parametrize("table", IDENTITIES)
def test_no_column_is_left_out(table):
    columns = create_catalog(None).table(table).columns_dict.keys()
    numbers = {f"{table}_id"}
    key = told_apart(table, columns)
    if table == "run":  # its key depends on how the place is given
        key |= told_apart(table, columns, spot="S1") | told_apart(table, columns, attenuation_db=60.0)
    compared = set(IDENTITIES[table].values)
    assert compared <= columns
    assert columns - key - compared == (ORIGIN | numbers | BESIDE.get(table, set())) & columns
