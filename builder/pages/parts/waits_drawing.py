"""The chart of a long run of requests, as pages draw it."""

from __future__ import annotations

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.charts.figures import TableTwin
from builder.charts.longrun_chart import HOUR_S, Level
from builder.charts.longwaits_chart import LEVELS, HourOfAnswers, longwaits_figure
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing
from builder.under_load.collapses import OUTCOME_WORDS
from builder.under_load.long_waits import HourOfWaits, LongWaits, late_words, waits_sentence
from builder.under_load.longruns import LongRunResult
from catalog.method import METHOD_NUMBER
from catalog.thinning import AT_MOST

US_PER_S, US_PER_MS = 1e6, 1e3
MOST_ROWS = 168  # hours of a week: of a longer run the table has the slowest hour of every day
HOURS_A_DAY = 24


def waits_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    result: LongRunResult,
    *,
    key: str = "",
    title: str = "",
) -> Drawing | None:
    """The chart of a long run of requests. None where the copy holds no points of the log.

    key, title  of a chart on another page than the device's
    """
    run, waits = result.run, result.waits
    key = key or result.figure
    log = catalogue.logs.get(("longrun", run.longrun_id), {})
    if waits is None or not {"t", "latency", "outcome"} <= log.keys():
        return None
    model = results.bench.devices[run.device].model
    link = wording.conditions(band_name=run.band, width_mhz=run.width_mhz, direction=run.direction)
    latencies = zip(log["latency"].samples, log["outcome"].samples, strict=True)
    mark = None
    if waits.mark_ms is not None:
        mark = Level(waits.mark_ms, f"asked for: {wording.duration(waits.mark_ms, exact=True)}")
    step_s = waits.logged_s / waits.requests
    figure = longwaits_figure(
        key=key,
        title=title or f"How long do answers take with {model} over {_hours(waits)}?",
        t_s=[us / US_PER_S for us in log["t"].samples],
        waits_ms=[us / US_PER_MS if outcome == 0 else None for us, outcome in latencies],
        hours=[
            HourOfAnswers(
                hour.number * HOUR_S,
                min((hour.number + 1) * HOUR_S, waits.duration_s),
                {percent: hour.ms[percent] if hour.tells(percent) else None for percent in LEVELS},
            )
            for hour in waits.hours
        ],
        joined_s=step_s * _most_steps_apart(log["t"].n),
        mark=mark,
        ended="" if run.outcome == "finished" else OUTCOME_WORDS[run.outcome],
        notes=_notes(results, site, result, waits, link, named=bool(title)),
        spoken=f"{model}, {link}. {waits_sentence(run, waits)}",
        table=_table(waits),
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)))


def _hours(waits: LongWaits) -> str:
    return wording.hours(waits.duration_s).replace(" h", " hours")


def _most_steps_apart(n: int) -> float:
    """How many mean steps neighbouring points may lie apart without a gap: a thinned log holds only extremes."""
    return 10.0 if n <= AT_MOST else 10.0 + 2.0 * -(-n // ((AT_MOST - 2) // 2))


def _notes(
    results: Results, site: SiteContext, result: LongRunResult, waits: LongWaits, link: str, *, named: bool
) -> list[str]:
    """named: whether the device is named here, because the title may not do so."""
    run = result.run
    where = f" at {run.spot}" if run.spot else ""
    whose = f"{device_name(results.bench, run.device)} with " if named else ""
    log = f"n = {waits.requests} requests"
    if waits.gap_words:
        log += f"; {wording.trimmed(waits.duration_s - waits.logged_s, 0)} s without a log stay empty"
    return [
        f"{whose}{results.bench.clients[run.client].name}{where}, {link}, firmware {run.firmware}, unit {run.unit}, "
        f"{wording.date(run.date)}. {log}.",
        "Hour by hour, within what time half, 95 and 99 of 100 requests were answered, where at least five lie beyond; "
        "a mark at the foot is a request that was not answered.",
        f"{site.title}, Method {METHOD_NUMBER}.",
    ]


def _table(waits: LongWaits) -> TableTwin:
    """Hour by hour; of more than a week, the slowest hour of every day."""
    hours, what = waits.hours, "Requests hour by hour"
    if len(hours) > MOST_ROWS:
        days: dict[int, HourOfWaits] = {}
        for hour in hours:
            day = hour.number // HOURS_A_DAY
            days[day] = max(days.get(day, hour), hour, key=_slowness)
        hours, what = tuple(days.values()), "Requests in the slowest hour of every 24"
    late = ("Late",) if waits.mark_ms is not None else ()
    return TableTwin(
        caption=f"{what}, and within what time they were answered",
        columns=("Hour", "Requests", *(text.capitalize() for text in LEVELS.values()), "Not answered", *late),
        rows=tuple(
            (
                str(hour.number + 1),
                str(hour.requests),
                *(_within(hour, percent) for percent in LEVELS),
                str(hour.requests - hour.finished),
                *((late_words(hour.late or 0, hour.requests),) if late else ()),
            )
            for hour in hours
        ),
    )


def _slowness(hour: HourOfWaits) -> tuple[bool, float]:
    ms = hour.ms[95]
    return ms is None, ms or 0.0


def _within(hour: HourOfWaits, percent: int) -> str:
    if not hour.tells(percent):
        return "too few"
    ms = hour.ms[percent]
    return "not answered" if ms is None else wording.duration(ms)
