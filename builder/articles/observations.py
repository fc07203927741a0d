"""Quotes of what is seen and not run: a price, a surface's rise, a drawn power, how far a feature has come.

None of them is ever chosen silently: where several observations fit, the build asks for what tells them apart.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import TypeVar

from builder import wording
from builder.articles.bindings import Binding, NotBound
from builder.articles.evidence import Evidence, named_parts, subject_of
from builder.articles.quotes import Quote, unbroken
from builder.bench.bench import Subject
from builder.metrics.heat import READING_K
from builder.pairs import refusals
from builder.registers.features import FeatureStanding, feature_standings
from builder.registers.heat import rise_of
from builder.registers.power import SIDE_WORDS, Reading, readings
from builder.registers.prices import latest_price, seen_words
from catalog.records import Feature, Heat, Power, Price

Observed = TypeVar("Observed")
_MOST_NAMED = 6
_SIGNS = {"EUR": "€", "USD": "$", "GBP": "£"}


def price(evidence: Evidence, binding: Binding) -> Quote:
    """The newest dated price, or that of a day. Raises NotBound: none has a date, or several are as new."""
    subject = subject_of(evidence, binding.subjects[0])
    prices = _wanted(
        evidence.prices.get(subject.device, ()),
        binding,
        {
            "region": lambda p: p.region,
            "condition": lambda p: p.condition,
            "on": lambda p: p.date[:10],
        },
    )
    newest = latest_price(prices)
    if newest is None:
        raise NotBound(refusals.undated_price(_model(subject)))
    one = _only([p for p in prices if p.date == newest.date], "price", _model(subject), _price_options)
    conditions = [part for part in (one.condition, one.region) if part]
    remark = seen_words(one) if evidence.old[one.date] else ""
    return Quote(
        f"{unbroken(wording.money(one.amount, one.currency))} {_tax(one)} ({wording.date(one.date)})",
        remark or "price",
        _model(subject),
        ", ".join(conditions),
        wording.date(one.date),
        0,
        (subject.device,),
        remark=f"prints a {remark}: look again" if remark else "",
    )


def _tax(record: Price) -> str:
    return {True: "with tax", False: "without tax", None: "(tax not stated)"}[record.tax_included]


def _price_options(record: Price) -> str:
    return _options(region=record.region, condition=record.condition)


def heat(evidence: Evidence, binding: Binding) -> Quote:
    """The rise of a surface above its room, with what a reading is good to and the load.

    Raises  NotBound: no such reading, several, or none of the room, so that there is no rise.
    """
    subject = subject_of(evidence, binding.subjects[0])
    one = heat_reading(evidence, binding, subject)
    rise = rise_of(one)
    if rise is None:
        raise NotBound(refusals.heat_without_room(_model(subject)))
    conditions = [
        f"{wording.celsius(one.reading_c)} on {one.material}",
        one.mount,
        "" if one.emissivity is None else f"emissivity {wording.trimmed(one.emissivity, 2)}",
    ]
    return Quote(
        f"{unbroken(wording.kelvin(rise))} above the room (each reading ±{unbroken(f' {READING_K:g} K')}), "
        f"{one.load}, after {_minutes(one)}",
        f"rise of the {one.face} above the room",
        f"{_model(subject)}, unit {one.unit}",
        ", ".join(part for part in conditions if part),
        _session_day(evidence, one.session),
        0,
        (subject.device,),
    )


def heat_reading(evidence: Evidence, binding: Binding, subject: Subject) -> Heat:
    """The one reading of a device under a binding's options. Raises NotBound: none, or several."""
    records = _wanted(
        _of_unit(evidence.heat.get(subject.id, ()), binding, subject),
        binding,
        {
            "face": lambda h: h.face,
            "load": lambda h: h.load,
            "minutes": lambda h: wording.trimmed(h.minutes, 2),
            "mount": lambda h: h.mount,
            "session": lambda h: h.session,
        },
    )
    return _only(records, "surface temperature", _model(subject), _heat_options)


def _heat_options(reading: Heat) -> str:
    return _options(
        face=reading.face,
        load=reading.load,
        minutes=wording.trimmed(reading.minutes, 2),
        mount=reading.mount,
        session=reading.session,
    )


def _minutes(reading: Heat) -> str:
    return unbroken(f"{wording.trimmed(reading.minutes, 2)} min")


def _session_day(evidence: Evidence, session: str | None) -> str:
    day = evidence.bench.session_days.get(session) if session else None
    return wording.date(day) if day else ""


