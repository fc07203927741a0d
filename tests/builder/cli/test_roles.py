"""`likeloss roles`: a device with several clients at once, against others."""

import json
from datetime import UTC, datetime

import pytest
from click.testing import CliRunner

from builder.cli import main
from catalog.entering import enter_batch
from tests.builder.busy_batch import evening


@pytest.fixture(scope="module")
def ask(tmp_path_factory):
    """ask(*arguments) -> what `roles` prints for a device of the evening."""
    folder = tmp_path_factory.mktemp("roles")
    enter_batch(evening(folder), into=folder / "catalog.db", now=datetime(2025, 9, 1, tzinfo=UTC))

    def asked(*arguments, exit_code=0):
        result = CliRunner().invoke(main, ["roles", *arguments, "--catalog", str(folder / "catalog.db")])
        assert result.exit_code == exit_code, result.output
        return json.loads(result.stdout) if "--json" in arguments else result.output

    return asked


def test_every_other_device_that_did_it_is_compared(ask):
    compared = ask("alder-one", "--json")["compared"]
    assert [(c["with"]["device"], c["arrangement"], c["code"]) for c in compared] == [
        ("birch-two", "alike", None),
        ("cedar-three", "one-seat-replaced", "one-seat-replaced"),
        ("doum-four", "company-differs", "company-differs"),
    ]
    birch = compared[0]
    assert birch["with"] == {"device": "birch-two", "firmware": "1.0", "current": False, "mixes": ["b1"]}
    roles = {role["role"]: role for role in birch["roles"]}
    # Typed: 300 of 300 films against 200 of 300, which version 2 calls a movie.
    assert (roles["film"]["share"], roles["film"]["share_other"]) == (1.0, pytest.approx(2 / 3))
    assert roles["film"]["difference"] == pytest.approx(1 / 3)
    assert roles["film"]["interval"][0] > 0
    assert {name: role["verdict"] for name, role in roles.items()} == {"film": "separated", "call": "not-separated"}


def test_only_the_one_that_is_asked_for(ask):
    for other in ("birch-two", "birch-two@1.0"):
        (one,) = ask("alder-one", "--against", other, "--json")["compared"]
        assert one["with"]["device"] == "birch-two"
    assert "nobody-else" in ask("alder-one", "--against", "nobody-else", exit_code=1)
    assert "not compared with itself" in ask("alder-one", "--against", "alder-one", exit_code=2)


def test_the_same_in_sentences(ask):
    text = ask("alder-one")
    assert (
        "evening against Birch Two (1.0, not 2.0, which is current):\n  Both did the same run, with 2 machines" in text
    )
    assert "\n  film (fir-laptop): Film came in time more often on One: 100.0 against 66.7 %" in text
    assert "evening against Cedar Three (1.0):\n  Compared with Fir Slate in the place of Fir Tablet." in text
    assert "\n  Not compared: Fir Laptop stood at 48 dB on One and at 58 dB on Four.\n" in text
    assert "evening versions 1 and 2 over devices." in text
    assert "elm-five did none of these workloads: not tested." in ask("alder-one", "--against", "elm-five")
