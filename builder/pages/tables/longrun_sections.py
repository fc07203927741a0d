"""Long runs on a device's page: a chart each, what it shows, and what it is too short to show."""

from __future__ import annotations

from builder import addresses, wording
from builder.bench.naming import device_name
from builder.charts.longrun_chart import Level, longrun_figure
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Drawing, Section
from builder.pages.parts.firmware_marks import older_mark
from builder.pages.parts.waits_drawing import waits_drawing
from builder.under_load.collapses import OUTCOME_WORDS
from builder.under_load.longruns import LongRunResult, sentences, steady_sentence
from catalog.digesting.longrun import STALLED_SHARE
from catalog.method import METHOD_NUMBER
from catalog.records import LongRun
from catalog.thinning import AT_MOST

US_PER_S = 1e6
BIT_S_PER_MBIT_S = 1e6
MOST_DRAWN = 2  # a chart is 35 kB of a page that may weigh 250


def longrun_sections(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, device_id: str
) -> tuple[Section, ...]:
    """A section for every long run, newest first: charts for the newest, the reason for those without figures."""
    order = sorted(results.longrun_results_of.get(device_id, ()), key=lambda f: (f.run.at_utc, f.figure), reverse=True)
    drawn = [result for result in order if result.duration_s is not None and result.counted][:MOST_DRAWN]
    return tuple(_section(catalogue, results, site, here, result, drawn=result in drawn) for result in order)


def _section(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, result: LongRunResult, *, drawn: bool
) -> Section:
    run = result.run
    mark = older_mark(results, run.device, run.firmware)
    history = f" ({mark})" if mark else ""
    heading = f"{_client(results, run)}, {longrun_link(run)}, {wording.date(run.date)}: {run.firmware}{history}"
    return Section(
        f"steady~{result.figure}",
        heading,
        sentences(result),
        longrun_drawing(catalogue, results, site, here, result) if drawn else None,
    )


def longrun_drawing(
    catalogue: Catalogue,
    results: Results,
    site: SiteContext,
    here: str,
    result: LongRunResult,
    *,
    key: str = "",
    title: str = "",
) -> Drawing | None:
    """The chart of a long run. None where the copy holds no points of the log.

    key, title  of a chart on another page than the device's
    """
    if result.waits is not None:
        return waits_drawing(catalogue, results, site, here, result, key=key, title=title)
    run, figures = result.run, result.figures
    key = key or result.figure
    log = catalogue.logs.get(("longrun", run.longrun_id), {})
    if figures is None or "t" not in log or "rate" not in log:
        return None
    model = results.bench.devices[run.device].model
    decimals = wording.rate_decimals(figures.median, figures.fifth_percentile)
    step_s = figures.logged_s / figures.samples
    figure = longrun_figure(
        key=key,
        title=title or f"Is {model} steady over {wording.hours(figures.duration_s).replace(' h', ' hours')}?",
        t_s=[us / US_PER_S for us in log["t"].samples],
        mbit_s=[bit_s / BIT_S_PER_MBIT_S for bit_s in log["rate"].samples],
        joined_s=step_s * _most_steps_apart(log["rate"].n),
        median=Level(
            figures.median, f"median {wording.rate(figures.median, bound=result.held_back[1], decimals=decimals)}"
        ),
        fifth_percentile=Level(
            figures.fifth_percentile, f"5th percentile {wording.number(figures.fifth_percentile, decimals)}"
        ),
        stalled_at=STALLED_SHARE * figures.median,
        ended="" if run.outcome == "finished" else OUTCOME_WORDS[run.outcome],
        notes=_notes(results, site, result, step_s, named=bool(title)),
        spoken=f"{model}, {longrun_link(run)}. {steady_sentence(result)}",
    )
    return Drawing(figure, addresses.link(here, addresses.specification(key)))


def _most_steps_apart(n: int) -> float:
    """How many steps neighbouring points may lie apart without a gap: a thinned log holds only extremes."""
    if n <= AT_MOST:
        return 1.5
    return 2.0 * -(-n // ((AT_MOST - 2) // 2))


def _notes(results: Results, site: SiteContext, result: LongRunResult, step_s: float, *, named: bool) -> list[str]:
    """named: whether the device is named here, because the title may not do so."""
    run, figures = result.run, result.figures
    assert figures is not None
    where = f" at {run.spot}" if run.spot else ""
    whose = f"{device_name(results.bench, run.device)} with " if named else ""
    without = figures.duration_s - figures.logged_s
    log = f"n = {figures.samples} values, one every {wording.trimmed(step_s, 1)} s"
    if not figures.coverage.whole:
        log += f"; {wording.trimmed(without, 0)} s without a log stay empty"
    return [
        f"{whose}{_client(results, run)}{where}, {longrun_link(run)}, firmware {run.firmware}, unit {run.unit}, "
        f"{wording.date(run.date)}. {log}.",
        "Where values are denser than the picture it shows the lowest and the highest of each stretch; a mark at the "
        f"foot is {wording.percent(STALLED_SHARE)} of the median or less.",
        f"{site.title}, Method {METHOD_NUMBER}.",
    ]


def _client(results: Results, run: LongRun) -> str:
    return results.bench.clients[run.client].name


def longrun_link(run: LongRun) -> str:
    """ "5 GHz, 80 MHz, down"."""
    return wording.conditions(band_name=run.band, width_mhz=run.width_mhz, direction=run.direction)
