"""What is not documented does not exist: verbs in the README, help for every option, commands that run."""

from pathlib import Path

import click
import pytest

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
