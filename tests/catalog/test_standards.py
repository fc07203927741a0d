"""Facts of IEEE, IEC and ISO documents against tables made elsewhere (tests/published/SOURCES.md)."""

import csv
from pathlib import Path

import pytest

from catalog.standards import (
    BURN_THRESHOLDS,
    HELD,
    PHYS,
    POE_CLASSES,
    TOUCH_LIMITS,
    allowed_widths_mhz,
    channel_centre_mhz,
    has_width,
    is_channel,
    phy_ceiling_mbit_s,
    phy_rate_mbit_s,
    power_class,
    tcp_port_limit_mbit_s,
    tcp_port_limit_with_timestamps_mbit_s,
    udp_port_limit_mbit_s,
    vht_combination_exists,
)

PUBLISHED = Path(__file__).parents[1] / "published"
AMENDMENTS = {"HT": "802.11n", "VHT": "802.11ac", "HE": "802.11ax", "EHT": "802.11be"}


def read_published(stem: str) -> list[dict[str, str]]:
    with (PUBLISHED / f"{stem}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


PHY_ROWS = read_published("phy_rates_full")


def test_every_phy_rate_of_the_published_tables() -> None:
    # Source: IEEE 802.11 MCS tables, recomputed from the integer constants of a public kernel.
    assert len(PHY_ROWS) == 3600
    for row in PHY_ROWS:
        rate = phy_rate_mbit_s(
            AMENDMENTS[row["phy"]],
            width_mhz=int(row["width_mhz"]),
            streams=int(row["nss"]),
            mcs=int(row["mcs_per_stream"]),
            guard_ns=round(1000 * float(row["gi_us"])),
        )
        # The table prints six decimals.
        assert rate == pytest.approx(float(row["expected_mbit_s"]), abs=6e-7), row


@pytest.mark.parametrize(
    ("amendment", "width_mhz", "streams", "mcs", "guard_ns", "printed"),
    [
        # Source: rates as radios print them, one decimal (public kernel tables, which cut or round).
        ("802.11n", 20, 2, 7, 400, 144.4),
        ("802.11n", 40, 2, 7, 400, 300.0),
        ("802.11ac", 80, 2, 9, 400, 866.7),
        ("802.11ac", 160, 8, 9, 400, 6933.3),
        ("802.11ax", 80, 2, 11, 800, 1200.9),
        ("802.11ax", 160, 2, 11, 800, 2401.9),
        ("802.11be", 320, 2, 13, 800, 5764.6),
        ("802.11be", 320, 8, 13, 800, 23058.6),
    ],
)
def test_rates_as_radios_print_them(
    amendment: str, width_mhz: int, streams: int, mcs: int, guard_ns: int, printed: float
) -> None:
    rate = phy_rate_mbit_s(amendment, width_mhz=width_mhz, streams=streams, mcs=mcs, guard_ns=guard_ns)
    # Cut tenths per stream add up to 0.25 Mbit/s at eight streams.
    assert rate == pytest.approx(printed, abs=0.25)


def test_ceiling_is_the_highest_rate_of_the_table() -> None:
    highest: dict[tuple[str, int, int], float] = {}
    for row in PHY_ROWS:
        key = (AMENDMENTS[row["phy"]], int(row["nss"]), int(row["width_mhz"]))
        highest[key] = max(highest.get(key, 0.0), float(row["expected_mbit_s"]))
    assert len(highest) == 2 * 4 + 4 * 8 + 4 * 8 + 5 * 8
    for (amendment, streams, width_mhz), rate in highest.items():
        assert phy_ceiling_mbit_s(amendment, streams, width_mhz) == pytest.approx(rate, abs=6e-7)


def test_vht_combinations_that_do_not_exist() -> None:
    # Source: the ten combinations public lists of the VHT tables leave out, in the `allowed` column.
    for row in PHY_ROWS:
        if row["phy"] == "VHT":
            width, streams, mcs = int(row["width_mhz"]), int(row["nss"]), int(row["mcs_per_stream"])
            assert vht_combination_exists(width_mhz=width, streams=streams, mcs=mcs) == (row["allowed"] == "1")
        else:
            assert row["allowed"] == "1"


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"amendment": "802.11b"}, "amendment must be one of 802.11n, 802.11ac, 802.11ax, 802.11be"),
        ({"width_mhz": 320}, "802.11ax has widths of 20, 40, 80, 160 MHz, got 320"),
        ({"streams": 0}, "802.11ax has 1 to 8 streams, got 0"),
        ({"streams": 9}, "802.11ax has 1 to 8 streams, got 9"),
        ({"mcs": 12}, "802.11ax has MCS 0 to 11, got 12"),
        ({"mcs": -1}, "802.11ax has MCS 0 to 11, got -1"),
        ({"guard_ns": 400}, r"802.11ax has guard intervals of \(800, 1600, 3200\) ns, got 400"),
    ],
)
def test_rates_that_do_not_exist_are_refused(change: dict[str, int | str], message: str) -> None:
    call = {"amendment": "802.11ax", "width_mhz": 80, "streams": 2, "mcs": 11, "guard_ns": 800} | change
    amendment = call.pop("amendment")
    with pytest.raises(ValueError, match=message):
        phy_rate_mbit_s(amendment, **call)  # type: ignore[arg-type]


