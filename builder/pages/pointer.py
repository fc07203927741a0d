"""Pages that lead on: short links, and addresses that had a page in an earlier build and have none in this one.

Ids never change, so a renamed thing keeps its address. What comes and goes is which pairs are prepared and which groups
are ranked: their old addresses stay and say where to go, as long as everything they name may be seen.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import ClassVar, Protocol

from builder import addresses
from builder.bench.naming import device_name
from builder.pages.contents import Catalogue, Results, SiteContext
from builder.pages.parts.blocks import Link, Page
from builder.pages.parts.provenance import provenance
from builder.pages.recipe import recipe_place, repeated_with
from builder.traces.ids import parse_figure_id
from catalog.figure_names import joined_id

# What the page at an address of an earlier build says.
_NO_PAIR = "These two had a page of their own and have none any more: others are nearer to each now."
_NO_CHART = "The chart that stood here is not drawn any more."
_FRAMED = "The chart is one file by itself, in a frame, too."
_TAKEN_BACK = "What stood here was taken back."
_MOVED = "All versions and roles of a workload are found from one page."
_ONE_RECIPE = "All client setups of a device are on one page."
_NO_RANKING = "What was ranked here is part of another ranking now, or has too few devices for one."


@dataclass(frozen=True, kw_only=True)
class PointerPage(Page):
    """Links onward. refresh: where a browser goes by itself; "" where the reader must choose."""

    template: ClassVar[str] = "pointer"
    canonical: ClassVar[bool] = False

    links: tuple[Link, ...]
    refresh: str = ""


@dataclass(frozen=True, kw_only=True)
class PointerPicture(PointerPage):
    """The same in the place of a chart, which other sites may have in a frame or as a picture."""

    template: ClassVar[str] = "pointer_picture"

    @property
    def lines(self) -> tuple[tuple[int, Link], ...]:
        """Each link with where its line stands. [px]"""
        return tuple((60 + 28 * row, link) for row, link in enumerate(self.links))

    @property
    def height(self) -> int:
        """Of the whole picture. [px]"""
        return 48 + 28 * len(self.links)


class Target(Protocol):
    """A page that others lead to."""

    @property
    def address(self) -> str: ...

    @property
    def title(self) -> str: ...


def short_targets(pages: Iterable[Target]) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
    """Each short link with (title, address) of the pages behind it, in order."""
    behind: dict[str, list[tuple[str, str]]] = defaultdict(list)
    for page in pages:
        if addresses.has_short(page.address):
            behind[addresses.short(page.address)].append((page.title, page.address))
    return [(here, tuple(targets)) for here, targets in sorted(behind.items())]


def short_page(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, targets: Sequence[tuple[str, str]]
) -> PointerPage:
    """The page at the short link *here*, which leads to *targets*: (title, address) of each."""
    links = tuple(Link(title, addresses.link(here, address)) for title, address in targets)
    first, one = targets[0][0], len(targets) == 1
    return PointerPage(
        address=here,
        title=first if one else "Which of these?",
        question="Where does this short link lead?" if one else "Which of these did you look for?",
        verdict=f"To {first}." if one else "Several pages share this short link.",
        provenance=provenance(catalogue, results, site, here),
        links=links,
        refresh=links[0].href if one else "",
    )


def leads_on(html: str) -> bool:
    """Whether the text of a written page is that of a *former_page*."""
    return any(
        sentence in html for sentence in (_NO_PAIR, _NO_CHART, _FRAMED, _TAKEN_BACK, _MOVED, _ONE_RECIPE, _NO_RANKING)
    )


def former_page(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    """What an address that an earlier build had leads to; None where not all it names may be seen."""
    if not here.endswith(".svg"):
        return _former_page(catalogue, results, site, here)
    page = _former_page(catalogue, results, site, addresses.former_frame(here))
    if page is None:
        return None
    return PointerPicture(**{part.name: getattr(page, part.name) for part in fields(page)} | {"address": here})


def frame_page(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage:
    """The page at *here*, where earlier builds had one for frames around a chart, which is still drawn."""
    link = Link("The chart", addresses.link(here, addresses.framed_picture(here)))
    return PointerPage(
        address=here,
        title="A chart",
        question="Where is this chart?",
        verdict=_FRAMED,
        provenance=provenance(catalogue, results, site, here),
        links=(link,),
        refresh=link.href,
    )


def _former_page(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    return (
        _former_pair(catalogue, results, site, here)
        or _former_ranking(catalogue, results, site, here)
        or _former_recipe(catalogue, results, site, here)
        or _former_dated(catalogue, results, site, here)
        or _former_workload(catalogue, results, site, here)
        or _former_chart(catalogue, results, site, here)
    )


def workload_version_page(
    catalogue: Catalogue, results: Results, site: SiteContext, workload_id: str, version: int
) -> PointerPage:
    """The address of one version of a workload, which leads to the page of all versions."""
    here = addresses.workload_version(workload_id, version)
    title = catalogue.workloads[workload_id, version].title
    return _to_workload(catalogue, results, site, here, workload_id, title)


def _to_workload(
    catalogue: Catalogue, results: Results, site: SiteContext, here: str, workload_id: str, title: str
) -> PointerPage:
    links = (Link(title, addresses.link(here, addresses.workload(workload_id))),)
    return PointerPage(
        address=here,
        title=title,
        question="Where is it?",
        verdict=_MOVED,
        provenance=provenance(catalogue, results, site, here),
        links=links,
        refresh=links[0].href,
    )


def _former_workload(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    """A page or chart of a workload, of one version or of one role, that lies elsewhere now.

    Nothing is said of a version or a role that may not be seen.
    """
    parts = here.removesuffix(".html").split("/")
    for (workload_id, version), plan in sorted(catalogue.workloads.items(), reverse=True):
        homes = {addresses.workload(workload_id), addresses.workload_version(workload_id, version)}
        in_folder = len(parts) == 3 and f"{parts[0]}/{parts[1]}/index.html" in homes
        charts = tuple(joined_id("waiting", home.split("/")[1]) for home in homes)
        is_chart = len(parts) == 2 and parts[0] == "figures" and parts[1].startswith(tuple(f"{c}~" for c in charts))
        if not in_folder and not is_chart:
            continue
        name = parts[2] if in_folder else f"role~{parts[1].split('~', 2)[2]}"
        of_role = re.match("role~|table-", name)
        roles = [re.escape(joined_id(role.role_id)) for role in plan.roles]
        if not of_role or re.fullmatch(rf"({'|'.join(roles)})(~\d+)?(~in)?(-\d+)*", name[of_role.end() :]):
            return _to_workload(catalogue, results, site, here, workload_id, plan.title)
    return None


def _former_pair(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    if not here.startswith("pairs/") or "--" not in here:
        return None
    devices = {addresses.half(device): device for device in results.bench.devices}
    name = here.split("/")[1]
    for first, device in devices.items():
        other = devices.get(name.removeprefix(f"{first}--")) if name.startswith(f"{first}--") else None
        if other is not None:
            both = [device, other]
            names = [device_name(results.bench, d) for d in both]
            links = [Link(n, addresses.link(here, addresses.device(d))) for n, d in zip(names, both, strict=True)]
            links.append(Link("All prepared pairs", addresses.link(here, addresses.PAIRS)))
            return PointerPage(
                address=here,
                title=f"{names[0]} and {names[1]}",
                question="Which gives more where I sit?",
                verdict=_NO_PAIR,
                provenance=provenance(catalogue, results, site, here),
                links=tuple(links),
            )
    return None


def _former_chart(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    """The address of a pair's chart that is no longer drawn; other sites may still have it in a frame."""
    figure = parse_figure_id(here.removeprefix("figures/").removesuffix(".html"))
    if figure is None or figure.kind != "pair" or here != addresses.former_frame(addresses.chart_picture(figure.text)):
        return None
    devices = results.bench.devices
    sides = figure.names[:3], figure.names[3:]
    for device, unit, firmware in sides:
        known = devices.get(device)
        if known is None or unit not in {u.unit_id for u in known.units}:
            return None
        if firmware not in {f.version for f in known.firmware}:
            return None
    if figure.rest[0] not in _series(results):
        return None
    names = [device_name(results.bench, device) for device, _, _ in sides]
    links = [
        Link(name, addresses.link(here, addresses.device(side[0]))) for name, side in zip(names, sides, strict=True)
    ]
    return PointerPage(
        address=here,
        title=f"{names[0]} and {names[1]}",
        question="Which gives more where I sit?",
        verdict=_NO_CHART,
        provenance=provenance(catalogue, results, site, here),
        links=tuple(links),
    )


