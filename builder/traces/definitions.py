"""The figures that comparisons make, each with its meaning, unit and source; with METRICS they are the method page.

A figure here looks at rows, groups and devices; those made of numbers alone are in `builder.metrics`. A changed figure
bumps its definition number, in the commit that changes what is printed.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from builder.bench import bounds, bridging, cells, joined_line, reference, sessions, uncertainty
from builder.metrics import METRICS, Metric
from builder.pairs import compare
from builder.registers import power, prices, proposing
from builder.under_load import collapses, mix_comparisons, roles, workloads
from builder.windows import indirect, ranking, reach
from catalog.checking.spots import digest_of_readings

_COMPARED = (
    Metric(
        name="value of a place",
        meaning="The mean of the finished runs of one device, client, link and place on one bench day.",
        unit="Mbit/s",
        better="higher",
        source="own rule, method section 1",
        compute=cells.cells,
    ),
    Metric(
        name="spread of a place",
        meaning="The standard deviation s of those runs; a single run has none.",
        unit="Mbit/s",
        better="lower",
        source="JCGM 100:2008, 4.2.2",
        compute=cells.cells,
    ),
    Metric(
        name="attenuation of a place",
        meaning="The power a reference source radiates minus the mean level its receiver reads there, by band and epoch.",
        unit="dB",
        better="neither",
        source="own rule, method section 1",
        compute=digest_of_readings,
    ),
    Metric(
        name="value at a loss",
        meaning="Read off straight lines between neighbouring measured places; none beyond the ends or over a gap.",
        unit="Mbit/s",
        better="higher",
        source="own rule, method section 2",
        compute=joined_line.joined_line,
    ),
    Metric(
        name="difference of two devices",
        meaning=(
            "Mean of one line minus mean of the other over the range both were tested in, at like loss or at like "
            "level; at a spot, the two means there."
        ),
        unit="Mbit/s",
        better="neither",
        source="own rule, method section 2",
        compute=compare.compare,
        definition=2,
    ),
    Metric(
        name="ratio of two devices",
        meaning="The same two means, one divided by the other.",
        unit="1",
        better="neither",
        source="own rule, method section 2",
        compute=compare.compare,
    ),
    Metric(
        name="lead change",
        meaning="Where the lines of two devices cross inside their shared range.",
        unit="dB",
        better="neither",
        source="own rule, method section 2",
        compute=joined_line.lead_changes,
    ),
    Metric(
        name="standard uncertainty",
        meaning=(
            "How well a mean or a difference is known: repeats, days, places and reference kit, added in quadrature; "
            "what two devices share cancels."
        ),
        unit="Mbit/s",
        better="lower",
        source="JCGM 100:2008, 5.1.2; own terms, method section 3",
        compute=uncertainty.uncertainties,
    ),
    Metric(
        name="spread lent to a single run",
        meaning="The pooled relative spread of the repeated places of the same two devices and group.",
        unit="1",
        better="lower",
        source="own rule, method section 3",
        compute=uncertainty.repeat_terms,
    ),
    Metric(
        name="day-to-day spread",
        meaning="How far the house’s reference device differs from day to day, as a share of its value.",
        unit="1",
        better="lower",
        source="own rule, method section 3; 3 % where nothing shows it (practice)",
        compute=reference.learnt,
    ),
    Metric(
        name="placement",
        meaning="How far a place differs, in loss, each time client and device stand there again.",
        unit="dB",
        better="lower",
        source="own rule, method section 3; 1 dB where nothing shows it (practice)",
        compute=reference.placement_variance,
    ),
    Metric(
        name="client ceiling",
        meaning="The highest public run that was registered as what a client setup can do at most.",
        unit="Mbit/s",
        better="higher",
        source="own rule, method section 4",
        compute=bounds.limits,
    ),
    Metric(
        name="lower bound",
        meaning="A value from which on a result is what the client or the lab let through: the device may be faster.",
        unit="Mbit/s",
        better="neither",
        source="own rule, method section 4; right-censored values",
        compute=bounds.bound_from,
    ),
    Metric(
        name="suspected ceiling",
        meaning="Where several devices give the same with one client although the radio could carry more.",
        unit="Mbit/s",
        better="neither",
        source="own rule, method section 4",
        compute=proposing.proposed_ceilings,
    ),
    Metric(
        name="window mean",
        meaning="Mean of a device’s line over a fixed window of loss, the same for all devices of a band.",
        unit="Mbit/s",
        better="higher",
        source="own rule, method section 5; the windows by practice",
        compute=ranking.window_value,
    ),
    Metric(
        name="rank interval",
        meaning="The ranks a device may have in a window, by the others that are separated from it.",
        unit="1",
        better="lower",
        source="Mogstad et al. 2024, marginal confidence set; Holm 1979; own rule that both families agree",
        compute=ranking.rank,
        definition=2,
    ),
    Metric(
        name="reach",
        meaning="The loss at which a device’s line first falls below a rate.",
        unit="dB",
        better="higher",
        source="own rule, method section 5",
        compute=reach.reach,
    ),
    Metric(
        name="indirect ratio",
        meaning="Two devices that never met the same client, compared over devices that met both.",
        unit="1",
        better="neither",
        source="Bucher et al. 1997",
        compute=indirect.joint_ratio,
    ),
    Metric(
        name="bridge test",
        meaning="Whether a new client setup gives what the old one gave, within 5 % (practice).",
        unit="1",
        better="neither",
        source="own rule, method section 8; two one-sided bounds",
        compute=bridging.judge,
    ),
    Metric(
        name="session factor",
        meaning="What the reference device gave on a bench day, divided by what it gives on the others.",
        unit="1",
        better="neither",
        source="own rule, method section 9",
        compute=sessions.session_factors,
    ),
    Metric(
        name="normalised value",
        meaning="A value divided by the session factor of its day; what was measured stays the one that is shown.",
        unit="Mbit/s",
        better="higher",
        source="own rule, method section 9",
        compute=sessions.normalised,
    ),
    Metric(
        name="role verdict",
        meaning="Met or not met in one run, broke off, or not tested: the on-time share held against the role’s target.",
        unit="1",
        better="neither",
        source="own rule, method section 6",
        compute=roles.role_result,
        definition=3,
    ),
    Metric(
        name="order of a workload",
        meaning=(
            "Of runs whose machines are alike and stood alike, of all versions of a workload: by roles met, then by the "
            "on-time share of the hardest-pressed role; collapses come last. Rows are separated where the whole table "
            "together allows it (Holm)."
        ),
        unit="1",
        better="lower",
        source="own rule, method section 6; Holm 1979",
        compute=workloads.workload_results,
        definition=3,
    ),
    Metric(
        name="difference of on-time shares",
        meaning=(
            "On-time share of a role on one device less that on another, where the machines were alike and stood alike, or "
            "but for one that was replaced; with what runs differ by."
        ),
        unit="1",
        better="neither",
        source="Newcombe 1998, method 10, from Wilson’s limits; own rules, method section 6",
        compute=mix_comparisons.mix_comparisons,
    ),
    Metric(
        name="time until a collapse",
        meaning="How long a run with several clients lasted before the first of them was let down, and what ended it.",
        unit="s",
        better="higher",
        source="own rule, method section 6",
        compute=collapses.mixes,
    ),
    Metric(
        name="collapses",
        meaning="Runs that did not finish, of those that count; no share below 20 runs.",
        unit="1",
        better="lower",
        source="own rule, method section 6",
        compute=collapses.count,
    ),
    Metric(
        name="measured power",
        meaning="As it was read, at the supply or at the device, held against what the class allows.",
        unit="W",
        better="lower",
        source="observation; own rule, method section 10",
        compute=power.readings,
    ),
    Metric(
        name="price on a day",
        meaning="As it was seen on a day, with its age.",
        unit="1",
        better="lower",
        source="observation; own rule, method section 10",
        compute=prices.age_days,
    ),
    Metric(
        name="cost over years",
        meaning="A dated price and its licences over some years, in the currency of the price.",
        unit="1",
        better="lower",
        source="own rule, method section 10",
        compute=prices.cost_over,
    ),
)

COMPARED: Mapping[str, Metric] = MappingProxyType({metric.name: metric for metric in _COMPARED})
"""Figures of comparisons by name, in the order of the method page."""

FIGURES: Mapping[str, Metric] = MappingProxyType({**METRICS, **COMPARED})
"""Every figure of the site by name: those of numbers, then those of comparisons."""

MEANINGS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "cell": ("value of a place", "spread of a place", "lower bound", "normalised value", "throughput"),
        "pair": (
            "difference of two devices",
            "ratio of two devices",
            "lead change",
            "standard uncertainty",
            "half-width",
            "spread lent to a single run",
            "day-to-day spread",
            "placement",
        ),
        "window": ("window mean", "value at a loss", "standard uncertainty"),
        "rank": ("rank interval", "table verdict"),
        "reach": ("reach", "value at a loss"),
        "link": ("indirect ratio",),
        "eirp": ("implied EIRP",),
        "factor": ("session factor",),
        "ceiling": ("client ceiling", "lower bound", "PHY rate", "port limit", "suspected ceiling"),
        "loss": ("attenuation of a place",),
        "role": (
            "role verdict",
            "shown or not",
            "on-time share",
            "effective requests",
            "interval of a share",
            "difference of two shares",
            "latency percentile",
            "percentile interval",
            "Apdex",
            "page opinion score",
            "call rating R",
            "call opinion score",
            "stalls of a stream",
            "stalling quality",
        ),
        "longrun": (
            "median and fifth percentile of a long run",
            "evenness",
            "longest stall",
            "longest gap",
            "drift",
            "period",
        ),
        "longwaits": ("latency percentile", "late share", "longest outage", "longest gap"),
        "heat": ("temperature rise", "touch caution"),
        "power": ("measured power", "least power class"),
        "price": ("price on a day", "cost over years"),
    }
)
"""Kind of a figure's id -> the figures that have such an id."""