def test_widths_fit_the_rate_tables() -> None:
    # Source: IEEE 802.11 amendments (from memory): 80 MHz and more only above 2.4 GHz, 320 MHz only at 6 GHz.
    for amendment, phy in PHYS.items():
        everywhere = {w for band in ("2.4", "5", "6") for w in allowed_widths_mhz(amendment, band)}
        assert everywhere == set(phy.data_subcarriers)
        assert allowed_widths_mhz(amendment, "2.4") == (20, 40)
    assert allowed_widths_mhz("802.11n", "5") == (20, 40)
    assert allowed_widths_mhz("802.11ac", "6") == ()
    assert allowed_widths_mhz("802.11ax", "6") == allowed_widths_mhz("802.11ac", "5") == (20, 40, 80, 160)
    assert 320 not in allowed_widths_mhz("802.11be", "5")
    assert 320 in allowed_widths_mhz("802.11be", "6")
    with pytest.raises(ValueError, match=r"band must be one of 2\.4, 5, 6, got '60'"):
        allowed_widths_mhz("802.11be", "60")


@pytest.mark.parametrize(
    ("band", "channel", "centre_mhz"),
    [
        # Source: IEEE 802.11-2020 Annex E (from memory); 2412 to 6985 also stand in the free-space table.
        ("2.4", 1, 2412),
        ("2.4", 6, 2437),
        ("2.4", 13, 2472),
        ("2.4", 14, 2484),
        ("5", 36, 5180),
        ("5", 42, 5210),
        ("5", 100, 5500),
        ("5", 144, 5720),
        ("5", 155, 5775),
        ("5", 177, 5885),
        ("6", 1, 5955),
        ("6", 2, 5935),
        ("6", 31, 6105),
        ("6", 207, 6985),
        ("6", 233, 7115),
    ],
)
def test_channel_centres(band: str, channel: int, centre_mhz: int) -> None:
    assert channel_centre_mhz(band, channel) == centre_mhz


