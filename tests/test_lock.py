"""The locked run-time dependencies are those of pyproject.toml, within its bounds, each with its hashes."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.markers import default_environment
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCK = (ROOT / ".ci" / "requirements.lock").read_text(encoding="utf-8")
# pip's requirements file: a line that ends in "\" goes on, what begins with "#" is a remark.
LINES = [line for line in re.sub(r"\\\n", " ", LOCK).splitlines() if line and not line.lstrip().startswith("#")]


def locked(python: str) -> dict[str, list[str]]:
    """Name -> versions that are installed under *python*, e.g. "3.12"."""
    here = default_environment() | {"python_version": python, "python_full_version": f"{python}.1"}
    versions: dict[str, list[str]] = {}
    for line in LINES:
        wanted = Requirement(line.split(" --hash=")[0])
        if wanted.marker is None or wanted.marker.evaluate(here):
            (pin,) = wanted.specifier
            assert pin.operator == "=="
            versions.setdefault(canonicalize_name(wanted.name), []).append(pin.version)
    return versions


@pytest.mark.parametrize("python", ["3.11", "3.12", "3.13"])
def test_lock_satisfies_the_bounds_with_one_version_each(python):
    versions = locked(python)
    assert {name: several for name, several in versions.items() if len(several) > 1} == {}
    for wanted in map(Requirement, PROJECT["dependencies"]):
        (version,) = versions[canonicalize_name(wanted.name)]
        assert wanted.specifier.contains(version), f"{wanted} is locked at {version}"


def test_every_line_is_a_package_with_its_hashes():
    assert len(LINES) > len(PROJECT["dependencies"])
    pattern = re.compile(r"[a-z0-9-]+==\S+(?: ; .+?)?\s+(?:--hash=sha256:[0-9a-f]{64}\s*)+")
    # Nor does any line name an index: pip's own settings choose that.
    assert [line for line in LINES if not pattern.fullmatch(line)] == []
    assert "://" not in LOCK
