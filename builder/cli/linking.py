"""The verb that compares devices which never met the same client: link."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import click

from builder.cli.instants import as_of_option, instant_text
from builder.cli.program import catalog_option, json_option, print_json, print_lines
from builder.cli.sides import side_json, side_name


@click.command()
@click.argument("a")
@click.argument("b")
@click.option("--unit-a", help="The unit of A.")
@click.option("--unit-b", help="The unit of B.")
@click.option("--band", help="2.4, 5 or 6.")
@click.option("--width", type=int, metavar="MHZ", help="Channel width.")
@click.option("--direction", type=click.Choice(["down", "up"]), help="As seen from the access point.")
@catalog_option
@as_of_option
@json_option
def link(
    a: str,
    b: str,
    unit_a: str | None,
    unit_b: str | None,
    band: str | None,
    width: int | None,
    direction: str | None,
    catalog: Path,
    as_of: datetime,
    as_json: bool,
) -> None:
    """Compare A with B indirectly, over bridge devices that met the clients of both."""
    from builder import wording
    from builder.bench.bench import subject_named
    from builder.bench.naming import conditions, series_name
    from builder.bench.tracks import GroupFilter
    from builder.windows.bridge_choice import bench_to_link
    from builder.windows.indirect import link_json, links, no_link

    only = GroupFilter(None, band, width, direction)
    bench = bench_to_link(catalog, a, b, units=(unit_a, unit_b), as_of=as_of, only=only)
    who_a, who_b = subject_named(bench, a, unit=unit_a), subject_named(bench, b, unit=unit_b)
    results = links(bench, who_a, who_b, only=only)
    nothing = no_link(who_a, who_b)
    if as_json:
        print_json(
            {
                "as_of": instant_text(as_of),
                "a": side_json(who_a),
                "b": side_json(who_b),
                "links": [link_json(one) for one in results]
                or [{"verdict": "refused", "code": nothing.code, "sentence": nothing.sentence}],
            }
        )
        return
    lines = [
        f"{side_name(who_a)} against {side_name(who_b)}, over bridges",
        f"As of {instant_text(as_of)}. Indirect figures have no place in a ranking.",
    ]
    lines += [w.note for w in (who_a, who_b) if w.note]
    for one in results:
        ends = wording.listing([series_name(bench, g.series) for g in (one.group_a, one.group_b)])
        lines += ["", f"{ends}, {conditions(one.group_a)}, {one.window} window", f"  {one.sentence}"]
    print_lines(lines if results else [*lines, nothing.sentence])
