"""Cases found by reading the engine against the method with fresh eyes: dust, dates, bounds and leads."""

import math

import pytest

from builder.bench.bench import subject_named
from builder.bench.sessions import normalised, session_factors
from builder.bench.tracks import GroupFilter
from builder.pairs.compare import compare
from builder.pairs.verdicts import to_json
from builder.windows.claims import Claim, fastest_claim
from builder.windows.ranking import rank, ranking_groups, ranking_json
from builder.windows.reach import reaches
from builder.windows.standing import top_sentence


def one(lab, a="A", b="B", match="attenuation"):
    bench, (who_a, who_b) = lab.subjects(a, b)
    (figure,) = compare(bench, who_a, who_b, match=match)
    return figure


@pytest.mark.parametrize(("low", "high"), [(58.1, 64.1), (52.3, 58.3), (60.1, 66.1)])
def test_6_db_between_decimals_are_6_db(lab, low, high):
    for device in ("A", "B"):
        lab.add(device, [(low, [600, 610, 605]), (high, [500, 510, 505])])
    assert one(lab).range == (low, high)


def test_12_db_between_decimals_are_no_gap(lab):
    for device in ("A", "B"):
        lab.add(device, [(52.4, [600, 610, 605]), (64.4, [500, 510, 505])])
    assert one(lab).verdict == "not-separated"


def test_a_knot_that_only_rounding_reaches_has_no_weight(lab):
    lab.ceiling("wrenlet-u2", 930.0)
    lab.add("A", [(52.1, [925, 926, 924]), (60.1, [700, 701, 699]), (68.1, [500, 501, 499])])
    lab.add("B", [(60.099999999999994, [600, 601, 599]), (68.1, [400, 401, 399])])
    figure = one(lab)
    assert (figure.verdict, figure.bound_a, figure.n_a) == ("separated", False, 6)


def test_the_spread_of_capped_cells_lends_nothing(lab):
    lab.ceiling("wrenlet-u2", 930.0)
    place = {"spot": "S1", "spot_since": "2025-01-01"}
    for device, value in (("A", 600), ("B", 590)):
        lab.add(device, [(x, [925, 925.1, 925.2]) for x in (45, 48, 50)])
        lab.add(device, [(70, value)], **place)
    assert one(lab, match="spot").code == "single-run"


@pytest.mark.parametrize("repeats", [1, 3])
def test_forbidden_figures_are_gone_from_the_record_too(lab, repeats):
    lab.ceiling("wrenlet-u2", 930.0)
    spread = [0, 1, -1][:repeats]
    lab.add("A", [(50, [925 + s for s in spread]), (60, [400 + s for s in spread]), (70, [100 + s for s in spread])])
    lab.add("B", [(50, [700 + s for s in spread]), (60, [500 + s for s in spread]), (70, [300 + s for s in spread])])
    figure = one(lab)
    assert figure.verdict == ("no-verdict" if repeats == 1 else "undecided")
    assert (figure.crossings, figure.half_width, figure.assumed) == ((), None, ())
    if repeats == 1:
        entry = to_json(figure)
        assert "difference" not in entry
        assert entry["bound_a"] is True
        assert "That of A is a lower bound." in figure.sentence


def test_several_links_have_no_level_match_either(lab):
    for device, shift in (("A", 0), ("B", -100)):
        for level, value in ((-50.0, 900), (-60.0, 700), (-70.0, 500)):
            lab.add(
                device,
                [(None, [value + shift, value + shift + 1])],
                band="5+6",
                level_dbm=level,
                spot=f"S{level}",
                spot_since="2025-01-01",
            )
    assert one(lab, match="level").code == "unequal-conditions"


def _moved(lab, before, after):
    for firmware, loss, since in (("1.4", before, "2025-01-01"), ("1.6", after, "2025-06-01")):
        lab.add("Shale 2", [(loss, [500, 510, 505])], firmware=firmware, spot="S3", spot_since=since)
    bench, (new, old) = lab.subjects("Shale 2@1.6", "Shale 2@1.4")
    (figure,) = compare(bench, new, old, match="spot")
    return figure


def test_a_moved_spot_is_told_in_the_order_of_time(lab):
    figure = _moved(lab, 68.0, 72.0)
    assert figure.sentence.startswith("S3 changed from 68 to 72 dB")
    assert (figure.tested_a, figure.tested_b) == ((72, 72), (68, 68))


def test_a_spot_read_anew_with_the_same_digits_says_so(lab):
    assert "read anew" in _moved(lab, 68.02, 68.04).sentence


def test_spots_of_one_name_in_two_houses_are_two_figures(lab):
    for house, sign in (("house-a", 1), ("house-b", -1)):
        for device, value in (("A", 600 + 100 * sign), ("B", 600 - 100 * sign)):
            lab.add(
                device,
                [(60, [value, value + 1, value - 1])],
                spot="S1",
                spot_since="2025-01-01",
                house=house,
                session=house,
            )
    bench, (a, b) = lab.subjects("A", "B")
    figures = compare(bench, a, b, match="spot")
    assert [f.house for f in figures] == ["house-a", "house-b"]
    assert len({f.figure for f in figures}) == 2


