"""Worked story 10: a replaced adapter, and devices that never met the same client, through the command line.

Every expected number was worked by hand in the job analysis. The log spread of .05 of each value is a declared
session spread of 5 %, each value being a session of its own.
"""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from builder.cli import main

STORIES = Path(__file__).parent
PAIR = ("tessarik-porch", "quillmast-sill")


@pytest.fixture
def bench(tmp_path):
    def run(*args):
        result = CliRunner().invoke(main, [*map(str, args), "--catalog", str(tmp_path / "catalog.db")])
        assert result.exit_code == 0, result.output
        return result.stdout

    def entered(*batches):
        for batch in batches:
            run("enter", STORIES / batch)
        return run

    return entered


def links(run, *args):
    return json.loads(run("link", *(args or PAIR), "--json"))["links"]


def test_one_bridge(bench):
    run = bench("10-link")
    (link,) = links(run)
    assert (link["verdict"], link["bridges"], link["window"]) == ("indirect", ["polmerre-low"], "middle")
    assert link["ratio"] == pytest.approx(1.50, abs=1e-9)
    assert link["interval"] == pytest.approx([1.233, 1.825], abs=5e-4)
    assert "Indirect, one bridge" in link["sentence"]
    (other_way,) = links(run, *reversed(PAIR))
    assert other_way["ratio"] == pytest.approx(1 / 1.5)
    assert other_way["interval"] == pytest.approx([1 / 1.825, 1 / 1.233], abs=5e-4)


def test_a_second_bridge_that_agrees(bench):
    (link,) = links(bench("10-link", "10-second-bridge"))
    assert link["by_bridge"]["fjeldrun-alcove"] == pytest.approx(1.5652, abs=5e-5)
    assert link["z"] == pytest.approx(0.43, abs=5e-3)
    assert link["ratio"] == pytest.approx(1.532, abs=5e-4)
    assert link["interval"] == pytest.approx([1.293, 1.816], abs=5e-4)


def test_bridges_that_disagree_are_withheld(bench):
    run = bench("10-link", "10-other-bridge")
    (link,) = links(run)
    assert (link["verdict"], link["code"]) == ("refused", "bridges-disagree")
    assert not {"ratio", "interval", "by_bridge", "figure"} & link.keys()
    text = run("link", *PAIR)
    assert "Bridges disagree; withheld" in text
    assert "z 2.23, above 1.96" in text


def test_a_bridge_at_its_ceiling_links_nothing(bench):
    (link,) = links(bench("10-link", "10-bridge-at-ceiling"))
    assert link["code"] == "link-through-bound"
    assert link["sentence"] == "No link: Low was limited by the client or the lab."
    assert "ratio" not in link


def test_an_indirect_figure_is_in_no_ranking(bench):
    run = bench("10-link")
    for client, devices in (
        ("wrenlet-u2", {"quillmast-sill", "polmerre-low"}),
        ("skarn-r2", {PAIR[0], "polmerre-low"}),
    ):
        ranking = json.loads(run("rank", "--client", client, "--json"))
        assert {r["device"] for r in ranking["ranked"]} == devices


def test_without_a_bridge_it_is_said(bench):
    run = bench("10-replaced-unlike")
    (none,) = links(run)
    assert none["code"] == "nothing-in-common"
    assert none["sentence"].startswith("No link: no device was measured over a whole window")


def test_a_replacement_proven_equal_goes_on_in_the_series(bench):
    (group,) = json.loads(bench("10-replaced-alike")("compare", *PAIR, "--json"))["groups"]
    assert (group["series"], group["difference"]) == ("wrenlet-u2", pytest.approx(100))


def test_one_that_is_not_splits_the_tables(bench):
    run = bench("10-replaced-unlike")
    (group,) = json.loads(run("compare", *PAIR, "--json"))["groups"]
    assert group["code"] == "nothing-in-common"
    ranked = [json.loads(run("rank", "--client", c, "--json"))["ranked"] for c in ("wrenlet-u2", "wrenlet-u2-b")]
    assert [[r["device"] for r in rows] for rows in ranked] == [["quillmast-sill"], ["tessarik-porch"]]
