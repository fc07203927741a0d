"""Same insides? Parts of two devices side by side, and which devices share a part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Section
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.entries import device_entry, link_entry, text_entry
from builder.pages.parts.provenance import provenance
from builder.pages.parts.sectioned import SectionedPage
from builder.pages.tables.device_register import how_known_entry
from builder.registers.parts import Alike, Block, Likeness, alike, devices_by_part, is_main, matched_blocks
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
    def names(*likeness: Likeness, inferred: bool) -> list[str]:
        return [b.name for b in blocks if b.likeness in likeness and b.inferred is inferred]

    parts = [
        *_listed("the same marking", names("same", inferred=False)),
        *_listed("probably the same", names("same", inferred=True)),
        *_listed("not the same", names("different", "partly", inferred=False)),
        *_listed("probably not the same", names("different", "partly", inferred=True)),
        *_listed("not identified on both", [b.name for b in blocks if b.likeness == "unknown"]),
    ]
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


@dataclass(frozen=True, kw_only=True)
class InsidesPage(SectionedPage):
    """Pairs that share main parts, the parts of each device, and every marking by block, folded up."""

    template: ClassVar[str] = "insides"

    blocks: tuple[Section, ...]


def insides_page(catalogue: Catalogue, results: Results, site: SiteContext) -> InsidesPage:
    """Which two share their main parts, in words; then the main parts of every device that was opened."""
    here = addresses.INSIDES
    opened = {device: parts for device, parts in catalogue.parts.items() if parts}
    every = [part for parts in opened.values() for part in parts]
    owners = devices_by_part(every)
    pairs = alike(opened)
    return InsidesPage(
        address=here,
        title="Same insides",
        cautions=True,
        question="Which two are the same inside?",
        verdict=_verdict(results, len(opened), pairs),
        sections=(
            *((_pairs_section(results, here, pairs),) if pairs else ()),
            *((_devices_section(results, here, opened, owners),) if opened else ()),
        ),
        blocks=tuple(_section(results, here, block, every, owners) for block in sorted({block for block, _ in owners})),
        cannot_say=(
            "What a device gives that has the same parts: antennas, power and firmware decide as well.",
            "What is inside of a device that is not listed: nobody opened it, or could read nothing.",
        ),
        provenance=provenance(catalogue, results, site, here),
    )


def _verdict(results: Results, opened: int, pairs: Sequence[Alike]) -> str:
    devices = wording.capital(wording.count(opened, "device"))
    if not opened:
        return "No device was opened yet."
    if not pairs:
        return f"{devices} opened so far; no two share a main part."
    return f"{_names(results, pairs[0])}: {_same(pairs[0])}. {devices} opened so far."


def _names(results: Results, pair: Alike) -> str:
    return wording.listing([device_name(results.bench, device) for device in (pair.a, pair.b)])


def _same(pair: Alike) -> str:
    """ "same main processor and memory, and probably the same 6 GHz radio"."""
    read, inferred = _by_reading(pair, "same")
    same = [f"same {wording.listing(read)}"] if read else []
    same += [f"probably the same {wording.listing(inferred)}"] if inferred else []
    parts = [", and ".join(same)] if same else []
    read, inferred = _by_reading(pair, "partly")
    parts += [f"partly the same {wording.listing(read)}"] if read else []
    parts += [f"probably partly the same {wording.listing(inferred)}"] if inferred else []
    return "; ".join(parts)


def _by_reading(pair: Alike, likeness: Likeness) -> tuple[list[str], list[str]]:
    """Blocks of that likeness of which both markings were read, and those of which one was inferred."""
    read: list[str] = []
    inferred: list[str] = []
    for name in pair.named(likeness):
        (inferred if name in pair.inferred else read).append(name)
    return read, inferred


def alike_sentence(pair: Alike) -> str:
    """What two devices share, what differs, and what was identified in one of them only."""
    different, inferred = _by_reading(pair, "different")
    parts = [
        _same(pair),
        *_listed("different", different),
        *_listed("probably different", inferred),
        *_listed("identified in one of them only", pair.named("unknown")),
    ]
    return f"{wording.capital('; '.join(parts))}."


def _listed(words: str, names: Sequence[str]) -> list[str]:
    return [f"{words}: {wording.listing(names)}"] if names else []


def _pairs_section(results: Results, here: str, pairs: Sequence[Alike]) -> Section:
    """A sentence for each pair, the most alike first."""
    table = table_of(
        pairs,
        (
            Column("Two devices", lambda pair: _pair_entry(results, here, pair)),
            Column("What is the same, and what is not", lambda pair: Entry(text=alike_sentence(pair)), sentence=True),
        ),
        key="alike",
        caption="Devices that share a processor, a radio or memory, the most alike first",
    )
    return Section("pairs", "Which two?", tables=(table,))


def _pair_entry(results: Results, here: str, pair: Alike) -> Entry:
    """Both names, linked to the page that compares them, or to where a reader can have them compared."""
    names = _names(results, pair)
    if (pair.a, pair.b) in results.pairs_of.get(pair.a, ()):
        return link_entry(here, names, addresses.pair(pair.a, pair.b))
    if all(results.bench.cells_of.get(device) for device in (pair.a, pair.b)):
        choice = addresses.link_with_choices(here, addresses.CHOOSER, devices=f"{pair.a} {pair.b}")
        return Entry(text=names, href=choice)
    return Entry(text=names)


def _devices_section(
    results: Results, here: str, opened: Mapping[str, Sequence[Part]], owners: Mapping[tuple[str, str], Sequence[str]]
) -> Section:
    """The main parts of each device, a column for each block; those with equal ones stand together."""
    counts = Counter(block for block, _ in owners for device in opened if _parts(opened[device], block))
    blocks = sorted(filter(is_main, counts), key=lambda block: (-counts[block], block))
    first = blocks[:1]

    def cell(block: str) -> Column[str]:
        return Column(wording.capital(block), lambda d: _marking_entry(results, d, _parts(opened[d], block), owners))

    def others(device: str) -> Entry:
        texts = [f"{p.block}: {p.marking}" for p in opened[device] if not is_main(p.block)]
        return text_entry("; ".join(texts), missing="none identified")

    table = table_of(
        sorted(opened, key=lambda d: ([p.marking for block in first for p in _parts(opened[d], block)], d)),
        (
            Column("Device", lambda d: device_entry(results, here, d, "inside")),
            *map(cell, blocks),
            Column("Other parts", others, sentence=True),
        ),
        key="by-device",
        caption="Main parts of every device that was opened",
    )
    return Section("devices", "What is in which?", tables=(table,))


def _parts(parts: Sequence[Part], block: str) -> list[Part]:
    return [part for part in parts if part.block == block]


def _marking_entry(
    results: Results, device: str, parts: Sequence[Part], owners: Mapping[tuple[str, str], Sequence[str]]
) -> Entry:
    others = dict.fromkeys(d for p in parts for d in owners[p.block, p.marking] if d != device)
    names = [results.bench.devices[other].model for other in others]
    notes = ["inferred"] if any(p.read != "read" for p in parts) else []
    notes += [f"also in {wording.listing_of_many(names, MOST_NAMED)}"] if names else []
    return text_entry(wording.listing([p.marking for p in parts]), missing="not identified", note="; ".join(notes))


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
