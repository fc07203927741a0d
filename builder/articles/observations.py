"""Quotes of what is seen and not run: a price, a surface's rise, a drawn power, how far a feature has come.

None of them is ever chosen silently: where several observations fit, the build asks for what tells them apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeVar

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence, subject_of
from builder.articles.quotes import Quote, unbroken
from builder.bench.bench import Subject
from builder.metrics.heat import READING_K
from builder.pairs import refusals
from builder.registers.features import FeatureStanding, feature_standings
from builder.registers.heat import rise_of
from builder.registers.power import SIDE_WORDS, Reading, readings
from builder.registers.prices import age_remark, latest_price
from catalog.records import Feature, Heat, Power, Price

Observed = TypeVar("Observed")
_MOST_NAMED = 6
_SIGNS = {"EUR": "€", "USD": "$", "GBP": "£"}


def price(evidence: Evidence, binding: Binding) -> Quote:
    """The newest dated price, or that of a day. Raises NotBound: none has a date, or several are as new."""
    who = subject_of(evidence, binding.subjects[0])
    found = _wanted(
        evidence.prices.get(who.device, ()),
        binding,
        {
            "region": lambda p: p.region,
            "condition": lambda p: p.condition,
            "on": lambda p: p.date[:10],
        },
    )
    newest = latest_price(found)
    if newest is None:
        raise NotBound(refusals.undated_price(_model(who)))
    one = _only([p for p in found if p.date == newest.date], "price", _model(who), _price_options)
    conditions = [part for part in (one.condition, one.region) if part]
    remark = age_remark(one, evidence.as_of)
    return Quote(
        f"{unbroken(wording.money(one.amount, one.currency))} {_tax(one)} ({wording.date(one.date)})",
        f"price{', ' + remark if remark else ''}",
        _model(who),
        ", ".join(conditions),
        wording.date(one.date),
        0,
        (who.device,),
        remark=f"prints a price that is {remark}" if remark else "",
    )


def _tax(found: Price) -> str:
    return {True: "with tax", False: "without tax", None: "(tax not stated)"}[found.tax_included]


def _price_options(found: Price) -> str:
    return _options(region=found.region, condition=found.condition)


def heat(evidence: Evidence, binding: Binding) -> Quote:
    """The rise of a surface above its room, with what a reading is good to and the load.

    Raises  NotBound: no such reading, several, or none of the room, so that there is no rise.
    """
    who = subject_of(evidence, binding.subjects[0])
    one = heat_reading(evidence, binding, who)
    rise = rise_of(one)
    if rise is None:
        raise NotBound(refusals.heat_without_room(_model(who)))
    said = [
        f"{wording.celsius(one.reading_c)} on {one.material}",
        one.mount,
        "" if one.emissivity is None else f"emissivity {wording.trimmed(one.emissivity, 2)}",
    ]
    return Quote(
        f"{unbroken(wording.kelvin(rise))} above the room (each reading ±{unbroken(f' {READING_K:g} K')}), "
        f"{one.load}, after {_minutes(one)}",
        f"rise of the {one.face} above the room",
        f"{_model(who)}, unit {one.unit}",
        ", ".join(part for part in said if part),
        _session_day(evidence, one.session),
        0,
        (who.device,),
    )


def heat_reading(evidence: Evidence, binding: Binding, who: Subject) -> Heat:
    """The one reading of a device under a binding's options. Raises NotBound: none, or several."""
    found = _wanted(
        _of_unit(evidence.heat.get(who.device, ()), binding, who),
        binding,
        {
            "face": lambda h: h.face,
            "load": lambda h: h.load,
            "minutes": lambda h: wording.trimmed(h.minutes, 2),
            "mount": lambda h: h.mount,
            "session": lambda h: h.session,
        },
    )
    return _only(found, "surface temperature", _model(who), _heat_options)


def _heat_options(found: Heat) -> str:
    return _options(
        face=found.face,
        load=found.load,
        minutes=wording.trimmed(found.minutes, 2),
        mount=found.mount,
        session=found.session,
    )


def _minutes(found: Heat) -> str:
    return unbroken(f"{wording.trimmed(found.minutes, 2)} min")


def _session_day(evidence: Evidence, session: str | None) -> str:
    return next((wording.date(c.date) for c in evidence.bench.cells if session and c.session == session), "")


def power(evidence: Evidence, binding: Binding) -> Quote:
    """A drawn power, where it was read, and the class it needs. Raises NotBound: no such reading, or several."""
    who = subject_of(evidence, binding.subjects[0])
    own = _of_unit(evidence.power.get(who.device, ()), binding, who)
    found = _wanted(own, binding, {"state": lambda p: p.state, "side": lambda p: p.side})
    one = _only(found, "power reading", _model(who), _power_options)
    (reading,) = readings(evidence.bench.devices[who.device], [one])
    said = [
        one.state,
        "" if one.source_class is None else f"source of class {one.source_class}",
        "" if one.cable_m is None else f"{wording.trimmed(one.cable_m, 1)} m of cable",
    ]
    return Quote(
        f"{unbroken(wording.watts(one.watts))} {SIDE_WORDS[one.side]}, {_class(reading)}",
        f"power{'; ' + reading.contradiction.rstrip('.') if reading.contradiction else ''}",
        f"{_model(who)}, unit {one.unit}",
        ", ".join(part for part in said if part),
        "",
        0,
        (who.device,),
    )


