"""The benchmarks run, at a fiftieth of their size. What they measure is never asserted."""

import subprocess
import sys
from pathlib import Path

BENCHMARK = Path(__file__).parent / "benchmark.py"


def test_benchmarks_run_at_a_fiftieth():
    run = subprocess.run(
        [sys.executable, str(BENCHMARK), "--scale", "0.02"], capture_output=True, text=True, timeout=600, check=False
    )
    assert run.returncode == 0, run.stderr
    for what in (
        "--help",
        "run rows",
        "samples",
        "through a map",
        "public copy",
        "pair verdicts",
        "chooser data",
        "rankings",
        "pages are made of",
        "downloads",
        "full build",
        "a chart drawn",
        "plainly, one by one",
        "byte for byte equal",
        "nothing changed",
        "heaviest page",
        "peak memory",
    ):
        assert what in run.stdout