def _series(results: Results) -> set[str]:
    """Every client series that may be seen."""
    clients = results.bench.clients.values()
    return {driver.series for client in clients for driver in client.drivers} | {client.series for client in clients}


def _former_recipe(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    """The recipe of a device with one client setup, if it is on this site."""
    if not here.startswith("repeat/"):
        return None
    name, devices = here.split("/")[1], results.bench.devices
    pieces = name.split("--")
    heads = ("--".join(pieces[:number]) for number in range(1, len(pieces)))
    # Most ids stand in an address as they are; only others are looked for among all.
    for device in [head for head in heads if head in devices] or devices:
        if not name.startswith(f"{addresses.half(device)}--"):
            continue
        for client in repeated_with(results, device):
            if here == addresses.former_recipe(device, client):
                names = device_name(results.bench, device), results.bench.clients[client].name
                link = Link(f"{names[0]} with {names[1]}", addresses.link(here, *recipe_place(results, device, client)))
                return PointerPage(
                    address=here,
                    title=f"Repeat {link.text}",
                    question="Can I do it at home?",
                    verdict=_ONE_RECIPE,
                    provenance=provenance(catalogue, results, site, here),
                    links=(link,),
                    refresh=link.href,
                )
    return None


def _former_dated(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    """The address of a device's dated page whose contents may not be shown any more."""
    parts = here.split("/")
    known = {addresses.part(joined_id(device)): device for device in results.bench.devices}
    if len(parts) != 5 or parts[0] != "devices" or parts[2] != "published" or parts[1] not in known:
        return None
    name = device_name(results.bench, known[parts[1]])
    return PointerPage(
        address=here,
        title=f"{name}: taken back",
        question=f"What did we say of {name}?",
        verdict=_TAKEN_BACK,
        provenance=provenance(catalogue, results, site, here),
        links=(Link(f"{name} now", addresses.link(here, addresses.device(known[parts[1]]))),),
    )


def _former_ranking(catalogue: Catalogue, results: Results, site: SiteContext, here: str) -> PointerPage | None:
    parts = here.split("/")
    known = {joined_id(series) for series in _series(results)}
    if len(parts) != 3 or parts[0] != "rankings" or parts[1].split("~")[0] not in known:
        return None
    return PointerPage(
        address=here,
        title="A former ranking",
        question="Where is this ranking?",
        verdict=_NO_RANKING,
        provenance=provenance(catalogue, results, site, here),
        links=(Link("All rankings", addresses.link(here, addresses.RANKINGS)),),
    )
