"""Same insides? Blocks aligned, and what cannot be told."""

import itertools

from builder.bench.naming import device_name
from builder.pages.contents import compose
from builder.pages.insides import inside_section, insides_page
from builder.pages.pair import pair_page
from builder.registers.parts import alike, devices_by_part, matched_blocks
from catalog.records import Part
from tests.builder.pages.conftest import by_heading

NUMBER = itertools.count(1)


def part(block, marking, *, device="a", read="read", count=None):
    number = next(NUMBER)
    return Part(
        batch_id="b",
        source_file="parts.csv",
        source_row=number + 1,
        part_id=number,
        device=device,
        revision=None,
        block=block,
        marking=marking,
        count=count,
        read=read,
        photo=None,
    )


def test_blocks_are_aligned_and_what_is_missing_is_not_identified():
    # E21 of the job analysis: align by block, same marking linked, inferred marked, missing "not identified".
    a = [part("radio", "X1"), part("radio", "X2"), part("memory", "M"), part("clock", "C", read="inferred")]
    b = [part("radio", "X1", device="b"), part("memory", "M", device="b"), part("clock", "D", device="b")]
    found = {block.name: block for block in matched_blocks(a, [*b, part("socket", "S", device="b")])}
    assert list(found) == ["clock", "memory", "radio", "socket"]
    assert {name: block.likeness for name, block in found.items()} == {
        "clock": "different",
        "memory": "same",
        "radio": "partly",
        "socket": "unknown",
    }
    assert found["clock"].inferred
    assert not found["memory"].inferred
    assert found["radio"].shared == ("X1",)


def test_a_marking_in_another_block_is_another_part():
    assert devices_by_part([part("radio", "X"), part("memory", "X", device="b")]) == {
        ("memory", "X"): ["b"],
        ("radio", "X"): ["a"],
    }


def test_pairs_that_were_both_opened_show_it_and_no_others(demo):
    opened = set(demo.catalogue.parts)
    shown = 0
    for a, b in demo.results.pairs:
        page = compose(pair_page, demo, a, b)
        assert (page.inside is not None) == ({a, b} <= opened)
        if page.inside:
            shown += 1
            rows = by_heading(page.inside.tables[0])
            names = [device_name(demo.results.bench, device) for device in (a, b)]
            assert {row["Block"].text for row in rows} == {p.block for d in (a, b) for p in demo.catalogue.parts[d]}
            for row in rows:
                sides = [row[name] for name in names]
                assert all(side.text or side.why_missing == "not identified" for side in sides)
                assert (row["Same?"].text == "cannot be told") == any(side.why_missing for side in sides)
    assert shown


def test_the_same_marking_leads_to_whoever_has_it(demo):
    a, b = next((a, b) for a, b in demo.results.pairs if a in demo.catalogue.parts and b in demo.catalogue.parts)
    section = compose(inside_section, demo, "pairs/x/index.html", a, b)
    keys = {part.key for part in compose(insides_page, demo).blocks}
    for row in by_heading(section.tables[0]):
        for side in (row[device_name(demo.results.bench, device)] for device in (a, b)):
            if side.href:
                path, _, fragment = side.href.partition("#")
                assert path == "../../insides/index.html"
                assert fragment.replace("%7E", "~") in keys


def table_of(page, key):
    (table,) = [table for part in page.sections for table in part.tables if table.key == key]
    return by_heading(table)


def test_pairs_that_share_main_parts_are_said_the_most_alike_first(demo):
    # Source: data/demo, parts.csv: Skerry and Rondel 6 share OX-902, M8-1024 and CR5-42, which Skerry's was inferred;
    # Lantern and Ridge share OX-771, and a radio was inferred; Tarn shares M8-1024 with the first two.
    page = compose(insides_page, demo)
    said = [(row["Two devices"].text, row["What is the same, and what is not"].text) for row in table_of(page, "alike")]
    assert said[:2] == [
        (
            "Fjeldrun Skerry and Polmerre Rondel 6",
            "Same main processor and memory, and probably the same 6 GHz radio; identified in one of them only: 5 GHz "
            "radio and power converter.",
        ),
        (
            "Quillmast Lantern and Quillmast Ridge",
            "Same main processor; probably different: 5 GHz radio; identified in one of them only: memory and antennas.",
        ),
    ]
    assert [names for names, _ in said[2:]] == [
        "Fjeldrun Skerry and Veltrisk Tarn",
        "Polmerre Rondel 6 and Veltrisk Tarn",
    ]
    assert page.verdict == (
        "Fjeldrun Skerry and Polmerre Rondel 6: same main processor and memory, and probably the same 6 GHz radio. "
        "6 devices opened so far."
    )


def test_pairs_lead_to_their_comparison(demo):
    for row in table_of(compose(insides_page, demo), "alike"):
        assert row["Two devices"].href.startswith(("../pairs/", "../chooser/index.html#devices="))


def test_a_part_that_is_not_main_makes_no_pair():
    parts = {d: [part("socket", "S", device=d), part("main processor", f"P-{d}", device=d)] for d in "ab"}
    assert alike(parts) == []
    (pair,) = alike({d: [*parts[d], part("memory", "M", device=d)] for d in "ab"})
    assert (pair.named("same"), pair.named("different")) == (["memory", "socket"], ["main processor"])


def test_each_device_stands_with_its_parts_and_who_else_has_them(demo):
    rows = {row["Device"].text: row for row in table_of(compose(insides_page, demo), "by-device")}
    assert rows.keys() == {device_name(demo.results.bench, d) for d in demo.catalogue.parts}
    radio = rows["Fjeldrun Skerry"]["6 GHz radio"]
    assert (radio.text, radio.note) == ("Castrane CR5-42", "inferred; also in Rondel 6")
    assert rows["Quillmast Ridge"]["Memory"].why_missing == "not identified"
    assert rows["Tessarik Cupola"]["Other parts"].text == "wired socket: Quoin Q5T"


def test_nothing_shared_is_said(small):
    assert compose(insides_page, small).verdict == "1 device opened so far; no two share a main part."
