"""Implied EIRP, PHY ceilings of pairs, and ceilings the tool suspects: worked by hand and against published rates."""

from dataclasses import replace

import pytest

from builder.pairs.compare import compare
from builder.registers.eirp import implied_eirps, louder_sentence, loudness_sentence
from builder.registers.link_ceilings import link_ceiling, radio_ceilings
from builder.registers.proposing import proposed_ceilings
from catalog.records import Radio


def ends(lab, device=("802.11be", 4, 320), client=("802.11ax", 2, 160)):
    lab.add("Sill", [(60, 500)])
    bench = lab.bench()
    made = []
    for end, (amendment, streams, width) in ((bench.devices["Sill"], device), (bench.clients["wrenlet-u2"], client)):
        made.append(replace(end, amendment=amendment, radios=(Radio("5", streams, width),)))
    return made


@pytest.mark.parametrize(
    ("device", "client", "width", "expected"),
    [
        # Source: exact rates of IEEE 802.11 (tests/published/phy_rates_full.csv): HE 80 MHz, 2 streams, MCS 11, 0.8 us.
        (("802.11be", 4, 320), ("802.11ax", 2, 160), 80, 1200.9804),
        (("802.11be", 4, 320), ("802.11ax", 2, 160), 160, 2401.9608),
        (("802.11be", 4, 320), ("802.11ax", 2, 80), 160, 1200.9804),
        (("802.11ac", 4, 80), ("802.11be", 2, 320), 80, 866.6667),
        (("802.11n", 4, 40), ("802.11ac", 2, 80), 40, 300.0),
    ],
)
def test_the_best_link_two_ends_can_form(lab, device, client, width, expected):
    found = link_ceiling(*ends(lab, device, client), band="5", width_mhz=width)
    assert found.mbit_s == pytest.approx(expected, abs=5e-5)
    assert f"{found.amendment}, " in found.sentence


def test_no_ceiling_without_both_radios(lab):
    device, client = ends(lab)
    assert link_ceiling(device, client, band="6", width_mhz=80) is None
    assert link_ceiling(replace(device, amendment="802.11zz"), client, band="5", width_mhz=80) is None


def story_2(lab):
    for device, levels in (("Low", (-37, -47, -57)), ("Alcove", (-43, -53, -63))):
        for loss, level in zip((60, 70, 80), levels, strict=True):
            lab.add(device, [(loss, 500)], level_dbm=float(level))


def test_implied_eirp_of_story_2(lab):
    # Source: worked story 2: Low 23 dBm, Alcove 17 dBm: "Low is about 6 dB louder".
    story_2(lab)
    bench, (low, alcove) = lab.subjects("Low", "Alcove")
    (a,), (b,) = implied_eirps(bench, low), implied_eirps(bench, alcove)
    assert (a.mean, b.mean) == (23, 17)
    assert (a.sd, len(a.cells)) == (0, 3)
    assert louder_sentence(a, b) == "Low is about 6 dB louder."
    assert louder_sentence(b, a) == "Low is about 6 dB louder."


def test_nobody_is_louder_within_the_scatter_of_the_places(lab):
    # By hand: Low 21, 23, 25 (mean 23, s 2), Alcove 20, 22, 24 (mean 22, s 2): 1 dB apart, and
    # 1.96 * sqrt(2 * 2**2 / 3) = 3.2 dB of scatter.
    for device, sent in (("Low", (21, 23, 25)), ("Alcove", (20, 22, 24))):
        for loss, eirp in zip((60, 70, 80), sent, strict=True):
            lab.add(device, [(loss, 500)], level_dbm=float(eirp - loss))
    bench, (low, alcove) = lab.subjects("Low", "Alcove")
    (a,), (b,) = implied_eirps(bench, low), implied_eirps(bench, alcove)
    assert louder_sentence(a, b) == "Low and Alcove are about equally loud."


def test_beside_a_level_match_it_says_what_it_is_and_is_not(lab):
    # Source: worked story 2: Low 23 dBm, Alcove 17 dBm.
    story_2(lab)
    bench, sides = lab.subjects("Low", "Alcove")
    (figure,) = compare(bench, *sides, match="level")
    assert loudness_sentence(bench, figure) == (
        "As this client reads them, Low seems to send with 23 dBm (s 0 dB, 3 places) and Alcove with 17 dBm (s 0 dB, 3 "
        "places), level plus attenuation: Low is about 6 dB louder. At equal signal this is taken out; it is an implied "
        "EIRP, no measured transmit power."
    )
    (same_place,) = compare(bench, *sides, match="attenuation")
    refused = replace(figure, verdict="refused")
    assert loudness_sentence(bench, refused) == ""
    assert same_place.verdict != "refused"


