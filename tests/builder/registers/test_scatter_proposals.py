"""What devices beside the reference device suggest for `[method]`, proposed and never used."""

import math
import shutil

import pytest
from click.testing import CliRunner

from builder.cli import main
from builder.registers.scatter_proposals import proposed_scatter
from tests.builder.bench.test_reference import LEARN, add_reference, even_rows, published_rows
from tests.builder.publishing.publishing_bench import batch

UNDECLARED = {"session_spread": None, "placement_sigma_db": None}


def add(lab, device, rows, **fields):
    for session, spot, loss, values in rows:
        known = {"spot": spot, "spot_since": "2025-01-01", "attenuation_typed": False, "readings": 5}
        lab.add(device, [(loss, values)], session=session, **(known | fields))


def on_days(prefix, factors):
    return [(f"{prefix}{session}", *rest) for session, *rest in even_rows(factors)]


def by_constant(lab):
    return {proposal.constant: proposal for proposal in proposed_scatter(lab.bench())}


def test_one_other_device_is_asked_by_the_estimators_of_the_reference_device(lab):
    # Source: tests/published/method2_learn.csv, computed for the method apart from this code.
    lab.declared |= UNDECLARED
    add(lab, "Other", published_rows())
    before = lab.bench().scatter
    proposals = by_constant(lab)
    day, placement = proposals["session_spread"], proposals["placement_sigma_db"]
    assert day.value == pytest.approx(float(LEARN["c"]["expected"]), abs=1e-9)
    assert day.df == pytest.approx(float(LEARN["nu of c"]["expected"]), abs=1e-9)
    assert placement.value == pytest.approx(float(LEARN["placement, dB"]["expected"]), abs=1e-9)
    assert (placement.df, placement.devices, placement.sessions) == (20, ("Other",), 5)
    # Proposed, not used.
    assert (before.day("house-a").source, before.placement("house-a").source) == ("assumed", "assumed")
    assert lab.bench().scatter == before


def test_devices_on_days_of_their_own_are_pooled(lab):
    # By hand: every spot moves by 0.9, 1 and 1.1, so c^2 = (0.01 + 0 + 0.01) / 2 and v = 0. Each device has 2 degrees
    # of freedom, both together 4. Printed tables of chi-squared, 4 degrees of freedom: 11.143 and 0.4844 at 2.5 %.
    lab.declared |= UNDECLARED
    for device in ("Left", "Right"):
        add(lab, device, on_days(device, [0.9, 1.0, 1.1]))
    day = by_constant(lab)["session_spread"]
    assert (day.value, day.df, day.sessions) == (pytest.approx(0.1), pytest.approx(4), 6)
    assert day.interval == pytest.approx((0.1 * math.sqrt(4 / 11.143), 0.1 * math.sqrt(4 / 0.4844)), rel=1e-3)
    assert day.sentence == (
        "house-a: devices other than the reference device suggest session_spread = 0.1 (95 %: 0.06 to 0.287, 4 degrees "
        "of freedom, from Left and Right in 6 sessions); 0.03 is assumed now."
    )


def test_devices_on_the_same_days_see_the_same_days(lab):
    # By hand: three sessions are two degrees of freedom, however many devices were there.
    lab.declared |= UNDECLARED
    for number in range(4):
        add(lab, f"Device {number}", on_days("d", [0.9, 1.0, 1.1]))
    assert "session_spread" not in by_constant(lab)
    # With five days there are four, though each device by itself would give eight.
    lab.runs.clear()
    for number in range(2):
        add(lab, f"Device {number}", on_days("d", [0.9, 1.0, 1.1, 1.05, 0.95]))
    assert by_constant(lab)["session_spread"].df == pytest.approx(4)


def test_links_of_one_device_share_its_visits_and_count_once(lab):
    lab.declared |= UNDECLARED
    add(lab, "Other", published_rows())
    alone = by_constant(lab)
    add(lab, "Other", published_rows(), direction="up")
    assert {name: p.df for name, p in by_constant(lab).items()} == {name: p.df for name, p in alone.items()}


def test_what_the_reference_device_shows_is_not_proposed(lab):
    lab.declared |= UNDECLARED
    add_reference(lab, published_rows())
    add(lab, "Other", published_rows())
    assert by_constant(lab) == {}


def test_a_declared_value_inside_the_interval_is_left_alone(lab):
    add(lab, "Other", published_rows())
    lab.declared["session_spread"] = float(LEARN["c"]["expected"]) * 1.1
    lab.declared["placement_sigma_db"] = 9.0
    proposals = by_constant(lab)
    assert proposals.keys() == {"placement_sigma_db"}
    assert "; 9 is declared now." in proposals["placement_sigma_db"].sentence


def test_days_that_hardly_differ_propose_the_least_that_is_taken(lab):
    lab.declared |= UNDECLARED
    add(lab, "Other", on_days("d", [1.0, 1.001, 0.999, 1.0, 1.0, 1.001]))
    day = by_constant(lab)["session_spread"]
    assert (day.value, day.interval, day.df) == (0.01, None, 5)


def test_check_prints_the_proposal_and_enter_does_not(small_file, tmp_path):
    # Five days of one device at five spots, each day off by another factor. The reference device was there too rarely.
    factors = {"day-1": 0.9, "day-2": 1.0, "day-3": 1.1, "day-4": 1.05, "day-5": 0.95}
    losses = {"S1": 46.0, "S2": 55.5, "S3": 64.0, "S4": 73.0, "S5": 82.0}
    sessions = "".join(
        f'[[session]]\nid = "{day}"\nhouse = "house-a"\ndate = 2025-08-{number:02}\n'
        for number, day in enumerate(factors, start=10)
    )
    rows = "when,device,unit,firmware,session,spot,repeat,throughput_mbit_s\n" + "".join(
        f"2025-08-{number:02}T{9 + place:02}:{repeat:02}:00Z,quillmast-vane,A,2.10,{day},{spot},{repeat},"
        f"{factor * (1755 - 20 * loss) + repeat:.2f}\n"
        for number, (day, factor) in enumerate(factors.items(), start=10)
        for place, (spot, loss) in enumerate(losses.items())
        for repeat in (1, 2)
    )
    place = batch(tmp_path, "days", more=sessions, runs_csv=rows)
    catalog = shutil.copy(small_file, tmp_path / "catalog.db")
    run = CliRunner().invoke(main, ["--catalog", str(catalog), "check", str(place)])
    assert run.exit_code == 0, run.output
    assert 'Look at: batch.toml line 1, column "session_spread": ' in run.output
    # By hand: with the day the catalogue holds, whose factor is 1 but for a wobble, c^2 = 0.025 / 5 and c = 0.0707.
    # Printed tables of chi-squared, 5 degrees of freedom: 12.833 and 0.8312.
    assert "suggest session_spread = 0.07 (95 %: 0.044 to 0.173, 5 degrees of freedom, " in run.output
    assert "suggest placement_sigma_db = 0.3 (the least that is taken, 15 degrees of freedom, " in run.output
    assert "It changes no figure until a batch declares it under [method]." in run.output
    run = CliRunner().invoke(main, ["--catalog", str(catalog), "enter", str(place)])
    assert (run.exit_code, "suggest" in run.output) == (0, False)
