"""Same insides? Parts of two devices side by side, and which devices share a part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Section
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.device_register import how_known_entry
from builder.registers.parts import Block, devices_by_part, matched_blocks
from catalog.figure_names import joined_id
from catalog.records import Part

MOST_NAMED = 4
LIKENESS_WORDS = {
    "same": "the same marking",
    "partly": "partly the same",
    "different": "another marking",
    "unknown": "cannot be told",
}


def inside_section(catalogue: Catalogue, results: Results, here: str, a: str, b: str) -> Section | None:
    """The parts of two devices aligned by block; None unless both were opened."""
    if not catalogue.parts.get(a) or not catalogue.parts.get(b):
        return None
    blocks = matched_blocks(catalogue.parts[a], catalogue.parts[b])
    table = table_of(
        blocks,
        (
            Column("Block", lambda block: Entry(text=block.name)),
            Column(device_name(results.bench, a), lambda block: _side_entry(here, block.a)),
            Column(device_name(results.bench, b), lambda block: _side_entry(here, block.b)),
            Column("Same?", _likeness_entry),
        ),
        key="inside-parts",
        caption="Parts by block. The same part does not make the same performance.",
    )
    return Section("same-insides", "Same insides?", (_sentence(blocks),), tables=(table,))


def _sentence(blocks: Sequence[Block]) -> str:
    same = [b.name for b in blocks if b.likeness == "same"]
    other = [b.name for b in blocks if b.likeness in ("different", "partly")]
    unknown = [b.name for b in blocks if b.likeness == "unknown"]
    parts = [f"the same marking: {wording.listing(same)}"] if same else []
    parts += [f"not the same: {wording.listing(other)}"] if other else []
    parts += [f"not identified on both: {wording.listing(unknown)}"] if unknown else []
    return f"{wording.capital('; '.join(parts))}."


def _side_entry(here: str, parts: Sequence[Part]) -> Entry:
    if not parts:
        return Entry(why_missing="not identified")
    texts = [f"{p.marking}{f' × {p.count}' if p.count else ''}" for p in parts]
    inferred = [p.marking for p in parts if p.read != "read"]
    note = f"inferred: {wording.listing(inferred)}" if inferred else ""
    href = addresses.link(here, addresses.INSIDES, part_key(parts[0].block))
    return Entry(text=wording.listing(texts), note=note, href=href)


def _likeness_entry(block: Block) -> Entry:
    note = "a marking was inferred" if block.inferred and block.likeness != "unknown" else ""
    if block.likeness == "partly":
        note = "; ".join(t for t in (wording.listing(block.shared), note) if t)
    return Entry(text=LIKENESS_WORDS[block.likeness], note=note)


def part_key(block: str) -> str:
    """Fragment of a block on the page of all parts."""
    return joined_id("block", block)


def insides_page(catalogue: Catalogue, results: Results, site: SiteContext) -> SectionedPage:
    """Every part by block, with the devices that have it."""
    here = addresses.INSIDES
    every = [part for parts in catalogue.parts.values() for part in parts]
    owners = devices_by_part(every)
    shared = [key for key, devices in owners.items() if len(devices) > 1]
    blocks = sorted({block for block, _ in owners})
    return SectionedPage(
        address=here,
        title="Parts",
        cautions=True,
        question="Which have the same insides?",
        verdict=_verdict(catalogue, shared),
        sections=tuple(_section(results, here, block, every, owners) for block in blocks),
        cannot_say=(
            "What a device gives that has the same parts: antennas, power and firmware decide as well.",
            "What is inside of a device that is not listed: nobody opened it, or could read nothing.",
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _verdict(catalogue: Catalogue, shared: Sequence[tuple[str, str]]) -> str:
    opened = wording.count(sum(bool(parts) for parts in catalogue.parts.values()), "device")
    if not shared:
        return f"{wording.capital(opened)} opened so far; no two share a marking."
    return (
        f"{wording.capital(opened)} opened so far; {wording.count(len(shared), 'marking')} "
        f"{'was' if len(shared) == 1 else 'were'} found in more than one."
    )


def _section(
    results: Results,
    here: str,
    block: str,
    parts: Sequence[Part],
    owners: Mapping[tuple[str, str], Sequence[str]],
) -> Section:
    def also_in(part: Part) -> Entry:
        others = [d for d in owners[block, part.marking] if d != part.device]
        names = [device_name(results.bench, d) for d in others]
        return Entry(text=wording.listing_of_many(names, MOST_NAMED), why_missing="none known")

    table = table_of(
        sorted((p for p in parts if p.block == block), key=lambda p: (p.marking, p.device)),
        (
            Column("Marking", lambda p: Entry(text=p.marking)),
            Column("Device", lambda p: device_entry(results, here, p.device, "inside")),
            Column("Count", _count_entry, numeric=True),
            Column("How known", how_known_entry),
            Column("Also in", also_in, sentence=True),
        ),
        key=f"table-{part_key(block)}",
        caption=f"{wording.capital(block)}: markings",
    )
    return Section(part_key(block), wording.capital(block), tables=(table,))


def _count_entry(part: Part) -> Entry:
    return Entry(text="" if part.count is None else str(part.count), why_missing="not counted")
