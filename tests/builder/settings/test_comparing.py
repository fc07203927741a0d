"""Subjects that name settings: what meets, what never does, and the sentence that says what settings bring."""

from __future__ import annotations

import json

import pytest
from scipy import stats

from builder.bench.bench import load_bench, subject_named
from builder.bench.cells import cell_figure
from builder.pairs.compare import compare
from builder.pairs.verdicts import to_json
from builder.windows.ranking import ranking_groups
from catalog.errors import UnknownName
from catalog.visibility import public_copy
from tests.builder.settings.conftest import NOW, VALUES, batch, bench_toml, entered, run_rows, spot_rows

CUPOLA = "hollendry-cupola"


def bench_at(path):
    return load_bench(public_copy(path, as_of=NOW))


@pytest.fixture(scope="module")
def bench(cupola):
    return bench_at(cupola)


def pair(bench, a, b, match="spot"):
    return compare(bench, subject_named(bench, a), subject_named(bench, b), match=match)


def test_what_both_links_bring_is_said_with_both_losses(ask):
    # By hand: 1007 - 911 = 96; t(0.975, 4) · 7 · √(2/3) = 15.87.
    half = stats.t.ppf(0.975, 4) * 7 * (2 / 3) ** 0.5
    assert half == pytest.approx(15.87, abs=0.01)
    said = ask("compare", f"{CUPOLA}+links-on", f"{CUPOLA}+links-off", "--match", "spot")
    assert (
        "At S4 Cupola gives 96 Mbit/s less with one link at a time (5 GHz, 70 dB) than with both (5 GHz 70 dB and 6 GHz "
        "73 dB), likely 80–112." in said
    )
    assert (
        "At S4 Cupola gives 367 Mbit/s less with one link at a time (6 GHz, 73 dB) than with both (5 GHz 70 dB and 6 GHz "
        "73 dB), likely 351–383." in said
    )
    # The other way round it is the same sentence.
    assert "At S4 Cupola gives 96 Mbit/s less with one link at a time (5 GHz, 70 dB) than with both" in ask(
        "compare", f"{CUPOLA}+links-off", f"{CUPOLA}+links-on", "--match", "spot"
    )


def test_its_json_names_settings_and_both_bands(ask):
    document = json.loads(ask("compare", f"{CUPOLA}+links-on", f"{CUPOLA}+links-off", "--match", "spot", "--json"))
    assert (document["a"]["settings"], document["b"]["settings"]) == ("links-on", "links-off")
    bands = [(one["band"], one["band_a"], one["band_b"], one["spot"]) for one in document["groups"]]
    assert bands == [(None, "5+6", band, spot) for band in ("5", "6") for spot in ("S3", "S4", "S5")]
    at_s4 = document["groups"][1]
    assert at_s4["difference"] == pytest.approx(96)
    assert at_s4["interval"] == pytest.approx([96 - 15.87, 96 + 15.87], abs=0.01)
    assert (at_s4["width_mhz"], "width_mhz_a" in at_s4) == (160, False)
    plain = json.loads(ask("compare", CUPOLA, "quillmast-sill", "--json"))
    assert (plain["a"]["settings"], plain["b"]["settings"]) == (None, None)
    assert not {"band_a", "band_b"} & plain["groups"][0].keys()


def test_several_links_meet_single_ones_at_spots_alone(bench):
    for match in ("attenuation", "level"):
        figures = pair(bench, f"{CUPOLA}+links-on", f"{CUPOLA}+links-off", match)
        assert [(f.verdict, f.code) for f in figures] == [("refused", "unequal-conditions")] * 2
    # Without settings on either side groups meet as ever: a band is a band.
    assert {f.group.band for f in pair(bench, CUPOLA, "quillmast-sill")} == {"5"}


def test_settings_are_never_pooled_and_a_device_alone_names_none(bench):
    at_s4 = [c for c in (*bench.cells, *bench.cells_under) if c.device == CUPOLA and c.spot == "S4"]
    assert sorted((c.group.band, c.settings or "", c.n, c.mean) for c in at_s4) == [
        ("5", "", 3, 920),
        ("5", "links-off", 3, 911),
        ("5", "low", 3, 728),
        ("5+6", "links-on", 3, 1007),
        ("6", "links-off", 3, 640),  # typed as one-link, which is equal and came later
    ]
    assert {c.settings for c in bench.cells} == {None}
    assert {c.mean for c in bench.cells_with(CUPOLA)} == {1310, 920, 505}
    names = {cell_figure(c).split("~")[1] for c in at_s4}
    assert names == {CUPOLA, f"{CUPOLA}_2b_links-off", f"{CUPOLA}_2b_low", f"{CUPOLA}_2b_links-on"}


def test_a_device_as_always_against_itself_under_settings(bench):
    (figure,) = pair(bench, CUPOLA, f"{CUPOLA}+low", "attenuation")
    # By hand, lines from 60 to 80 dB: (1310/2 + 920 + 505/2) / 2 = 913.75, (1040/2 + 728 + 400/2) / 2 = 724.
    assert (figure.mean_a, figure.mean_b) == pytest.approx((913.75, 724.0))
    assert figure.sentence.startswith(
        "In the same place Cupola gives 190 Mbit/s less with low power than as usually tested, likely "
    )


def test_two_devices_under_settings_are_named_with_them(bench):
    (figure,) = pair(bench, f"{CUPOLA}+low", "quillmast-sill+low", "attenuation")
    assert figure.sentence.startswith("In the same place Cupola with low power gives ")
    assert "more than Sill with low power" in figure.sentence
    (mixed,) = pair(bench, f"{CUPOLA}+low", "quillmast-sill", "attenuation")
    assert "Sill gives " in mixed.sentence
    assert "more than Cupola with low power" in mixed.sentence
    figures = pair(bench, f"{CUPOLA}+links-on", "quillmast-sill")
    assert {(f.group.band, f.group_b.band) for f in figures} == {("5+6", "5")}
    assert figures[1].sentence.endswith(
        " Cupola with both used 5 + 6 GHz (5 GHz 70 dB and 6 GHz 73 dB); Sill used 5 GHz (5 GHz, 70 dB)."
    )


