"""The grammar of bindings, and that all of it is told to authors."""

import re
from pathlib import Path

import pytest

from builder.articles.bindings import CONDITIONS, KINDS, NotBound, read_binding

README = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")


def test_every_part_of_a_binding():
    binding = read_binding(
        'claim a/B@1.0 leads c ,\n band 5 GHz, width "80 MHz", spot "S3, left" : no: it leads', line=7
    )
    assert (binding.kind, binding.subjects, binding.link, binding.line) == ("claim", ("a/B@1.0", "c"), "leads", 7)
    assert binding.options == {"band": "5", "width": "80", "spot": "S3, left"}
    assert binding.words == "no: it leads"
    assert binding.typed == '(= claim a/B@1.0 leads c , band 5 GHz, width "80 MHz", spot "S3, left" : no: it leads =)'


def test_a_frozen_value_may_hold_commas_and_colons():
    binding = read_binding('value a, at 60, frozen "1:2, or 700 Mbit/s" 2025-06-10', line=1)
    assert binding.frozen == ("1:2, or 700 Mbit/s", "2025-06-10")
    assert "frozen" not in binding.options


def test_options_may_follow_at_once_where_there_is_no_subject():
    assert read_binding("under band 5, width 80", line=1).options == {"band": "5", "width": "80"}
    assert read_binding("ranking window far", line=1).options == {"window": "far"}


@pytest.mark.parametrize("typed", ["value a : words", "difference a b : x", "under band 5 : x"])
def test_only_claims_and_figures_have_words(typed):
    with pytest.raises(NotBound, match="takes no words"):
        read_binding(typed, line=1)


def test_the_readme_tells_every_kind_and_name():
    told = README.split("## Writing articles", 1)[1].split("\n## ", 1)[0]
    before, fenced, after = told.split("```")
    code = set(re.findall(r"[a-z]+", " ".join(re.findall(r"`[^`]+`", before + after)) + fenced))
    assert set(KINDS) | set(CONDITIONS) | {name for kind in KINDS.values() for name in kind.names} <= code


def test_the_bindings_of_the_readme_can_be_read():
    told = README.split("## Writing articles", 1)[1].split("\n## ", 1)[0]
    found = re.findall(r"\(= (.*?) =\)", told, flags=re.DOTALL)
    assert len(found) > 8
    for typed in found:
        read_binding(typed, line=1)
