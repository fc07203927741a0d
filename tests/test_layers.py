"""Imports point one way, style and types are clean: the rules in pyproject.toml, and what they cannot say."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "catalog",
    "builder",
    "site_templates",
    "tests",
    "data",
}


def test_import_contracts_hold():
    run = subprocess.run(
        [
            sys.executable,
            "-c",
            "from importlinter.cli import lint_imports_command; lint_imports_command()",
            "--no-cache",
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr


def test_style_and_types_are_clean():
    for command in (["ruff", "check", "."], ["ruff", "format", "--check", "."], ["mypy"]):
        run = subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)
        assert run.returncode == 0, run.stdout + run.stderr


def test_help_keeps_the_heavy_libraries_out():
    program = "import sys; sys.argv = ['likeloss', '--help']; from builder.cli import main; main()"
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", program], cwd=ROOT, capture_output=True, text=True, check=True
    )
    imported = {line.rsplit("|", 1)[-1].strip() for line in run.stderr.splitlines() if line.startswith("import time:")}
    assert "click" in imported
    assert not imported & {"pandas", "scipy", "altair", "numpy", "sqlite_utils", "jinja2"}


def test_top_level_holds_only_what_was_agreed():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:  # a source archive without its history
        return
    tops = {line.split("/", 1)[0] for line in listed.stdout.splitlines()}
    assert {t for t in tops if not t.startswith(".")} <= TOP_LEVEL


def test_modules_stay_readable():
    """Split at about 400 lines; nothing is called utils, helpers, common or base."""
    for path in [*ROOT.glob("catalog/**/*.py"), *ROOT.glob("builder/**/*.py")]:
        assert path.stem not in {"utils", "helpers", "common", "base", "misc"}, path
        lines = len(path.read_text(encoding="utf-8").splitlines())
        # A table a module long is read, not understood: the schema may be longer.
        assert lines <= 400 or path.name == "schema.py", f"{path}: {lines} lines"
