"""Two checkouts in two places, in other moods of the machine, build the same bytes."""

import os
import shutil
import subprocess
import sys

from tests.faults.killing import ROOT, contents

BUILD = "from builder.cli import main; main()"


def test_two_checkouts_build_the_same_bytes(original, tmp_path):
    sites = []
    for number, (place, mood) in enumerate(
        [
            ("here", {"TZ": "Europe/Berlin", "LC_ALL": "C.UTF-8", "PYTHONHASHSEED": "1"}),
            ("quite another place", {"TZ": "Pacific/Chatham", "LC_ALL": "C", "PYTHONHASHSEED": "2"}),
        ]
    ):
        checkout = tmp_path / place
        checkout.mkdir()
        for part in ("builder", "catalog", "site_templates", "data"):
            shutil.copytree(ROOT / part, checkout / part, ignore=shutil.ignore_patterns("__pycache__"))
        catalog = checkout / f"catalog-{number}.db"
        shutil.copy(original, catalog)
        site = checkout / "public"
        arguments = ["publish", site, "--catalog", catalog, "--as-of", "2026-06-30T12:00:00Z", "--jobs", number + 1]
        environment = os.environ | {"PYTHONPATH": str(checkout), "XDG_CACHE_HOME": str(checkout / "cache")} | mood
        ended = subprocess.run(
            [sys.executable, "-c", BUILD, *map(str, arguments)],
            cwd=checkout,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode == 0, ended.stderr
        sites.append(contents(site))
    assert sites[0].keys() == sites[1].keys()
    assert [name for name in sites[0] if sites[0][name] != sites[1][name]] == []