def _class(found: Reading) -> str:
    return "more than any class allows" if found.needed is None else unbroken(f"class {found.needed}")


def _power_options(found: Power) -> str:
    return _options(state=found.state, side=found.side)


def feature(evidence: Evidence, binding: Binding) -> Quote:
    """How far a feature has come, and with which licence; never "no" for what nobody looked at.

    Raises  NotBound: no evidence of such a feature on the device, or none with the firmware that is named.
    """
    who = subject_of(evidence, binding.subjects[0])
    name = binding.options.get("name")
    if name is None:
        raise NotBound("feature needs name.")
    firmware = binding.subjects[0].partition("@")[2]
    own = [f for f in evidence.features.get(who.device, ()) if firmware in ("", f.firmware)]
    standing = _standings(own).get(name.lower())
    if standing is None:
        known = wording.listing(list(dict.fromkeys(f.feature for f in own))[:_MOST_NAMED]) or "nothing"
        raise NotBound(
            f"Nobody noted how far {name!r} has come on {_model(who)}, which does not mean it is missing. "
            f"Noted is {known}."
        )
    latest = standing.latest
    licence = f", with the licence {wording.listing(standing.licences, 'or')}" if standing.licences else ""
    return Quote(
        standing.now + licence,
        f"step of the feature “{standing.feature}”",
        f"{_model(who)} {latest.firmware}",
        latest.how or "",
        wording.date(latest.date),
        0,
        (who.device,),
    )


def _standings(found: Sequence[Feature]) -> dict[str, FeatureStanding]:
    return {name.lower(): standing for name, (standing,) in feature_standings(found).items()}


QUOTED: Mapping[str, Callable[[Evidence, Binding], Quote]] = {
    "price": price,
    "heat": heat,
    "power": power,
    "feature": feature,
}


def candidates(evidence: Evidence, device: str) -> Iterator[tuple[str, tuple[str, ...]]]:
    """What could be bound of a device's observations: a binding, and how its number may have been typed."""
    newest = latest_price(evidence.prices.get(device, ()))
    for one in evidence.prices.get(device, ()):
        day = "" if one == newest else f", on {one.date[:10]}"
        amount = wording.money(one.amount, one.currency)
        sign = _SIGNS.get(one.currency, "")
        bare = amount.removesuffix(f" {one.currency}")
        typed = (amount, f"{one.currency} {bare}", *((f"{sign}{bare}", f"{bare} {sign}") if sign else ()))
        yield f"price {device}{_after(_price_options(one))}{day}", typed
    for reading in evidence.heat.get(device, ()):
        rise = rise_of(reading)
        if rise is not None:
            kelvins, celsius = wording.kelvin(rise), wording.celsius(reading.reading_c)
            said = (kelvins, kelvins.replace(".0 ", " "), celsius, celsius.replace(".0 ", " "))
            yield f"heat {device}{_after(_heat_options(reading))}", said
    for drawn in evidence.power.get(device, ()):
        yield f"power {device}{_after(_power_options(drawn))}", (wording.watts(drawn.watts),)


def _after(options: str) -> str:
    return f", {options}" if options else ""


def _options(**said: str | None) -> str:
    """Options as an author writes them; a value with a comma or a colon stands in quotes."""
    quoted = {name: f'"{text}"' if text and set(text) & set(",:") else text for name, text in said.items()}
    return ", ".join(f"{name} {text}" for name, text in quoted.items() if text)


def _wanted(
    found: Sequence[Observed], binding: Binding, of: Mapping[str, Callable[[Observed], str | None]]
) -> list[Observed]:
    """Those that are as every option of the binding says, whatever the case of letters."""
    named = {name: value.lower() for name, value in binding.options.items() if name in of}
    return [one for one in found if all((of[name](one) or "").lower() == value for name, value in named.items())]


def _only(found: Sequence[Observed], what: str, name: str, options: Callable[[Observed], str]) -> Observed:
    if not found:
        raise NotBound(f"There is no such {what} of {name}.")
    if len(found) > 1:
        named = "; ".join(options(one) for one in found[:_MOST_NAMED])
        more = f"; and {len(found) - _MOST_NAMED} more" if len(found) > _MOST_NAMED else ""
        raise NotBound(f"There is more than one {what} of {name}, so one must be named: {named}{more}.")
    return found[0]


_Unit = TypeVar("_Unit", Heat, Power)


def _of_unit(found: Sequence[_Unit], binding: Binding, who: Subject) -> list[_Unit]:
    """Those of the unit that was named, or all."""
    return [one for one in found if "/" not in binding.subjects[0] or one.unit == who.unit]


def _model(who: Subject) -> str:
    return f"{who.maker} {who.model}"
