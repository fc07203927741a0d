"""What is not documented does not exist: verbs in the README, help for every option, commands that run."""

import textwrap
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.cli.program import SUMMARIES, VERBS

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("verb", sorted(VERBS))
def test_every_verb_is_in_the_readme_and_has_help(verb):
    assert f"`likeloss {verb}" in README
    assert SUMMARIES[verb]
    command = main.get_command(click.Context(main), verb)
    assert command.help
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            described = parameter.help or isinstance(parameter.type, click.Choice)
            assert described, f"{verb} {parameter.name} has no help"


def test_summaries_and_verbs_are_the_same_list():
    assert list(VERBS) == list(SUMMARIES)


def test_readme_opens_with_the_job():
    first = README.split("\n\n")[1]
    assert not first.startswith("#")
    assert 40 <= len(first.split()) <= 160


def test_ci_runs_the_readme_test_command():
    marked = README.split("<!-- test command -->", 1)[1].split("```", 2)[1]
    assert "pytest" in marked


def test_the_first_batch_of_the_readme_works_as_written(tmp_path, monkeypatch):
    """The walk-through's files and commands, taken from the README and run in its order."""
    monkeypatch.chdir(tmp_path)
    section = README.split("## Your first batch in ten minutes", 1)[1].split("\n## ", 1)[0]
    toml, table, commands = (_dedented(block) for block in section.split("```")[1::2])
    (tmp_path / "first").mkdir()
    (tmp_path / "first" / "batch.toml").write_text(toml, encoding="utf-8")
    (tmp_path / "first" / "runs.csv").write_text(table, encoding="utf-8")
    said = {}
    for line in commands.splitlines():
        words = line.split("#", 1)[0].split()
        result = CliRunner().invoke(main, words[1:])
        assert result.exit_code == 0, f"{line}: {result.output}"
        said[words[1]] = result.stdout
    assert "9 new" in said["check"]
    assert "805 Mbit/s" in said["show"]
    assert "1 run did not finish" in said["show"]
    assert "300 Mbit/s held up to 73.3 dB" in said["reach"]  # 621 at 65, 235.5 at 75, by hand
    assert (tmp_path / "site" / "index.html").is_file()


def _dedented(block):
    return textwrap.dedent(block.split("\n", 1)[1])