@pytest.mark.parametrize(
    ("band", "narrow", "width_mhz", "centres"),
    [
        # By hand: the centre of a wide channel is the mean of the centres of the 20 MHz channels in it.
        ("5", [(36, 64), (100, 144), (149, 177)], 40, 14),
        ("5", [(36, 64), (100, 144), (149, 177)], 80, 7),
        ("5", [(36, 64), (100, 128), (149, 177)], 160, 3),
        ("6", [(1, 229)], 40, 29),
        ("6", [(1, 221)], 80, 14),
        ("6", [(1, 221)], 160, 7),
    ],
)
def test_wide_channels_lie_between_their_narrow_ones(
    band: str, narrow: list[tuple[int, int]], width_mhz: int, centres: int
) -> None:
    members = width_mhz // 20
    found = 0
    for first, last in narrow:
        channels = list(range(first, last + 1, 4))
        for i in range(0, len(channels) - members + 1, members):
            block = channels[i : i + members]
            centre = (block[0] + block[-1]) // 2
            assert is_channel(band, centre), centre
            assert channel_centre_mhz(band, centre) == sum(channel_centre_mhz(band, c) for c in block) / members
            found += 1
    assert found == centres


@pytest.mark.parametrize(
    ("band", "channel", "widths"),
    [
        # By hand from the channels each wide channel holds (IEEE 802.11-2020 Annex E, from memory).
        ("2.4", 1, {20, 40}),
        ("2.4", 14, {20}),
        ("5", 36, {20, 40, 80, 160}),
        ("5", 42, {80}),
        ("5", 144, {20, 40, 80}),
        ("5", 165, {20, 40, 80, 160}),
        ("6", 2, {20}),
        ("6", 1, {20, 40, 80, 160, 320}),
        ("6", 31, {320}),
        ("6", 233, {20}),
    ],
)
def test_the_widths_a_channel_can_be_part_of(band: str, channel: int, widths: set[int]) -> None:
    assert {width for width in (20, 40, 80, 160, 320) if has_width(band, channel, width)} == widths


@pytest.mark.parametrize(("band", "channel"), [("2.4", 0), ("2.4", 15), ("5", 35), ("5", 68), ("5", 147), ("6", 4)])
def test_numbers_between_channels_are_not_channels(band: str, channel: int) -> None:
    assert not is_channel(band, channel)
    with pytest.raises(ValueError, match=f"{channel} is not the number of a channel in the {band} GHz band"):
        channel_centre_mhz(band, channel)
    with pytest.raises(ValueError, match="is not the number of a channel"):
        power_class(band, channel)


def test_power_classes_divide_the_bands() -> None:
    # Source: common division of the bands in national rules (memory).
    assert power_class("5", 36) == power_class("5", 48) == "5150–5250 MHz"
    assert power_class("5", 52) == power_class("5", 64) == "5250–5350 MHz"
    assert power_class("5", 100) == power_class("5", 144) == "5470–5725 MHz"
    assert power_class("5", 149) == power_class("5", 165) == "5725–5850 MHz"
    assert power_class("5", 177) == "5850–5895 MHz"
    assert power_class("6", 1) == power_class("6", 93) == "5925–6425 MHz"
    assert power_class("6", 97) == power_class("6", 113) == "6425–6525 MHz"
    assert power_class("6", 117) == power_class("6", 181) == "6525–6875 MHz"
    assert power_class("6", 233) == "6875–7125 MHz"
    assert power_class("2.4", 1) == power_class("2.4", 13) != power_class("2.4", 14)


@pytest.mark.parametrize("band", ["2.4", "5", "6"])
def test_every_channel_lies_in_the_sub_band_it_is_named_by(band: str) -> None:
    # Source: channels a band has by width, 20 MHz first (from memory); at 6 GHz channel 2 stands apart.
    channels = [c for c in range(1, 234) if is_channel(band, c)]
    assert len(channels) == {"2.4": 14, "5": 28 + 14 + 7 + 3, "6": 59 + 1 + 29 + 14 + 7 + 6}[band]
    for channel in channels:
        low, high = power_class(band, channel).removesuffix(" MHz").split("–")
        # Channel 169 is the one whose greater part lies outside: 5835 to 5855 MHz across the edge at 5850.
        assert float(low) - 5 <= channel_centre_mhz(band, channel) <= float(high), channel


