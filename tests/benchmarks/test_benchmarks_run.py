"""The benchmarks run, small and once. What they measure is never asserted."""

import subprocess
import sys
from pathlib import Path

BENCHMARK = Path(__file__).parent / "benchmark.py"


def test_every_row_of_the_benchmarks_runs():
    words = ["--devices", "8", "--share", "0.02", "--pairs", "1", "--brief"]
    run = subprocess.run(
        [sys.executable, str(BENCHMARK), *words], capture_output=True, text=True, timeout=900, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr  # a row that fails is named there
    for what in (
        "likeloss --help",
        "enter logs",
        "logs through a map",
        "enter 10,000 run rows",
        "all pair verdicts",
        "compare A B",
        "full build, nothing kept",
        "beside vl-convert",
        "all pages kept",
        "nothing changed",
        "bytes of the site",
        "heaviest device page",
        "data of the chooser",
        "a chart drawn",
        "preview, an edit",
        "the instant moved",
        "one new run",
        "What the peers leave out",
    ):
        assert what in run.stdout
    assert "byte for byte NOT EQUAL" not in run.stdout
