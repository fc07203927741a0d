"""The site's own scripts: small modules joined into one classic script, which a browser runs from disk, too.

A browser refuses modules, and `fetch`, for a page opened from disk. So what the modules import from each other is
resolved here: the file of every module comes after those it needs, all inside one function. A tool that only one page
has would weigh on all the others: that page has a script with it, the others have one without.
"""

from __future__ import annotations

import base64
import json
import re
import zlib
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import orjson

from builder import addresses
from builder.pages.prices import YEARS
from builder.publishing.files.assets import Asset, named_by_content
from catalog.errors import BuildRefused

# The module of a tool -> the only pages that have it.
OF_ONE_PAGE = {
    "device_chooser.mjs": (addresses.CHOOSER,),
    "my_room.mjs": (addresses.MY_ROOM,),
    "price_answer.mjs": tuple(addresses.prices(years) for years in YEARS),
    "site_search.mjs": (addresses.SEARCH,),
}

_IMPORT = re.compile(r"^import \{[^}]*\} from \"\./([\w-]+\.mjs)\";?\n", re.MULTILINE)
_ANY_IMPORT = re.compile(r"^import\b.*$", re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?function\b|class\b|const\b)", re.MULTILINE)
_ANY_EXPORT = re.compile(r"^export\b.*$", re.MULTILINE)
# Comments and indents help readers of the sources; a phone need not load them. No string of ours spans lines.
_FOR_US = re.compile(r"^\s*//.*\n|^ +", re.MULTILINE)
_MUCH = 4000  # [B]
_LEVEL = 4  # of zlib: half of the time of the usual 6, and 5 % more bytes
_NAMED = re.compile(r"^(?:async )?(?:function|class|const|let|var) ([\w$]+)", re.MULTILINE)


def site_script(templates: Path) -> Asset:
    """All modules of site_templates/js but those that only tools of one page need, as one script.

    Raises  BuildRefused: there are none, one needs a module that is not there, or two use one name.
    """
    modules = _modules(templates)
    _joined(modules, in_order(modules))  # what one page has is held to the same
    return named_by_content("site", ".js", _joined(modules, in_order(modules, _tools_of_all(modules))))


def page_scripts(templates: Path) -> dict[str, Asset]:
    """Address of a page -> the script that it has instead of the site's: the same and its own tool.

    Raises  BuildRefused as `site_script` does.
    """
    modules = _modules(templates)
    usual = _tools_of_all(modules)
    return {
        page: named_by_content("tools", ".js", _joined(modules, in_order(modules, [*usual, module])))
        for module, pages in OF_ONE_PAGE.items()
        if module in modules
        for page in pages
    }


def _tools_of_all(modules: dict[str, str]) -> list[str]:
    """Modules of tools that any page may have: nothing needs them, and they are not of one page."""
    needed = {name for text in modules.values() for name in _IMPORT.findall(text)}
    return [name for name in modules if name not in needed and name not in OF_ONE_PAGE]


def _modules(templates: Path) -> dict[str, str]:
    modules = {path.name: path.read_text(encoding="utf-8") for path in sorted((templates / "js").glob("*.mjs"))}
    if not modules:
        raise BuildRefused("The scripts are missing from the templates, so no page can be written.")
    return modules


def _joined(modules: dict[str, str], names: Sequence[str]) -> bytes:
    """Modules in that order, inside one function."""
    bodies = [_body(name, modules[name]) for name in names]
    twice = [name for name, count in Counter(_NAMED.findall("\n".join(bodies))).items() if count > 1]
    if twice:
        raise BuildRefused(f"Two scripts use the name {twice[0]}, and all of them become one script.")
    joined = _FOR_US.sub("", "\n".join(bodies))
    return f'(() => {{\n"use strict";\n{joined}}})();\n'.encode()


def in_order(modules: dict[str, str], begin: Iterable[str] | None = None) -> list[str]:
    """Names of modules, each after those it imports; otherwise by name. Raises BuildRefused for one that is missing.

    begin  the ones to have with all they need; None for all there are
    """
    done: list[str] = []

    def add(name: str, asked_by: str) -> None:
        if name in done:
            return
        if name not in modules:
            raise BuildRefused(f"The script {asked_by} needs {name}, which is missing from the templates.")
        for needed in _IMPORT.findall(modules[name]):
            add(needed, name)
        done.append(name)

    for name in modules if begin is None else begin:
        add(name, name)
    return done


def data_script(key: str, value: Any, *, pack: bool = True) -> bytes:
    """Data as a script: what JSON would be, handed to the page under *key* (site_templates/js/loading.mjs).

    pack  whether much of it is packed by zlib, as base64; not where the values themselves are
    """
    text = orjson.dumps(value, option=orjson.OPT_SORT_KEYS | orjson.OPT_SERIALIZE_NUMPY)
    if pack and len(text) >= _MUCH:
        text = b'"%b"' % base64.b64encode(zlib.compress(text, _LEVEL))
    return b"(window.likelossData ??= {})[%b] = %b;\n" % (json.dumps(key).encode(), text)


def _body(name: str, text: str) -> str:
    body = _EXPORT.sub("", _IMPORT.sub("", text))
    left = _ANY_IMPORT.search(body) or _ANY_EXPORT.search(body)
    if left:
        raise BuildRefused(f"The script {name} has a line that cannot be joined with others: {left[0]}")
    return f"// {name}\n{body.strip()}\n"
