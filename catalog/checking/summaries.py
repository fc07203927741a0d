"""Rows that are summaries of runs: how many, of what spread, mean or median, and nothing that only one run has."""

from __future__ import annotations

from catalog.checking.known import Row
from catalog.checking.rows import TypedRow, TypedTable
from catalog.checking.troubles import Trouble

STATISTICS = ("mean", "median")


def summary_of(table: TypedTable, row: TypedRow, value: float | None) -> Row:
    """of_runs, spread_mbit_s and statistic of a run, all None for a single one; a summary is its cell's only row.

    value  its throughput [Mbit/s]
    """
    runs, spread, statistic = (row.values[name] for name in ("of_runs", "spread", "statistic"))
    if runs is None:
        if "of_runs" not in row.typed:
            _hold_without_number(table, row)
        return {"repeat": row.values["repeat"], "of_runs": None, "spread_mbit_s": None, "statistic": None}
    if "repeat" in table.file_columns and row.values["repeat"] is not None:
        numbered = Trouble(
            f"The row is a summary of {runs} runs and has a repeat, {row.values['repeat']}: a summary is all there is "
            "of its cell.",
            "Leave its repeat empty, or of_runs where the row is one run.",
            "summary-and-repeat",
        )
        table.hold(row, "repeat", numbered)
    if row.values["log"] is not None:
        logged = Trouble(
            f"The row is a summary of {runs} runs and names a log, which is of one run.",
            "Give each run with a log a row of its own, or leave the log out.",
            "summary-and-log",
        )
        table.hold(row, "log", logged)
    elif value is None and "throughput" not in row.typed and row.values["outcome"] is not None:
        nothing = Trouble(
            f"A summary of {runs} runs has no throughput.",
            "Write it; runs that did not finish are rows of their own.",
            "missing",
        )
        table.hold(row, "throughput", nothing)
    if statistic is None and "statistic" not in row.typed:
        question = Trouble(
            f"Is the throughput the mean or the median of the {runs} runs?",
            'Fill in statistic, or write it once: statistic = "mean" under [defaults.runs].',
            "mean-or-median",
        )
        statistic = table.ask(row, "statistic", question, options=STATISTICS)
    if spread is not None and value is not None and spread > value:
        wide = Trouble(
            f"The spread, {spread:g} Mbit/s, is larger than the {statistic or 'throughput'}, {value:g} Mbit/s.",
            "Correct one of them: the spread is one standard deviation, in the unit of the throughput.",
            "spread-above-mean",
        )
        table.hold(row, "spread", wide)
    return {"repeat": 1, "of_runs": runs, "spread_mbit_s": spread, "statistic": statistic}


def _hold_without_number(table: TypedTable, row: TypedRow) -> None:
    for name in ("spread", "statistic"):
        if row.values[name] is not None and name in table.file_columns:
            alone = Trouble(
                f"The row has a {name}, but does not say of how many runs.",
                f"Fill in of_runs, or leave {name} empty for a single run.",
                "summary-without-number",
            )
            table.hold(row, name, alone)
            return
