"""What the lines of a chart are called on them: maker and model, the model, or its last word, but never the same twice."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from builder.bench.bench import Bench
from builder.bench.tracks import Track
from builder.charts.label_text import LabelText


def line_names(bench: Bench, tracks: Sequence[Track]) -> list[tuple[LabelText, ...]]:
    """Names for each line, from the longest to the shortest; none where settings tell the lines apart.

    Where a device stands twice its firmware goes along, and where that is the same, too, its unit.
    """
    cells = [track.cells[0] for track in tracks]
    if any(cell.settings for cell in cells):
        return [() for _ in cells]
    devices = [bench.devices[cell.device] for cell in cells]
    of_device = [[c for c in cells if c.device == cell.device] for cell in cells]
    tails = [
        _tail(cell.firmware, cell.unit, [(c.firmware, c.unit) for c in of_it])
        for cell, of_it in zip(cells, of_device, strict=True)
    ]
    makers, models = [one.maker for one in devices], [one.model for one in devices]
    repeated = _repeated([cell.device for cell in cells], models)
    forms: list[list[LabelText]] = [
        [LabelText(maker, model + tail) for maker, model, tail in zip(makers, models, tails, strict=True)]
    ]
    for words in (models, _last_words(models)):
        forms.append(
            [
                LabelText(maker if again else "", word + tail)
                for maker, again, word, tail in zip(makers, repeated, words, tails, strict=True)
            ]
        )
    return [tuple(dict.fromkeys(names)) for names in zip(*forms, strict=True)]


def _tail(firmware: str, unit: str, of_device: Sequence[tuple[str, str]]) -> str:
    """What tells lines of one device apart: "", firmware, unit or both."""
    if len(of_device) == 1:
        return ""
    several = len({version for version, _ in of_device}) > 1
    named = Counter(version if several else letter for version, letter in of_device)
    if several and named[firmware] > 1:
        return f", {firmware}, unit {unit}"
    return f", {firmware}" if several else f", unit {unit}"


def _repeated(devices: Sequence[str], models: Sequence[str]) -> list[bool]:
    """Whether another maker's model is called the same."""
    return [
        any(model == other and device != whose for other, whose in zip(models, devices, strict=True))
        for model, device in zip(models, devices, strict=True)
    ]


def _last_words(models: Sequence[str]) -> list[str]:
    """Each model's last word that has a letter, with what follows it; the whole model where two would be the same."""
    shorts = {model: _last_word(model) for model in models}
    again = Counter(shorts.values())
    return [model if again[shorts[model]] > 1 else shorts[model] for model in models]


def _last_word(model: str) -> str:
    words = model.split()
    endings = (" ".join(words[-count:]) for count in range(1, len(words)))
    return next((text for text in endings if any(letter.isalpha() for letter in text)), model)
