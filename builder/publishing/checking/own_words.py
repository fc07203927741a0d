"""Words that the program uses whatever its catalogue holds: printing one of them gives nothing away."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import builder
import catalog

_DOCUMENTED = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


@cache
def own_words(templates: Path) -> str:
    """The text of the page templates in the folder *templates*, and every text in the program except its documentation."""
    pages = [path.read_text(encoding="utf-8") for kind in ("*.html", "*.js") for path in _below(templates, kind)]
    packages = (Path(str(package.__file__)).parent for package in (builder, catalog))
    modules = (path.read_text(encoding="utf-8") for package in packages for path in _below(package, "*.py"))
    return "\n".join([*pages, *(text for module in modules for text in _texts(ast.parse(module)))])


def _below(folder: Path, kind: str) -> list[Path]:
    others = ("vendor", "shipped_files")
    return sorted(path for path in folder.rglob(kind) if not set(others) & set(path.relative_to(folder).parts))


def _texts(module: ast.Module) -> Iterator[str]:
    nodes = list(ast.walk(module))
    documentation = {
        id(node.body[0].value)
        for node in nodes
        if isinstance(node, _DOCUMENTED) and node.body and isinstance(node.body[0], ast.Expr)
    }
    for node in nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in documentation:
            yield node.value
