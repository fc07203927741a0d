"""Rows that are still to be measured: left out and counted, and held where something has come of them."""

from __future__ import annotations

from catalog.entering import check_batch, enter_batch
from tests.catalog.conftest import NOW, RUN_DEFAULTS

DEFAULTS = RUN_DEFAULTS.replace('when = "2025-05-12 14:00"\n', "")

HEADER = "when,attenuation_db,repeat,Mbit/s,log,outcome\n"
MEASURED = "2025-05-12 10:00,55,1,812,,finished\n"
PLANNED = ",55,2,,logs/02.csv,planned\n,60,1,,logs/03.csv,Planned \n"


def log(seed):
    """Twenty seconds of throughput, as even as such are."""
    return "t_s,seconds,bytes\n" + "".join(f"{t},1,{80_000_000 + (t * 7919 + seed) % 997 * 1000}\n" for t in range(20))


def batch(write_batch, rows, *, name="batch", **files):
    return write_batch(name, runs_csv=HEADER + rows, defaults=DEFAULTS, **files)


def codes(folder):
    return [(problem.code, problem.row, problem.column) for problem in check_batch(folder, catalog=None).problems]


def test_planned_rows_need_nothing_and_are_counted(write_batch, tmp_path):
    folder = batch(write_batch, MEASURED + PLANNED)
    report = check_batch(folder, catalog=None)
    assert (report.problems, report.rows_read, report.rows_planned, report.rows_new) == ((), 1, 2, 1)
    assert report.to_json()["rows_planned"] == 2
    entered = enter_batch(folder, into=tmp_path / "c.db", now=NOW)
    assert (entered.rows_new, entered.rows_planned) == (1, 2)
    again = enter_batch(folder, into=tmp_path / "c.db", now=NOW)
    assert (again.rows_new, again.rows_read, again.rows_planned) == (0, 1, 2)
    assert again.already_entered is not None


def test_a_planned_row_with_a_value_is_held(write_batch):
    assert codes(batch(write_batch, MEASURED + ",55,2,790,,planned\n")) == [("planned-with-log", 3, "Mbit/s")]


def test_a_planned_row_of_a_mix_is_held_for_any_figure_of_it(write_batch):
    for column, value in (("on_time_share", "0.97"), ("p95_ms", "120"), ("ended_at_s", "380")):
        folder = write_batch(
            f"with-{column}",
            runs_csv=HEADER + MEASURED,
            defaults=DEFAULTS,
            stations_csv=f"{column},outcome\n{value},planned\n",
        )
        assert ("planned-with-log", 2, column) in codes(folder)


def test_a_planned_row_whose_log_is_there_is_held(write_batch):
    folder = batch(write_batch, MEASURED + PLANNED)
    (folder / "logs").mkdir()
    (folder / "logs" / "03.csv").write_text(log(3))
    assert codes(folder) == [("planned-with-log", 4, "log")]


def test_a_row_of_the_desk_fills_a_planned_one(write_batch):
    folder = batch(write_batch, MEASURED + PLANNED)
    (folder / "logs").mkdir()
    (folder / "desk").mkdir()
    for name, seed in (("02", 2), ("03", 3)):
        (folder / "logs" / f"{name}.csv").write_text(log(seed))
    desk = "when,attenuation_db,repeat,log\n2025-05-12 10:02,55,2,logs/02.csv\n"
    (folder / "desk" / "runs.csv").write_text(desk)
    assert codes(folder) == [("planned-with-log", 4, "log")]
    # Where the log has another name, by what the row is about.
    (folder / "logs" / "third.csv").write_text(log(4))
    (folder / "desk" / "runs.csv").write_text(desk + "2025-05-12 10:20,60,1,logs/third.csv\n")
    report = check_batch(folder, catalog=None)
    assert (report.problems, report.rows_planned, report.rows_new) == ((), 0, 3)  # nothing is left to be measured


def test_a_planned_row_that_the_desk_fills_is_not_counted_as_still_to_be_measured(write_batch, tmp_path):
    folder = batch(write_batch, MEASURED + PLANNED)
    (folder / "desk").mkdir()
    (folder / "desk" / "runs.csv").write_text("when,attenuation_db,repeat,Mbit/s\n2025-05-12 10:02,55,2,790\n")
    for _ in range(2):  # the second time it is in the catalogue as it lies there
        entered = enter_batch(folder, into=tmp_path / "c.db", now=NOW)
        assert (entered.rows_read, entered.rows_planned) == (2, 1)


def test_the_word_may_be_the_default_and_a_typed_outcome_wins(write_batch):
    rows = HEADER + MEASURED + ",55,2,,,\n"
    folder = write_batch("batch", runs_csv=rows, defaults=DEFAULTS + 'outcome = "planned"\n')
    report = check_batch(folder, catalog=None)
    assert (report.problems, report.rows_planned, report.rows_new) == ((), 1, 1)


def test_a_blank_row_without_the_word_is_still_a_question(write_batch):
    assert ("blank", 3, "Mbit/s") in codes(batch(write_batch, MEASURED + "2025-05-12 10:02,55,2,,,\n"))
