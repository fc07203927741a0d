"""Figures as pure functions of numbers: no rows, no texts, no rounding.

`METRICS` lists every figure of numbers that the site prints, made here or, where it takes each sample of a log, at entry
by `catalog.digesting`; those of comparisons are listed in `builder.traces.definitions`, and the method page is made
from both lists. A changed figure bumps its definition number in the commit that changes what is printed.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from builder.metrics import fairness, heat, intervals, phy, proportions, voice
from catalog import standards
from catalog.digesting import answers, coverage, drift, latency, longrun, period, playout, throughput

Better = Literal["higher", "lower", "neither"]


@dataclass(frozen=True, kw_only=True)
class Metric:
    """One figure of the site.

    name        as the method page and the glossary call it
    meaning     one sentence for a reader
    unit        as printed; "1" for a plain number
    better      which direction serves the reader; "neither" where that depends
    source      document and clause, or what kind of rule it is
    compute     the function that computes it; its docstring is the exact definition
    definition  number of the definition
    """

    name: str
    meaning: str
    unit: str
    better: Better
    source: str
    compute: Callable[..., object]
    definition: int = 1


_METRICS = (
    Metric(
        name="throughput",
        meaning="Everything a run carried after its warm-up, divided by the time that was logged.",
        unit="Mbit/s",
        better="higher",
        source="own rule, method section 1",
        compute=throughput.interval_mean_mbit_s,
        definition=2,
    ),
    Metric(
        name="half-width",
        meaning=(
            "How far the true difference may lie from the one found, 19 times out of 20; also the "
            "smallest difference that these runs could have shown."
        ),
        unit="Mbit/s",
        better="lower",
        source="JCGM 100:2008, 6.2, G.3 and G.4",
        compute=intervals.half_width,
    ),
    Metric(
        name="table verdict",
        meaning="Which of several differences still count when all are looked at together.",
        unit="1",
        better="neither",
        source="Holm 1979, Scandinavian Journal of Statistics 6, 65–70",
        compute=intervals.holm_separated,
    ),
    Metric(
        name="PHY rate",
        meaning=(
            "The most bits a radio link can send, by amendment, streams and channel width; no "
            "throughput can be above it."
        ),
        unit="Mbit/s",
        better="higher",
        source=("IEEE 802.11-2020, 19.5 and 21.5; 802.11ax-2021, 27.5; 802.11be-2024, 36.5 (clauses from memory)"),
        compute=standards.phy_ceiling_mbit_s,
    ),
    Metric(
        name="port limit",
        meaning="The most TCP payload a wired port can carry with 1500-byte packets.",
        unit="Mbit/s",
        better="higher",
        source=str(standards.ETHERNET_SOURCE),
        compute=standards.tcp_port_limit_mbit_s,
    ),
    Metric(
        name="noise floor",
        meaning="The noise of warmth itself in a channel; each doubling of the width adds 3 dB.",
        unit="dBm",
        better="lower",
        source="k·T·B (Nyquist 1928), constants of the SI",
        compute=phy.noise_floor_dbm,
    ),
    Metric(
        name="free-space loss",
        meaning="What distance alone costs, with nothing in between.",
        unit="dB",
        better="neither",
        source="ITU-R P.525",
        compute=phy.free_space_loss_db,
    ),
    Metric(
        name="implied EIRP",
        meaning=("How strongly a device seems to send: the level at the client plus the attenuation of the place."),
        unit="dBm",
        better="neither",
        source="definition of EIRP",
        compute=phy.implied_eirp_dbm,
    ),
    Metric(
        name="latency percentile",
        meaning="The time within which so many of the planned requests were answered; failed ones come last.",
        unit="ms",
        better="lower",
        source="RFC 2330, 11.3; Hyndman & Fan 1996, type 1; lost replies as in RFC 7679",
        compute=latency.nearest_rank,
    ),
    Metric(
        name="percentile interval",
        meaning="Where the percentile may lie, within this run and as if requests were independent.",
        unit="ms",
        better="neither",
        source="Hahn & Meeker 1991; Conover 1999",
        compute=latency.rank_interval,
    ),
    Metric(
        name="on-time share",
        meaning="The share of planned requests that were answered within the role’s target.",
        unit="1",
        better="higher",
        source="own rule, method section 6",
        compute=latency.on_time_share,
    ),
    Metric(
        name="Apdex",
        meaning=("Requests within the target, plus half of those within four times the target, as a share of all."),
        unit="1",
        better="higher",
        source="Apdex Alliance, technical specification 1.1",
        compute=latency.apdex,
    ),
    Metric(
        name="page opinion score",
        meaning="The score from 1 to 5 people give to pages that take so long; a failed page scores 1.",
        unit="MOS",
        better="higher",
        source="ITU-T G.1030 (02/2014), Appendix II, equation II-2; the mean over pages is an own rule",
        compute=latency.mean_page_mos,
    ),
    Metric(
        name="call rating R",
        meaning=("How well a call can be held with this delay and loss, from the E-model; 93.2 is undisturbed."),
        unit="R",
        better="higher",
        source="ITU-T G.107 (06/2015), clause 7",
        compute=voice.transmission_rating,
    ),
    Metric(
        name="call opinion score",
        meaning="The score from 1 to 4.5 that people give to a call of that rating.",
        unit="MOS",
        better="higher",
        source="ITU-T G.107, Annex B",
        compute=voice.voice_mos,
    ),
    Metric(
        name="stalls of a stream",
        meaning=(
            "How often and how long the picture stood still had a player with the declared buffer asked for the segments: "
            "pauses of the generator are left out, what failed is skipped."
        ),
        unit="s",
        better="lower",
        source="own rule, method section 6",
        compute=playout.replay,
        definition=2,
    ),
    Metric(
        name="stalling quality",
        meaning=("From 5 without a stall towards 1; late stalls weigh more. Only this term of the model is used."),
        unit="1",
        better="higher",
        source="ITU-T P.1203.3, equations 29 and 31",
        compute=playout.stalling_quality,
    ),
    Metric(
        name="fairness",
        meaning=("How evenly clients that asked for the same were served; 1 is evenly, 1/n is all to one of n."),
        unit="1",
        better="higher",
        source="Jain, Chiu & Hawe 1984, DEC-TR-301",
        compute=fairness.jain_index,
    ),
    Metric(
        name="median and fifth percentile of a long run",
        meaning="The rate that the run was at or below for half, or for a twentieth, of the time that was logged.",
        unit="Mbit/s",
        better="higher",
        source="Hyndman & Fan 1996, type 1, weighted by time",
        compute=longrun.time_quantile,
        definition=2,
    ),
    Metric(
        name="evenness",
        meaning="The fifth percentile of a long run divided by its median; 1 is perfectly even.",
        unit="1",
        better="higher",
        source="own rule, method section 7",
        compute=longrun.evenness,
    ),
    Metric(
        name="longest stall",
        meaning="The longest time in which as good as nothing came.",
        unit="s",
        better="lower",
        source="own rule, method section 7 (practice)",
        compute=longrun.longest_stall_s,
    ),
    Metric(
        name="longest outage",
        meaning="The longest time in which requests were made and none was answered; a gap in the log ends it.",
        unit="s",
        better="lower",
        source="own rule (practice)",
        compute=answers.Answers.longest_outage,
    ),
    Metric(
        name="late share",
        meaning="Requests of a long run that were answered later than its mark, or not at all, over all of them.",
        unit="1",
        better="lower",
        source="definition",
        compute=answers.late_figures,
    ),
    Metric(
        name="longest gap",
        meaning="The longest time that the log does not cover. It is filled with nothing and is in no other figure.",
        unit="s",
        better="lower",
        source="own rule (practice): a gap is longer than three usual steps",
        compute=coverage.coverage,
    ),
    Metric(
        name="drift",
        meaning="How much a long run gained or lost in an hour, and whether that is more than chance.",
        unit="Mbit/s per hour",
        better="neither",
        source="Sen 1968; Mann 1945; Kendall 1975",
        compute=drift.drift,
        definition=2,
    ),
    Metric(
        name="period",
        meaning=(
            "Time after which a long run repeats itself, given only where noise like the run’s own seldom seems to. "
            "Wander on all time scales can look the same, and the cause is not shown."
        ),
        unit="s",
        better="neither",
        source="Percival & Walden 1993 (coloured background); Whittle 1953 (fit); rules of method section 7",
        compute=period.find_period,
        definition=2,
    ),
    Metric(
        name="effective requests",
        meaning=(
            "How many independent requests would say as much as those of a run, which follow one another: "
            "n (1 − r) / (1 + r), r the correlation of each with the next."
        ),
        unit="1",
        better="neither",
        source="variance of the mean of a first-order autoregressive series",
        compute=proportions.effective_requests,
    ),
    Metric(
        name="shown or not",
        meaning=(
            "Whether so many requests show on which side of its mark a share lies, with 95 % confidence, counted as "
            "effective requests."
        ),
        unit="1",
        better="neither",
        source="Clopper & Pearson 1934, one-sided",
        compute=proportions.one_sided_bounds,
        definition=2,
    ),
    Metric(
        name="interval of a share",
        meaning="The 95 % interval of an on-time share within its run, from effective requests.",
        unit="1",
        better="neither",
        source="Wilson 1927",
        compute=proportions.share_interval,
    ),
    Metric(
        name="difference of two shares",
        meaning=(
            "How the share of one device differs from that of another, with its 95 % interval; what runs differ by "
            "beside chance is measured, or 3 points where fewer than six runs were made of two devices."
        ),
        unit="1",
        better="neither",
        source="Newcombe 1998, method 10; the spread between runs is an own rule, method section 6",
        compute=proportions.share_difference,
    ),
    Metric(
        name="temperature rise",
        meaning="How much warmer a surface is than the room; closer than 3 K is not separated.",
        unit="K",
        better="lower",
        source="own rule, method section 10 (practice)",
        compute=heat.rise_k,
    ),
    Metric(
        name="touch caution",
        meaning="Whether a surface is warmer than the limit for its material when it is held, as it is by whoever takes it down.",
        unit="°C",
        better="neither",
        source=str(standards.HELD.source),
        compute=heat.touch_caution,
        definition=2,
    ),
    Metric(
        name="least power class",
        meaning="The smallest class of power over Ethernet that allows what was measured.",
        unit="1",
        better="lower",
        source=str(standards.POE_SOURCE),
        compute=heat.least_poe_class,
    ),
)

METRICS: Mapping[str, Metric] = MappingProxyType({metric.name: metric for metric in _METRICS})
"""Every figure by name, in the order of the method page."""