def test_ethernet_payload_limits() -> None:
    # Source: RFC 6349 section 4.1.1 (81 274 frames of 1538 bytes a second on 1 Gbit/s, 94.9 Mbit/s of TCP on
    # 100 Mbit/s) and the method's 949.3 and 941.5.
    assert pytest.approx(81274, abs=1) == 1e9 / 8 / 1538
    assert tcp_port_limit_mbit_s(1000) == pytest.approx(81274 * 1460 * 8 / 1e6, rel=1e-5)
    assert tcp_port_limit_mbit_s(100) == pytest.approx(94.9, abs=0.05)
    assert tcp_port_limit_mbit_s(1000) == pytest.approx(949.2848, abs=5e-5)
    assert tcp_port_limit_with_timestamps_mbit_s(1000) == pytest.approx(941.4824, abs=5e-5)
    assert udp_port_limit_mbit_s(1000) == pytest.approx(957.0871, abs=5e-5)
    assert tcp_port_limit_mbit_s(2500) == pytest.approx(2.5 * 949.2848, abs=2e-4)


def test_ethernet_payload_limits_of_the_published_table() -> None:
    # Source: tests/published/rfc6349.csv, RFC 6349 section 4.1.1 and its arithmetic for 1 Gbit/s.
    expected = {(row["quantity"], row["inputs"]): float(row["expected"]) for row in read_published("rfc6349")}
    limits = {
        ("max_tcp_throughput", "100 Mbit/s Ethernet"): tcp_port_limit_mbit_s(100),
        ("max_tcp_goodput_eth1500", "1000 Mbit/s x 1460/1538"): tcp_port_limit_mbit_s(1000),
        ("max_tcp_goodput_eth1500_ts", "1000 x 1448/1538"): tcp_port_limit_with_timestamps_mbit_s(1000),
        ("max_udp_eth1500", "1000 x 1472/1538"): udp_port_limit_mbit_s(1000),
    }
    assert limits == {key: pytest.approx(expected[key], abs=1e-4) for key in limits}


def test_power_classes_of_ieee_802_3() -> None:
    # Source: IEEE 802.3-2022, 33 and 145; two public tables agree.
    rows = read_published("poe")
    assert [int(row["class"]) for row in rows] == list(POE_CLASSES) == list(range(9))
    for row in rows:
        limits = POE_CLASSES[int(row["class"])]
        assert limits.limit_w("supply") == limits.supply_w == float(row["pse_min_output_w"])
        assert limits.limit_w("device") == limits.device_w == float(row["pd_max_input_w"])
        assert limits.amendment == row["standard"]


def test_touch_limits_are_the_transcribed_ones_and_say_they_are_from_memory() -> None:
    # Source: IEC 62368-1:2018 table 38 and ISO 13732-1:2006 table 1 as remembered; only plastic 77 was seen.
    materials = {"metal": "metal", "uncoated metal": "metal"}
    materials |= {"glass/porcelain/vitreous": "glass", "ceramics/glass/stone": "glass"}
    materials |= {"plastic/rubber": "plastic", "plastics": "plastic"}
    expected: dict[str, list[tuple[str, float]]] = {"TS1": [], "burn threshold": []}
    for row in read_published("touch_temperature"):
        if row["material"] in materials:
            expected[row["class"]].append((materials[row["material"]], float(row["limit_c"])))

    def listed(limits: tuple) -> list[tuple[str, float]]:  # type: ignore[type-arg]
        return [(m, limit.limit_c[m]) for limit in limits for m in ("metal", "glass", "plastic")]

    assert listed(TOUCH_LIMITS) == expected["TS1"]
    assert listed(BURN_THRESHOLDS[::-1]) == expected["burn threshold"]
    # A unit that is taken down is held, and for no contact is the limit lower.
    assert all(HELD.limit_c[m] <= limit.limit_c[m] for limit in TOUCH_LIMITS for m in HELD.limit_c)
    for limit in (*TOUCH_LIMITS, *BURN_THRESHOLDS):
        assert limit.limit_c["other"] == min(limit.limit_c.values())
        assert str(limit.source).endswith("(from memory, check)")