def power(evidence: Evidence, binding: Binding) -> Quote:
    """A drawn power, where it was read, and the class it needs. Raises NotBound: no such reading, or several."""
    subject = subject_of(evidence, binding.subjects[0])
    of_unit = _of_unit(evidence.power.get(subject.id, ()), binding, subject)
    records = _wanted(of_unit, binding, {"state": lambda p: p.state, "side": lambda p: p.side})
    one = _only(records, "power reading", _model(subject), _power_options)
    (reading,) = readings(evidence.bench.devices[subject.device], [one])
    conditions = [
        one.state,
        "" if one.source_class is None else f"source of class {one.source_class}",
        "" if one.cable_m is None else f"{wording.trimmed(one.cable_m, 1)} m of cable",
    ]
    return Quote(
        f"{unbroken(wording.watts(one.watts))} {SIDE_WORDS[one.side]}, {_class(reading)}",
        f"power{'; ' + reading.contradiction.rstrip('.') if reading.contradiction else ''}",
        f"{_model(subject)}, unit {one.unit}",
        ", ".join(part for part in conditions if part),
        "",
        0,
        (subject.device,),
    )


def _class(reading: Reading) -> str:
    return "more than any class allows" if reading.needed is None else unbroken(f"class {reading.needed}")


def _power_options(reading: Power) -> str:
    return _options(state=reading.state, side=reading.side)


def feature(evidence: Evidence, binding: Binding) -> Quote:
    """How far a feature has come, and with which licence; never "no" for what nobody looked at.

    Raises  NotBound: no evidence of such a feature on the device, or none with the firmware that is named.
    """
    subject = subject_of(evidence, binding.subjects[0])
    name = binding.options.get("name")
    if name is None:
        raise NotBound("feature needs name.")
    _, _, firmware, _ = named_parts(evidence, binding.subjects[0])
    features = [f for f in evidence.features.get(subject.device, ()) if firmware in ("", f.firmware)]
    standing = _standings(features).get(name.lower())
    if standing is None:
        known = wording.listing(list(dict.fromkeys(f.feature for f in features))[:_MOST_NAMED]) or "nothing"
        raise NotBound(
            f"Nobody noted how far {name!r} has come on {_model(subject)}, which does not mean it is missing. "
            f"Noted is {known}."
        )
    latest = standing.latest
    licence = f", with the licence {wording.listing(standing.licences, 'or')}" if standing.licences else ""
    return Quote(
        standing.now + licence,
        f"step of the feature “{standing.feature}”",
        f"{_model(subject)} {latest.firmware}",
        latest.how or "",
        wording.date(latest.date),
        0,
        (subject.device,),
    )


def _standings(features: Sequence[Feature]) -> dict[str, FeatureStanding]:
    return {name.lower(): standing for name, (standing,) in feature_standings(features).items()}


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
            texts = (kelvins, kelvins.replace(".0 ", " "), celsius, celsius.replace(".0 ", " "))
            yield f"heat {device}{_after(_heat_options(reading))}", texts
    for drawn in evidence.power.get(device, ()):
        yield f"power {device}{_after(_power_options(drawn))}", (wording.watts(drawn.watts),)


def _after(options: str) -> str:
    return f", {options}" if options else ""


def _options(**options: str | None) -> str:
    """Options as an author writes them; a value with a comma or a colon stands in quotes."""
    quoted = {name: f'"{text}"' if text and set(text) & set(",:") else text for name, text in options.items()}
    return ", ".join(f"{name} {text}" for name, text in quoted.items() if text)


def _wanted(
    records: Sequence[Observed], binding: Binding, of: Mapping[str, Callable[[Observed], str | None]]
) -> list[Observed]:
    """Those that are as every option of the binding says, whatever the case of letters."""
    named = {name: value.lower() for name, value in binding.options.items() if name in of}
    return [one for one in records if all((of[name](one) or "").lower() == value for name, value in named.items())]


def _only(records: Sequence[Observed], what: str, name: str, options: Callable[[Observed], str]) -> Observed:
    if not records:
        raise NotBound(f"There is no such {what} of {name}.")
    if len(records) > 1:
        named = "; ".join(options(one) for one in records[:_MOST_NAMED])
        more = f"; and {len(records) - _MOST_NAMED} more" if len(records) > _MOST_NAMED else ""
        raise NotBound(f"There is more than one {what} of {name}, so one must be named: {named}{more}.")
    return records[0]


_Unit = TypeVar("_Unit", Heat, Power)


def _of_unit(records: Sequence[_Unit], binding: Binding, subject: Subject) -> list[_Unit]:
    """Those of the unit that was named, or all."""
    return [one for one in records if "/" not in binding.subjects[0] or one.unit == subject.unit]


def _model(subject: Subject) -> str:
    return f"{subject.maker} {subject.model}" + (f" with {subject.under}" if subject.under else "")
