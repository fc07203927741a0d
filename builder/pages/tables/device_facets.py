"""What devices can be filtered by: bands, width, port, power over the cable, licences, year, collapses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from builder import wording
from builder.addresses import PRICE_YEARS
from builder.pages.contents import Catalogue, Results
from builder.pages.parts.tested_in_any_way import first_day
from builder.registers.power import need
from builder.registers.prices import ROUND_SUMS, cost_over, latest_price
from builder.under_load.collapses import count_all
from catalog.records import Device
from catalog.standards import POE_CLASSES

# Stands in for a class of power: readings that no class allows need more than any switch gives.
_BEYOND_ANY_CLASS = 99


@dataclass(frozen=True, slots=True)
class Filter:
    """One field: its name in addresses, its label, how a choice is met ("has", "least", "most"), and the choices."""

    name: str
    label: str
    kind: str
    options: tuple[tuple[str, str], ...]


def device_filters(catalogue: Catalogue, results: Results, devices: Sequence[str]) -> tuple[Filter, ...]:
    """The filters that tell some of the devices apart; those that every device meets, or none does, are left out."""
    all_facets = [_facets(catalogue, results, device) for device in devices]
    currencies = {price.currency for prices in catalogue.prices.values() for price in prices}

    def values(name: str) -> set[str]:
        return {value for facets in all_facets for value in facets.get(name, "").split()}

    def numbers(name: str, words: Callable[[float], str]) -> tuple[tuple[str, str], ...]:
        return tuple((value, words(float(value))) for value in sorted(values(name), key=float))

    filters = (
        Filter("band", "Band", "has", tuple((b, wording.band(b)) for b in sorted(values("band"), key=float))),
        Filter("width", "Channel width", "least", numbers("width", lambda v: f"{int(v)} MHz or more")),
        Filter("port", "Wired port", "least", numbers("port", lambda v: f"{wording.port_speed(v)} or more")),
        _power_filter(values("poe")),
        Filter("price", f"Price with {PRICE_YEARS} years of licences", "most", _sums(values("price"), currencies)),
        Filter("licence", "Licences", "has", _known(values("licence"), (("none", "no feature needs one"),))),
        Filter("year", "First tested", "least", numbers("year", lambda v: f"{int(v)} or later")),
        Filter("fell", "Collapses", "has", _known(values("fell"), (("no", "none seen"), ("yes", "at least one")))),
    )
    return tuple(f for f in filters if f.options and len(values(f.name)) > 1)


def power_filter(catalogue: Catalogue, devices: Sequence[Device]) -> tuple[Filter, ...]:
    """The filter by what a switch gives, in every class there is, where it tells some of the devices apart."""
    needed = {_needed_class(catalogue, device) for device in devices}
    return (_power_filter({str(number) for number in POE_CLASSES if number}),) if len(needed) > 1 else ()


def power_facet(catalogue: Catalogue, device: Device) -> str:
    """What that filter asks of a device, as a query string; "" where no class can be named."""
    needed = _needed_class(catalogue, device)
    return urlencode({"poe": needed}) if needed else ""


def _power_filter(needed: set[str]) -> Filter:
    classes = sorted((value for value in needed if int(value) < _BEYOND_ANY_CLASS), key=int)
    return Filter("poe", "My switch gives", "most", tuple((value, f"class {value}") for value in classes))


def _sums(totals: set[str], currencies: set[str]) -> tuple[tuple[str, str], ...]:
    """Round sums that some of the totals are within, the last one within which all are; none for several currencies."""
    if len(currencies) != 1:
        return ()
    (currency,) = currencies
    sums: list[tuple[str, str]] = []
    for limit in ROUND_SUMS:
        if any(float(total) <= limit for total in totals):
            sums.append((str(limit), f"at most {wording.money(limit, currency)}"))
            if all(float(total) <= limit for total in totals):
                break
    return tuple(sums)


def _known(present: set[str], options: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple(option for option in options if option[0] in present)


def facets_text(catalogue: Catalogue, results: Results, device: str) -> str:
    """A device's facets as a query string: "band=2.4+5&width=80"."""
    return urlencode(_facets(catalogue, results, device))


def _facets(catalogue: Catalogue, results: Results, device_id: str) -> dict[str, str]:
    """Facet -> its value or values; unknown ones are left out."""
    device = results.bench.devices[device_id]
    tally = count_all(results.bench, device_id, *results.under_load(device_id))
    first = first_day(results, device_id)
    evidence = catalogue.features.get(device_id, ())
    facets = {
        "band": " ".join(radio.band for radio in device.radios),
        "width": str(max((radio.max_width_mhz for radio in device.radios), default="")),
        "port": f"{max((port.speed_mbit_s for port in device.ports), default=0):g}" if device.ports else "",
        "poe": _needed_class(catalogue, device),
        "price": _total(catalogue, device_id),
        "licence": ("some" if any(f.licence for f in evidence) else "none") if evidence else "",
        "year": first[:4] if first else "",
        "fell": ("yes" if tally.collapsed else "no") if tally.runs else "",
    }
    return {name: value for name, value in facets.items() if value}


def _total(catalogue: Catalogue, device_id: str) -> str:
    """The latest price with its licences over the years of the page of prices; "" without one."""
    price = latest_price(catalogue.prices.get(device_id, ()))
    return "" if price is None else repr(cost_over(price, PRICE_YEARS).amount)


def _needed_class(catalogue: Catalogue, device: Device) -> str:
    """The class a switch must give: by the highest reading where there is one, else by the promise."""
    requirement = need(device, catalogue.power.get(device.device_id, ()))
    if requirement is None or not requirement.known:
        return ""
    return str(_BEYOND_ANY_CLASS if requirement.needed is None else requirement.needed)
