"""What was written about a device: a review whose every number and claim is looked up at each build."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path

from tests.benchmarks.generated.mixes import SINCE, has_mix
from tests.benchmarks.generated.registers import has_heat
from tests.benchmarks.generated.subjects import MAIN, Device, is_weak


def beside(device: Device, batch: Sequence[Device]) -> tuple[Device, Device] | None:
    """Two of its batch to hold it against, the second much weaker; None where it has no review.

    One in four has one: none of the weak, none that is hidden or withdrawn.
    """
    seen = [other for other in batch if other is not device and not other.hidden and not withdrawn(other)]
    strong, weak = ([other for other in seen if is_weak(other) == wanted] for wanted in (False, True))
    if device.number % 4 != 1 or is_weak(device) or device.hidden or withdrawn(device) or not strong or not weak:
        return None
    return strong[device.number % len(strong)], weak[device.number % len(weak)]


def withdrawn(device: Device) -> bool:
    return device.number % 97 == 6


def article_text(device: Device) -> str:
    """Its part of batch.toml."""
    return (
        f'\n[[article]]\nid = "review-{device.id}"\ntitle = "{device.name} at the bench"\n'
        f'published = "{published(device)}T09:00:00+02:00"\nfile = "articles/{device.id}.md"\ndevices = ["{device.id}"]\n'
    )


def published(device: Device) -> date:
    return device.day + timedelta(days=16)


def write_article(device: Device, others: tuple[Device, Device], folder: Path) -> Path:
    """The review of *device* beside two of its batch, the first about as good, the second much weaker."""
    alike, weaker = others
    main = f"client {MAIN.client}, band {MAIN.band}, width {MAIN.width_mhz}, direction down"
    paragraphs = [
        f"We tested the {device.model} for two days with firmware (= firmware {device.id} =), (= tested {device.id} =).",
        "## In the rooms",
        f"(= under {main} =)",
        f"A wall or two away it gives (= value {device.id}, at 62 =), and far off (= value {device.id}, at 79 =). "
        f"It keeps a film going up to (= reach {device.id}, rate 50 =).",
        f"(= verdict {device.id} {alike.id} =) The difference is (= difference {device.id} {alike.id} =).",
        f"(= claim {device.id} leads {weaker.id} : It is the quicker of the two =), by "
        f"(= difference {device.id} {weaker.id} =).",
        f"(= lines {device.id} {alike.id} {weaker.id} : Which one for the far room? =)",
        "## What else",
        f"It takes (= power {device.id}, state idle, side supply =) when nobody does anything.",
    ]
    if has_heat(device):
        paragraphs.append(
            f"Its cover is warm after an hour: (= heat {device.id}, face cover, load all radios loaded =)."
        )
    if has_mix(device) and device.share >= SINCE:
        paragraphs.append(f"With three machines at once it (= coped {device.id}, workload evening =).")
        paragraphs.append(f"(= mix {device.id}, workload evening, mix {device.id}-evening-1 : Who waited? =)")
    paragraphs.append(f"(= ports {device.id} =)")
    path = folder / "articles" / f"{device.id}.md"
    path.parent.mkdir(exist_ok=True)
    path.write_text("\n\n".join(paragraphs) + "\n", encoding="utf-8")
    return path