def test_a_client_filter_chooses_groups_and_never_makes_another_figure(lab):
    for device in ("A", "B"):
        for client, value in (("u2", 600), ("u2b", 500)):
            lab.add(device, [(60, [value, value + 1]), (70, [value - 100, value - 99])], client=client, series="u2")
    bench, (a, b) = lab.subjects("A", "B")
    whole = compare(bench, a, b, match="attenuation")
    asked = compare(bench, a, b, match="attenuation", only=GroupFilter(client="u2b"))
    assert whole == asked
    assert reaches(bench, a, [500], only=GroupFilter(client="u2b")) == reaches(bench, a, [500])
    assert compare(bench, a, b, match="attenuation", only=GroupFilter(client="other"))[0].code == "nothing-in-common"


def test_nobody_leads_those_who_do_not_cover_the_window(lab):
    lab.declared["house_spread_mbit_s"] = 1.0
    lab.add("D", [(58, 900), (68, 800), (78, 700)])
    lab.add("A", [(58, 700), (68, 600), (78, 500)])
    lab.add("C", [(62, 1400), (68, 1300), (75, 1200)])
    bench = lab.bench()
    said = top_sentence(rank(bench, ranking_groups(bench)[0], "middle"))
    assert said.endswith("leads every other device that covers the window; Maker C does not.")


def test_a_unit_leads_but_not_the_model_when_units_disagree(lab):
    lab.declared["house_spread_mbit_s"] = 1.0
    lab.add("D", [(58, 900), (68, 800), (78, 700)])
    lab.add("D", [(58, 500), (68, 400), (78, 300)], unit="B")
    lab.add("A", [(58, 700), (68, 600), (78, 500)])
    bench = lab.bench()
    found = rank(bench, ranking_groups(bench)[0], "middle")
    assert "unit A of Maker D leads; its units disagree" in top_sentence(found)
    assert [r["units_disagree"] for r in ranking_json(found)["ranked"]] == [True, False]
    refused = fastest_claim(found)
    assert (refused.code, isinstance(fastest_claim(found, of_unit=True), Claim)) == ("units-disagree", True)


def test_reasons_for_not_ranking_are_true(lab):
    lab.add("A", [(60, 700), (68, 600), (75, 500)])
    lab.add("N", [(60, 700), (68, 600), (75, 500)])
    lab.runs[:] = [_not_finished(r) if r.device == "N" else r for r in lab.runs]
    lab.add("U", [(40, 300)], band="2.4", width_mhz=20)
    lab.add("U", [(60, 700), (68, 600), (75, 500)], unit="B")
    bench = lab.bench()
    group = next(g for g in ranking_groups(bench) if g.band == "5")
    said = {n.subject.device: n.sentence for n in rank(bench, group, "middle").not_ranked}
    assert said == {
        "N": "Not ranked: no run finished in this group.",
        "U": "Not ranked: unit A was not tested in this group; B was.",
    }


def _not_finished(run):
    from dataclasses import replace

    return replace(run, outcome="did not finish", throughput_mbit_s=None)


def test_a_single_run_of_the_reference_is_not_noiseless(lab):
    lab.houses["house-a"] = "R"
    lab.declared["house_spread_mbit_s"] = 40.0
    for number, value in enumerate((600, 606, 594, 603, 570)):
        lab.add("R", [(60, value)], session=f"s{number}")
    lab.add("A", [(60, [475, 476, 474])], session="s4")
    bench = lab.bench()
    factors = session_factors(bench)
    (cell,) = bench.cells_of["A"]
    found = normalised(bench, factors, cell)
    long_run = (600 + 606 + 594 + 603) / 4
    assert found.factor.u > 40 / long_run  # the declared spread of one run, and the long run's own
    lab.declared.pop("house_spread_mbit_s")
    bench = lab.bench()
    found = normalised(bench, session_factors(bench), bench.cells_of["A"][0])
    assert (found.factor.u, found.half_width) == (None, None)


def test_an_undated_firmware_stands_by_its_version(lab):
    from dataclasses import replace

    for version in ("7.9", "7.10", "7.11"):
        lab.add("A", [(60, 700)], firmware=version)
    bench = lab.bench()
    dates = {"7.9": "2025-01-01", "7.10": "2025-04-02", "7.11": None}
    device = bench.devices["A"]
    dated = replace(device, firmware=tuple(replace(f, released=dates[f.version]) for f in device.firmware))
    bench = replace(bench, devices={"A": dated})
    assert subject_named(bench, "A").firmware == "7.11"


def test_a_named_unit_comes_with_a_firmware_it_was_tested_with(lab):
    lab.add("A", [(60, 700)], firmware="2.0")
    lab.add("A", [(60, 600)], firmware="1.0", unit="B")
    bench = lab.bench()
    assert subject_named(bench, "A", unit="B").firmware == "1.0"
    assert subject_named(bench, "A").firmware == "2.0"


def test_equal_devices_are_infinitely_sure_only_when_nothing_is_uncertain(lab):
    for device in ("A", "B"):
        lab.add(device, [(60, [600, 600, 600]), (70, [500, 500, 500])])
    figure = one(lab)
    assert figure.verdict == "not-separated"
    assert math.isinf(figure.effective_df)