def test_equal_settings_go_by_the_first_id(bench, ask):
    assert subject_named(bench, f"{CUPOLA}+one-link") == subject_named(bench, f"{CUPOLA}+links-off")
    document = json.loads(ask("compare", f"{CUPOLA}+one-link", CUPOLA, "--json"))
    assert document["a"]["settings"] == "links-off"


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (f"{CUPOLA}+linksoff", "There are no settings 'linksoff'. Nearest: links-off"),
        (f"{CUPOLA}+", "There are no settings ''. "),
        ("cupola+low", "There is no device 'cupola'. Nearest: hollendry-cupola"),
        (f"{CUPOLA}@2.0+low", "Cupola has no firmware '2.0'"),
        (f"{CUPOLA}+low@1.0", f"Settings stand last: {CUPOLA}@1.0+low."),
    ],
)
def test_a_name_that_means_nothing_is_said(bench, text, sentence):
    with pytest.raises(UnknownName) as refused:
        subject_named(bench, text)
    assert sentence in str(refused.value)


def test_the_last_plus_counts_and_only_before_known_settings(tmp_path):
    text = (
        bench_toml()
        .replace('version = "1.0"', 'version = "1.0+fix"')
        .replace('firmware = "1.0"', 'firmware = "1.0+fix"')
    )
    bench = bench_at(entered(batch(tmp_path / "batch", text), tmp_path / "catalog.db"))
    plain, under = subject_named(bench, f"{CUPOLA}@1.0+fix"), subject_named(bench, f"{CUPOLA}@1.0+fix+low")
    assert (plain.firmware, plain.settings) == ("1.0+fix", "")
    assert (under.firmware, under.settings) == ("1.0+fix", "low")


def test_a_spot_that_moved_between_two_settings_is_refused(tmp_path):
    # The 5 GHz loss of each spot was read anew in between, and is 4 dB more.
    later = {key: value for key, value in VALUES.items() if key[2] == "links-off"}
    earlier = {key: value for key, value in VALUES.items() if key[2] == "links-on"}
    runs = run_rows(earlier) + run_rows(later, day="2026-03-20").split("\n", 1)[1]
    runs = runs.replace("repeat,", "repeat,", 1)
    lines = runs.splitlines()
    rows = [lines[0] + ",session"] + [f"{line},{line[:10]}" for line in lines[1:]]
    moved = "".join(
        f"home,{spot},5,2026-03-10,20,{20 - loss - 4 + off}\n"
        for spot, loss in (("S3", 60), ("S4", 70), ("S5", 80))
        for off in (-0.5, 0.5)
    )
    text = bench_toml(
        session=[{"id": day, "house": "home", "date": day} for day in ("2026-03-01", "2026-03-20")],
    )
    folder = batch(tmp_path / "batch", text, runs="\n".join(rows) + "\n", spots=spot_rows() + moved)
    figures = pair(bench_at(entered(folder, tmp_path / "catalog.db")), f"{CUPOLA}+links-on", f"{CUPOLA}+links-off")
    assert {f.code for f in figures} == {"spot-moved"}


def test_another_width_is_taken_where_there_is_no_equal_one_and_both_are_named(tmp_path):
    rows = run_rows().splitlines()
    wide = [rows[0] + ",width_mhz"] + [f"{row},{'80' if ',6,one-link,' in row else '160'}" for row in rows[1:]]
    folder = batch(tmp_path / "batch", runs="\n".join(wide) + "\n")
    figures = pair(bench_at(entered(folder, tmp_path / "catalog.db")), f"{CUPOLA}+links-on", f"{CUPOLA}+links-off")
    (at_s4,) = [f for f in figures if f.spot == "S4" and f.group_b.band == "6"]
    assert at_s4.sentence.endswith(
        "Cupola with both used 5 + 6 GHz at 160 MHz; Cupola with one link at a time used 6 GHz at 80 MHz."
    )
    document = to_json(at_s4)
    assert (document["width_mhz"], document["width_mhz_a"], document["width_mhz_b"]) == (None, 160, 80)


def test_rankings_take_what_was_tested_as_always_or_one_other(bench, ask):
    (group,) = ranking_groups(bench)
    assert set(bench.cells_in[group]) == {CUPOLA, "quillmast-sill"}
    plain = json.loads(ask("rank", "--window", "middle", "--json"))
    low = json.loads(ask("rank", "--window", "middle", "--settings", "low", "--json"))
    assert (plain["settings"], low["settings"]) == (None, "low")
    # By hand, over 60 to 75 dB: Cupola at low power (10 · (1040 + 728)/2 + 5 · (728 + 564)/2) / 15 = 804.67.
    values = {one["device"]: one["value"] for one in low["ranked"]}
    assert values[CUPOLA] == pytest.approx((10 * 884 + 5 * 646) / 15)
    assert all(one["figure"].split("~")[1].endswith("_2b_low") for one in low["ranked"])
    assert {one["device"] for one in plain["ranked"]} == {CUPOLA, "quillmast-sill"}
    assert "There are no settings 'lo'. Nearest: low" in ask("rank", "--settings", "lo", code=1)
    # Nothing of settings bears on what names none.
    without = {one["device"]: one["value"] for one in plain["ranked"]}
    assert without[CUPOLA] == pytest.approx((10 * 1115 + 5 * (920 + 712.5) / 2) / 15)
