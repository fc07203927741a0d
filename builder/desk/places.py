"""Which task makes the file at an address, found without making anything.

A page's own address is known before it is made. What lies beside it, its leaves, charts and rows, is known once it was
made, and until then found among the pages whose name or folder it carries.
"""

from __future__ import annotations

import posixpath
from collections import defaultdict
from collections.abc import Iterator, Sequence

from builder import addresses
from builder.bench.cells import Group
from builder.desk.drafts import draft_review
from builder.pages.contents import Contents, Results
from builder.pages.my_room import room_groups, room_key
from builder.pages.prices import YEARS
from builder.pages.search import ARTICLES_KEY, DATA_KEY
from builder.pairs.pair_parts import PAIR_WORDS
from builder.publishing.files.pair_data import pair_blocks
from builder.publishing.files.room_data import beside_rooms
from builder.publishing.files.script_data import DataTask, cards_tasks
from builder.publishing.making.page_list import KINDS, Task, all_pages
from catalog.figure_names import joined_id

AnyTask = Task | DataTask
_SCRIPTS = "scripts/"
_ROWS = "scripts/rows/"  # which a page had no room for, by the folder of the page
_CHARTS = "figures"
_DOWNLOADS = "data/"
_OF_ONE_FILE = {
    addresses.script_data(PAIR_WORDS): "pair words",
    addresses.script_data(DATA_KEY): "search data",
    addresses.script_data(ARTICLES_KEY): "search articles",
}


# Pages that every site has, whatever is in it. Of the data page, whose arguments are heavy, none.
ALWAYS_THERE = {
    kind.address: Task(name) for name, kind in KINDS.items() if isinstance(kind.address, str) and name != "data"
}


def page_tasks(contents: Contents) -> dict[str, Task]:
    """Address -> task of every page that `all_pages` knows."""
    tasks = all_pages(contents.catalogue, contents.results, dated={})
    named = [draft_review(*task.arguments) if task.kind == "review" else task for task in tasks]
    return {task.address: task for task in named}


def is_of_downloads(address: str) -> bool:
    """Whether an address is that of a download, of the page that lists them or of what lies beside this."""
    return address.startswith((_DOWNLOADS, f"{_ROWS}{_DOWNLOADS}"))


def short_links(tasks: dict[str, Task]) -> dict[str, list[Task]]:
    """Address of each short link -> the pages that it leads to."""
    leads: dict[str, list[Task]] = defaultdict(list)
    for address, task in tasks.items():
        if addresses.has_short(address):
            leads[addresses.short(address)].append(task)
    return leads


def data_task(results: Results, address: str) -> DataTask | None:
    """The task of a file of data that scripts read; None where that address holds none."""
    if address in _OF_ONE_FILE:
        return DataTask(_OF_ONE_FILE[address], ((),) if _OF_ONE_FILE[address] == "search data" else ())
    folder, _, name = address.removeprefix(_SCRIPTS).removesuffix(".js").partition("/")
    if not name or not address.startswith(_SCRIPTS):
        return None
    if folder == "sizes":
        return DataTask("figures by size")
    if folder == "affordable":
        return DataTask("affordable", (int(name),)) if name.isdecimal() and int(name) in YEARS else None
    if folder == "cards":
        return next((task for task in cards_tasks(results) if str(task.arguments[0]) == name), None)
    if folder == "rooms":
        groups = [group for group in room_groups(results) if addresses.script_data(room_key(group)) == address]
        return next((DataTask("room", about) for about in beside_rooms(results, groups)), None)
    if folder == "pairs":
        one, _, other = name.partition("-")
        if one.isdecimal() and other.isdecimal():
            blocks = (b for b in pair_blocks(results) if int(one) in b.one and int(other) in b.other)
            return next((DataTask("pairs of a block", (block,)) for block in blocks), None)
    return None


def likely_tasks(tasks: dict[str, Task], address: str) -> Iterator[Task]:
    """Tasks that may make the file at *address* beside their page, the likeliest first."""
    folder = posixpath.dirname(address).removeprefix(_ROWS)
    if folder != _CHARTS:
        yield from (task for at, task in tasks.items() if posixpath.dirname(at) == folder)
        return
    name = posixpath.basename(address)
    parts = [(list(_names(task.arguments)), task) for task in tasks.values()]
    named = [(len(names), task) for names, task in parts if all(one in name for one in names)]
    yield from (task for _, task in sorted(named, key=lambda one: -one[0]))


def _names(arguments: Sequence[object]) -> Iterator[str]:
    """What of a task's arguments stands in the names of its charts."""
    for argument in arguments:
        if isinstance(argument, Group):
            yield argument.slug
        elif isinstance(argument, str):
            yield joined_id(argument)
