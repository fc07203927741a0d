"""Times and memory of reading logs, each in a process of its own, where the peak of one does not hide another's."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

ROOT = Path(__file__).parents[2]
_THROUGHPUT = """kind = "throughput"
format = "{}"
[column.t_s]
from = "{}t"
unit = "ms"
[column.rate]
from = "{}kbit"
unit = "kbit/s"
"""
_REQUESTS = """kind = "requests"
format = "csv"
[column.start]
from = "begin"
[column.ms]
from = "took"
failed = ["lost"]
"""
FORMS = {  # name: heading, row, map, budget in M rows/s
    "plain": ("t_s,mbit_s", "{s:.1f},{rate:.3f}", "", 3),
    "csv through a map": ("t,link,kbit", "{ms},a,{rate:.1f}", _THROUGHPUT.format("csv", "", ""), 1.5),
    "decimal commas through a map": ("t;kbit", "{ms};{comma}", _THROUGHPUT.format("csv", "", ""), 1.5),
    "written times and words": ("begin,took", "{at},{took}", _REQUESTS, None),
    "JSON lines through a map": (
        "",
        '{{"t": {ms}, "link": {{"kbit": {rate:.1f}}}}}',
        _THROUGHPUT.format("jsonl", "$.", "$.link."),
        0.5,
    ),
    "a JSON document through a map": (
        '{"about": "a log", "samples": [',
        '{{"t": {ms}, "link": {{"kbit": {rate:.1f}}}}}',
        'rows = "$.samples[*]"\n' + _THROUGHPUT.format("json", "$.", "$.link."),
        None,
    ),
}


def read(folder: Path, form: str, rows: int) -> dict[str, float]:
    """Write a log of that form and read it, in a process of its own, as `_one` says."""
    import numpy as np

    folder.mkdir(parents=True, exist_ok=True)
    rates = np.random.default_rng(7).normal(5e5, 5e4, rows).tolist()
    day = datetime(2025, 5, 12, 8, tzinfo=UTC)
    heading, row, plan, _ = FORMS[form]
    log, map_file = folder / "log", folder / "map.toml"
    with log.open("w", encoding="utf-8") as file:
        file.write(heading + "\n" if heading else "")
        end = "," if heading.startswith("{") else ""
        for n, rate in enumerate(rates):
            typed = {"s": n / 10, "ms": n * 100, "rate": rate, "comma": f"{rate:.1f}".replace(".", ",")}
            if "{at}" in row:
                typed |= {"at": (day + timedelta(seconds=n / 10)).isoformat()}
                typed |= {"took": "lost" if n % 50 == 0 else f"{rate / 1e4:.3f}"}
            file.write(row.format(**typed) + end + "\n")
        file.write('{"t": 1e9}]}' if end else "")
    map_file.write_text(plan, encoding="utf-8")
    command = [sys.executable, __file__, str(log), str(map_file)]
    done = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
    took: dict[str, float] = json.loads(done.stdout)
    return took


def _one(log: Path, plan: Path) -> dict[str, float]:
    """Processor time of reading a log, of splitting it into lines and cells, and how far the peak of memory grew."""
    import pandas as pd

    from catalog.digesting.logs import Log
    from catalog.reading.mapped_logs import read_mapped_log
    from catalog.reading.maps import ReadingMap, read_map
    from catalog.reading.plainlogs import read_plain_log

    pd.to_numeric(pd.Series(["1"]))
    content = log.read_bytes()
    mapped = read_map("plan", plan.read_bytes()) if plan.stat().st_size else None
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun, at = time.process_time(), time.perf_counter()
    if isinstance(mapped, ReadingMap):
        result = read_mapped_log("log", content, mapped, instant=datetime.fromisoformat)
    else:
        result = read_plain_log("log", content, instant=datetime.fromisoformat)
    seconds, clock = time.process_time() - begun, time.perf_counter() - at
    assert isinstance(result, Log), result[0]
    grew = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    begun = time.process_time()
    for line in content.splitlines():
        line.split(b",")
    return {"seconds": seconds, "clock": clock, "bytes": grew * 1024, "beside": time.process_time() - begun}


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    print(json.dumps(_one(Path(sys.argv[1]), Path(sys.argv[2]))))  # noqa: T201
