"""How far a feature has come on a device: promised, present, on, seen on air, works; and what it takes.

What nobody tested is never a "no", and what works only with a licence does not work without one.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from catalog.records import Feature

# From the maker's word to what was shown to work; what fails or was not tested is on no step.
STEPS = ("promised", "present", "switchable", "on from the box", "seen on air", "works")
TOLD = ("works", "fails")
NO_LICENCE = ("", "none", "no")


@dataclass(frozen=True, slots=True)
class FeatureStanding:
    """One feature of one device.

    steps     step -> latest evidence for it; "fails" and "not tested" among them where they were noted
    now       the latest of works and fails, else the furthest step, else "not tested"
    licences  what it takes to have it work (or, where nobody saw it work, what evidence names); () for none named
    free      a test showed it to work and says that no licence was there
    """

    device: str
    feature: str
    steps: Mapping[str, Feature]
    now: str
    licences: tuple[str, ...]
    free: bool

    @property
    def latest(self) -> Feature:
        """The evidence that *now* rests on."""
        return self.steps[self.now] if self.now in self.steps else max(self.steps.values(), key=lambda f: f.date)


def feature_standings(results: Iterable[Feature]) -> dict[str, list[FeatureStanding]]:
    """feature -> its standing on every device that has evidence of it, by device."""
    grouped: dict[tuple[str, str], list[Feature]] = defaultdict(list)
    for feature in results:
        grouped[feature.feature, feature.device].append(feature)
    standings: dict[str, list[FeatureStanding]] = defaultdict(list)
    for (name, device), evidence in sorted(grouped.items()):
        standings[name].append(_standing(name, device, sorted(evidence, key=lambda f: (f.date, f.firmware))))
    return dict(standings)


def _standing(name: str, device: str, evidence: list[Feature]) -> FeatureStanding:
    steps = {f.step: f for f in evidence}
    tested = [f for f in evidence if f.step in TOLD]
    reached = [step for step in STEPS if step in steps]
    now = tested[-1].step if tested else reached[-1] if reached else "not tested"
    decisive = [f for f in evidence if f.step == "works"] or evidence
    named = [_licence(f) for f in decisive]
    proven_without = now == "works" and not all(named)
    licences = () if proven_without else tuple(dict.fromkeys(licence for licence in named if licence))
    free = any(f.step == "works" and (f.licence or "").strip().lower() in ("none", "no") for f in evidence)
    return FeatureStanding(device, name, steps, now, licences, free)


def _licence(result: Feature) -> str:
    licence = (result.licence or "").strip()
    return "" if licence.lower() in NO_LICENCE else licence