def test_what_each_radio_can_carry(lab):
    # Source: exact rates of IEEE 802.11 (tests/published/phy_rates_full.csv), EHT, 2 streams, MCS 13, 0.8 us.
    device, client = ends(lab, device=("802.11be", 2, 320), client=("802.11n", 2, 80))
    rates = {one.width_mhz: one.mbit_s for one in radio_ceilings(device, "5")}
    assert rates == pytest.approx({20: 344.1176, 40: 688.2353, 80: 1441.1765, 160: 2882.3529, 320: 5764.7059}, abs=5e-5)
    # HT has no 80 MHz, whatever the register says: 2 streams, MCS 7, 0.4 us.
    assert {one.width_mhz: one.mbit_s for one in radio_ceilings(client, "5")} == pytest.approx(
        {20: 144.4444, 40: 300.0}, abs=5e-5
    )
    assert radio_ceilings(device, "6") == []
    assert radio_ceilings(replace(device, radios=(Radio("5", 16, 320),)), "5") == []


def test_spread_over_places_and_unlike_clients_apart(lab):
    # By hand: 22, 23 and 24 dBm have s = 1; another client and the uplink have no part in it.
    for loss, level in ((60, -38.0), (70, -47.0), (80, -56.0)):
        lab.add("Low", [(loss, 500)], level_dbm=level)
    lab.add("Low", [(60, 500)], level_dbm=-30.0, direction="up")
    lab.add("Low", [(60, 500)], level_dbm=-30.0, client="u3", series="u3")
    bench, (low,) = lab.subjects("Low")
    other, own = implied_eirps(bench, low)
    assert (own.client, own.mean, own.sd, own.low, own.high) == ("wrenlet-u2", 23, pytest.approx(1), 22, 24)
    assert (other.client, other.mean) == ("u3", 30)
    with pytest.raises(ValueError, match="not the same scale"):
        louder_sentence(own, other)


@pytest.fixture
def flat(lab):
    """Two devices that give the same with one client over 10 dB, although its radio would carry 1201 Mbit/s."""
    lab.add("A", [(50, 640), (60, 635), (70, 400)])
    lab.add("B", [(48, 642), (58, 630), (70, 300)])

    def proposals(width=160, ports=None):
        lab.ports = ports or {}
        bench = lab.bench()
        devices = {d: replace(r, radios=(Radio("5", 4, 160),)) for d, r in bench.devices.items()}
        clients = {
            c: replace(r, amendment="802.11ax", radios=(Radio("5", 2, width),)) for c, r in bench.clients.items()
        }
        return proposed_ceilings(
            replace(bench, devices=devices, clients=clients), {run.run_id: run for run in lab.runs}
        )

    return proposals


def test_a_flat_client_is_suspected(flat):
    (found,) = flat()
    # By hand: within 3 % of 642 is 622.7 and more: A at 50-60 dB, B at 48-58.
    assert (found.client, found.best, found.known) == ("wrenlet-u2", 642, None)
    assert found.plateaus == {"A": (50, 60), "B": (48, 58)}
    assert found.evidence == "b/runs/2"
    assert "642 Mbit/s" in found.sentence


def test_not_where_the_radio_explains_it(flat):
    # By hand: 642 * 1.5 = 963; two streams of 802.11ax carry 1201 at 80 MHz but 573.5 at 40 MHz.
    assert flat(width=40) == []


def test_not_where_a_known_ceiling_or_the_port_explains_it(lab, flat):
    lab.ceiling("wrenlet-u2", 645.0)
    assert flat() == []
    lab.ceilings.clear()
    # A port of 676 Mbit/s would carry 642 with 1460/1538 of its rate.
    assert flat(ports={"A": 676.0, "B": 676.0}) == []


@pytest.mark.parametrize("missing", ["one device", "5 dB", "4 %"])
def test_not_from_too_little(lab, flat, missing):
    values = {
        "one device": [(48, 500), (58, 495)],
        "5 dB": [(48, 642), (53, 640), (58, 500)],
        "4 %": [(48, 615), (58, 614)],
    }[missing]
    lab.runs = [r for r in lab.runs if r.device == "A"]
    lab.add("B", values)
    assert flat() == []
