"""Addresses: relative links that name the file, made of ids."""

from builder import addresses
from builder.bench.cells import Group

GROUP = Group("wrenlet-u2", "5+6", 160, "down", "tcp", 8, "WPA3-Personal", 1)


def test_links_are_relative_and_name_the_file():
    # By hand, as a browser resolves them (RFC 3986, 5.2.4).
    assert addresses.link("devices/a/index.html", addresses.device("b")) == "../b/index.html"
    assert addresses.link("devices/a/index.html", addresses.START) == "../../index.html"
    assert addresses.link("index.html", addresses.DEVICES) == "devices/index.html"
    assert addresses.link("devices/index.html", addresses.DEVICES) == "index.html"


def test_fragment_of_the_own_page_stands_alone():
    assert addresses.link("data/index.html", addresses.DATA, "batches") == "#batches"
    assert addresses.link("index.html", addresses.DATA, "batches") == "data/index.html#batches"


def test_two_devices_have_one_page_whichever_comes_first():
    assert addresses.pair("b", "a") == addresses.pair("a", "b") == "pairs/a--b/index.html"


def test_ids_are_safe_in_addresses_and_stay_apart():
    assert addresses.ranking(GROUP) == "rankings/wrenlet-u2~5_2b_6~160~down~tcp~8~WPA3-Personal/index.html"
    awkward = {addresses.device(name) for name in ("a b", "a_b", "a/b", "a~b", "ab", "a%b", "ä")}
    assert len(awkward) == 7
    for address in awkward:
        assert address.count("/") == 2
        assert addresses.link("index.html", address) == address
