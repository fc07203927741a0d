"""Imports point one way, style and types are clean: the rules in pyproject.toml, and what they cannot say."""

import subprocess
import sys
from pathlib import Path

import pytest

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


def imported_by(*arguments):
    """The modules that the program imports when it is called with some arguments."""
    program = "from builder.cli import main; main()"
    run = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", program, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    lines = run.stderr.splitlines()
    return {line.rsplit("|", 1)[-1].strip() for line in lines if line.startswith("import time:")}


@pytest.mark.parametrize("verb", [[], ["compare"], ["rank"], ["show"], ["check"], ["export"], ["watch"]])
def test_help_keeps_the_heavy_libraries_out(verb):
    imported = imported_by(*verb, "--help")
    assert "click" in imported
    assert not imported & {"pandas", "scipy", "altair", "numpy", "sqlite_utils", "jinja2"}


@pytest.mark.parametrize(
    ("question", "without"),
    [
        (["compare", "quillmast-sill", "quillmast-vane"], set()),
        (["rank"], set()),
        (["reach", "quillmast-sill", "--at", "300"], set()),
        (["show", "wrenlet-u2"], {"scipy"}),
        (["longrun", "quillmast-sill"], {"scipy"}),
        (["coverage", "quillmast-sill", "--like", "quillmast-vane"], {"scipy"}),
        (["trace", "loss~house-a~S1~5~2025-01-01"], {"scipy"}),
    ],
    ids=lambda value: value[0] if isinstance(value, list) else None,
)
def test_questions_keep_them_out_where_they_are_not_needed(question, without, small_file):
    imported = imported_by(*question, "--catalog", str(small_file))
    assert "sqlite_utils" in imported
    assert not imported & (
        {"pandas", "altair", "jinja2", "vl_convert", "openpyxl", "numpy.f2py.crackfortran"} | without
    )


def test_who_serves_a_watch_reads_no_log_and_no_catalogue():
    """While nothing happens it is all that is in memory; what reads is a process of its own."""
    program = "import sys, builder.watching.serving; print(*sys.modules)"
    run = subprocess.run([sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=True)
    assert not set(run.stdout.split()) & {"numpy", "pandas", "scipy", "sqlite_utils", "altair", "builder.bench.bench"}


def test_what_was_left_out_can_still_be_imported():
    program = (
        "from catalog.light_imports import import_lightly as lightly; lightly(); import sys, numpy as np; "
        "assert 'sqlite_utils' in sys.modules and 'pandas' not in sys.modules; from scipy.special import stdtrit; "
        "assert 'numpy.f2py.crackfortran' not in sys.modules; import pandas; pandas.DataFrame(); lightly(); "
        "np.testing.assert_equal(np.polynomial.Polynomial([1, 2])(3), 7); from numpy.f2py import crackfortran"
    )
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True)


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
