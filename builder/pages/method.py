"""The method page: how figures are made, and why some are refused, from the very constants the build used."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from builder import addresses, wording
from builder.bench.bridging import EQUAL_WITHIN, MIN_REPEATS
from builder.bench.sessions import SUSPENDED_OUTSIDE
from builder.metrics.heat import SEPARATED_FROM_K
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Entry, Page, Table
from builder.pages.parts.columns import Column, table_of
from builder.pages.parts.provenance import provenance
from builder.pairs.refusals import CODES
from builder.registers.proposing import AGREE_WITHIN, LEAST_DEVICES, LEAST_RANGE_DB, PHY_FACTOR
from builder.traces.definitions import FIGURES
from builder.under_load.collapses import RATE_FROM_RUNS
from builder.windows.assumed_days import assumed_days
from builder.windows.indirect import agree_z
from catalog.digesting.latency import THIN_BELOW
from catalog.digesting.period import LARGEST_OF_HALF, LEAST_CYCLES, SURROGATES, SURROGATES_TO_EXCEED
from catalog.method import (
    CEILING_SHARE,
    CONFIDENCE,
    MAX_GAP_DB,
    METHOD_NUMBER,
    MIN_KNOTS,
    MIN_PLACEMENT_DF,
    MIN_POOLED_DF,
    MIN_RANGE_DB,
    MIN_REFERENCE_SESSIONS,
    MIN_REFERENCE_SPOTS,
    PORT_CEILING_FACTOR,
    PORT_TOLERANCE,
    PRACTICE_SESSION_SPREAD,
    PRACTICE_SIGMA_DB,
    PRACTICE_WINDOWS,
    WINDOW_NAMES,
    Constants,
)

BETTER = {"higher": "higher is better", "lower": "lower is better", "neither": "neither way"}


@dataclass(frozen=True, kw_only=True)
class MethodPage(Page):
    """The method in force."""

    template: ClassVar[str] = "method"

    assumed_days: str
    rules: Table
    constants: Table
    windows: Table
    refusals: Table
    metrics: Table
    versions: Table


def method_page(catalogue: Catalogue, results: Results, site: SiteContext) -> MethodPage:
    """The method page of this build."""
    here = addresses.METHOD
    constants = results.bench.constants
    example = assumed_days(results.bench, results.rankings.values())
    return MethodPage(
        address=here,
        title="Method",
        question="How are the figures made, and when are they refused?",
        verdict=f"Method {METHOD_NUMBER}, constants set {constants.version}: like is compared with like at like "
        "loss, every difference has an interval, and what cannot be compared is refused in words.",
        cannot_say=("What a different rule would have given: a changed rule is a new method, and its pages say so.",),
        provenance=provenance(catalogue, results, site, here),
        assumed_days=example.sentence if example else "",
        rules=_rule_table(),
        constants=_constant_table(constants),
        windows=_window_table(constants),
        refusals=table_of(
            CODES.items(),
            (
                Column("Code", lambda refusal: Entry(text=refusal[0])),
                Column("Why nothing is said", lambda refusal: Entry(text=refusal[1]), sentence=True),
            ),
            key="refusals",
            caption="Refusals, each with its code for scripts",
            row_key=lambda refusal: f"refusal-{refusal[0]}",
        ),
        metrics=table_of(
            FIGURES.values(),
            (
                Column("Figure", lambda figure: Entry(text=figure.name)),
                Column("What it is", lambda figure: Entry(text=figure.meaning), sentence=True),
                Column("Unit", lambda figure: Entry(text=figure.unit)),
                Column("Better", lambda figure: Entry(text=BETTER[figure.better])),
                Column("Definition", lambda figure: Entry(text=str(figure.definition)), numeric=True),
                Column("Source", lambda figure: Entry(text=figure.source), sentence=True),
            ),
            key="metrics",
            caption="Figures, their units and sources",
        ),
        versions=table_of(
            reversed(catalogue.methods),
            (
                Column("Set", lambda constants: Entry(text=str(constants.version))),
                Column("Declared values", lambda constants: Entry(text=_declared(constants)), sentence=True),
            ),
            key="versions",
            caption="Sets of constants, newest first",
        ),
    )


def _rule_table() -> Table:
    rules = (
        ("Interval", f"{wording.percent(CONFIDENCE)}, two-sided", "Every difference and every value carries it."),
        (
            "Longest stretch that is joined",
            f"{wording.decibels(MAX_GAP_DB)} dB",
            "Between neighbouring measured places; wider ones stay a gap.",
        ),
        ("Shortest shared range", f"{wording.decibels(MIN_RANGE_DB)} dB", "Below it two devices are not compared."),
        ("Measured places of each device in it", str(MIN_KNOTS), "Inside the shared range or on its edge."),
        (
            "A value is a bound from",
            f"{wording.percent(CEILING_SHARE)} of the client's ceiling",
            "Printed “at least”; the client was the limit, not the device.",
        ),
        (
            "Port-limited within",
            wording.percent(PORT_TOLERANCE),
            "Of what TCP carries through the device's own port: the device's property, so exact.",
        ),
        (
            "A client sees past a port from",
            f"{wording.ratio(PORT_CEILING_FACTOR)} times its limit",
            "Below that it says “port or client”.",
        ),
        (
            "Sessions and spots for a measured day-to-day spread",
            f"{MIN_REFERENCE_SESSIONS} and {MIN_REFERENCE_SPOTS}",
            "Of the house's reference device, with one unit, firmware and client.",
        ),
        (
            "Degrees of freedom for a measured placement",
            str(MIN_PLACEMENT_DF),
            "(Sessions − 1) · (spots − 1) of the reference device.",
        ),
        ("Degrees of freedom for a pooled spread", str(MIN_POOLED_DF), "What a single run may borrow from."),
        (
            "A client ceiling is suspected",
            f"{LEAST_DEVICES} devices within {wording.percent(AGREE_WITHIN)} over {wording.decibels(LEAST_RANGE_DB)} dB",
            f"While the radio link could carry {PHY_FACTOR:g} times as much; a run has to show it before it counts.",
        ),
        (
            "A bench day is suspended",
            f"outside {wording.between(*SUSPENDED_OUTSIDE, 2)}",
            "Of the reference device’s long-run mean: nothing of that day is normalised until someone decides.",
        ),
        (
            "A replaced client goes on in its series",
            f"within ±{wording.percent(EQUAL_WITHIN)}",
            f"Wholly, by a bridge test of at least {MIN_REPEATS} repeats a side and spot (practice).",
        ),
        (
            "Two bridges agree",
            f"up to {wording.number(agree_z(1), 2)} standard errors apart",
            "With several pairs of bridges more, so that chance alone seldom parts them. Else no indirect comparison is made over them.",
        ),
        ("A share of collapses", f"from {RATE_FROM_RUNS} runs", "Below that there are only counts."),
        (
            "A percentile is thin",
            f"fewer than {THIN_BELOW // 100} requests beyond it",
            "It is marked, and no sentence may lean on it.",
        ),
        (
            "Two rises are separated",
            f"from {wording.kelvin(SEPARATED_FROM_K)}",
            "A reading of a surface is good to about 2 K (practice).",
        ),
        (
            "A period is claimed",
            f"{SURROGATES_TO_EXCEED} of {SURROGATES} surrogates, both halves, {LEAST_CYCLES} cycles",
            "It has to stand out further than in so many runs of noise with the same spectrum (first-order autoregressive "
            f"plus white), to be among the {LARGEST_OF_HALF} that stand out most in each half of the run, and to be seen "
            "so often. Of simulated hours without a period at most 2 % pass, of wander on all time scales (1/f noise) at "
            "most 10 %.",
        ),
    )
    return table_of(
        rules,
        (
            Column("Rule", lambda rule: Entry(text=rule[0])),
            Column("Limit", lambda rule: Entry(text=rule[1])),
            Column("What for", lambda rule: Entry(text=rule[2]), sentence=True),
        ),
        key="rules",
        caption="The rules and their limits",
    )


def _constant_table(constants: Constants) -> Table:
    def sigma(value: float | None) -> str:
        return f"{wording.decibels(PRACTICE_SIGMA_DB if value is None else value)} dB"

    if constants.house_spread_mbit_s is not None:
        house = f"{wording.rate(constants.house_spread_mbit_s)} Mbit/s"
    elif constants.house_spread_percent is not None:
        house = f"{wording.number(constants.house_spread_percent, 1)} %"
    else:
        house = "none"
    session = PRACTICE_SESSION_SPREAD if constants.session_spread is None else constants.session_spread
    rows = (
        (
            "What is not known of one spot’s own attenuation",
            "from its readings" if constants.attenuation_sigma_db is None else sigma(constants.attenuation_sigma_db),
            constants.attenuation_sigma_db is not None,
        ),
        (
            "Standing at a spot again, where no reference device shows it",
            sigma(constants.placement_sigma_db),
            constants.placement_sigma_db is not None,
        ),
        (
            "Offset of a reference source and receiver",
            sigma(constants.calibration_sigma_db),
            constants.calibration_sigma_db is not None,
        ),
        ("Error of one received level", sigma(constants.level_sigma_db), constants.level_sigma_db is not None),
        (
            "Day-to-day spread where no reference device shows it",
            wording.percent(session),
            constants.session_spread is not None,
        ),
        (
            "Spread of a single run",
            house,
            constants.house_spread_mbit_s is not None or constants.house_spread_percent is not None,
        ),
    )
    return table_of(
        rows,
        (
            Column("Constant", lambda row: Entry(text=row[0])),
            Column("In force", lambda row: Entry(text=row[1]), numeric=True),
            Column("From", lambda row: _origin_entry(declared=row[2], otherwise=_SOURCES.get(row[1], "practice"))),
        ),
        key="constants",
        caption="The bench's own constants; those nobody declared are common practice, and figures that lean on "
        "them say “assumed”",
    )


def _origin_entry(*, declared: bool, otherwise: str = "practice") -> Entry:
    return Entry(text="declared by the bench" if declared else otherwise)


_SOURCES = {"none": "not declared", "from its readings": "measured"}


def _window_table(constants: Constants) -> Table:
    def span_entry(band: str, *, window: str) -> Entry:
        span = constants.window(band, window)
        return Entry(text=wording.db_range(*span), unit="dB") if span else Entry(why_missing="none")

    return table_of(
        sorted({*PRACTICE_WINDOWS, *constants.windows}, key=float),
        (
            Column("Band", lambda band: Entry(text=wording.band(band))),
            *(Column(name.capitalize(), partial(span_entry, window=name), numeric=True) for name in WINDOW_NAMES),
            Column("From", lambda band: _origin_entry(declared=band in constants.windows)),
        ),
        key="windows",
        caption="Windows of the rankings. At 5 GHz a 20 dBm source reads −30 to −40 dBm near, −40 to −55 in the "
        "middle, −55 to −70 far",
    )


def _declared(constants: Constants) -> str:
    text = constants.to_json()
    return "none: everything by practice" if text == "{}" else text
