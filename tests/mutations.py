"""Changes of one token in what computes, each tried against the tests that run its line. By hand, after

    pip install pytest-cov
    python tests/mutations.py builder/metrics/*.py builder/wording.py --count 50 --seed 1

with --tests where only some are to be asked. At first all of them run once, to see which test runs which line.
All happens in a copy of the project. What no test notices is printed: either it changes nothing that anybody could see,
or a test is missing.
"""

import argparse
import ast
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

from coverage import CoverageData

ROOT = Path(__file__).parents[1]
TESTS = [f"tests/{name}" for name in ("builder", "catalog/digesting", "demo", "properties", "scripts", "stories")]
MOST_TESTS, TIMEOUT_S = 40, 150

OTHER = {ast.Lt: ast.LtE, ast.Gt: ast.GtE, ast.Eq: ast.NotEq, ast.Is: ast.IsNot, ast.In: ast.NotIn, ast.And: ast.Or}
OTHER |= {ast.Add: ast.Sub, ast.Mult: ast.Div, ast.BitAnd: ast.BitOr}
OTHER |= {new: old for old, new in OTHER.items()}
NAMES = {"min": "max", "any": "all", "floor": "ceil", "minimum": "maximum", "argmin": "argmax"}
NAMES |= {new: old for old, new in NAMES.items()}


class Change(NamedTuple):
    """One change: the node of that number in `ast.walk`, and which of the changes that it allows."""

    module: str
    line: int
    node: int
    which: int


def changes_of(node: ast.AST, *, words: bool) -> Iterator[Callable[[], None]]:
    """What may be done to one node, in place; *words*: its texts are what is tested."""
    match node:
        case ast.Compare():
            for place, op in enumerate(node.ops):
                yield lambda place=place, op=op: node.ops.__setitem__(place, OTHER[type(op)]())
        case ast.BinOp() | ast.AugAssign() | ast.BoolOp() if type(node.op) in OTHER:
            yield lambda: setattr(node, "op", OTHER[type(node.op)]())
        case ast.If() | ast.IfExp() | ast.While():
            yield lambda: setattr(node, "test", ast.UnaryOp(ast.Not(), node.test))
        case ast.comprehension():
            for place, condition in enumerate(node.ifs):
                yield lambda place=place, one=condition: node.ifs.__setitem__(place, ast.UnaryOp(ast.Not(), one))
        case ast.UnaryOp(op=ast.USub()):
            yield lambda: setattr(node, "op", ast.UAdd())
        case ast.Call(func=ast.Name(id=name) | ast.Attribute(attr=name)) if name in NAMES:
            yield lambda: setattr(node.func, "id" if isinstance(node.func, ast.Name) else "attr", NAMES[name])
        case ast.Call(func=ast.Name(id="sorted"), keywords=keywords) if not any(k.arg == "reverse" for k in keywords):
            yield lambda: keywords.append(ast.keyword("reverse", ast.Constant(True)))
        case ast.Constant(value=bool(value)):
            yield lambda: setattr(node, "value", not value)
        case ast.Constant(value=int(value) | float(value)):
            more = value * 2 if isinstance(value, float) else value + 1
            yield lambda: setattr(node, "value", {0: 1, 1: 0}.get(value, more))
        case ast.Constant(value=str(value)) if words and value.strip():
            yield lambda: setattr(node, "value", value + "?")


def silent(tree: ast.Module) -> set[int]:
    """Nodes that compute nothing: docstrings, annotations, decorators, messages of errors, what holds without saying."""
    found: list[ast.AST | None] = []
    for node in ast.walk(tree):
        match node:
            case ast.FunctionDef() | ast.ClassDef():
                found += [*node.decorator_list, getattr(node, "returns", None)]
            case ast.arg() | ast.AnnAssign():
                found.append(node.annotation)
            case ast.Expr(value=ast.Constant()) | ast.Raise() | ast.Assert() | ast.keyword(arg="strict"):
                found.append(node)
    return {id(part) for node in found if node is not None for part in ast.walk(node)}


def every_change(module: str) -> list[Change]:
    tree = ast.parse((ROOT / module).read_text(encoding="utf-8"))
    skipped = silent(tree)
    return [
        Change(module, getattr(node, "lineno", 0), number, which)
        for number, node in enumerate(ast.walk(tree))
        if id(node) not in skipped
        for which, _ in enumerate(changes_of(node, words=module.endswith("wording.py")))
    ]


def changed(change: Change) -> tuple[str, str]:
    """The module's source after a change, and the lines of its statement that differ."""
    tree = ast.parse((ROOT / change.module).read_text(encoding="utf-8"))
    before = ast.unparse(tree).splitlines()
    node = list(ast.walk(tree))[change.node]
    list(changes_of(node, words=change.module.endswith("wording.py")))[change.which]()
    after = ast.unparse(ast.fix_missing_locations(tree))
    pairs = zip(before, after.splitlines(), strict=False)
    return after, "\n".join(f"  - {old.strip()}\n  + {new.strip()}" for old, new in pairs if old != new)


def pytest(copy: Path, *arguments: str, seconds: int = 7200) -> bool:
    """Whether the tests pass in the copy; False, too, where they do not end."""
    environment = os.environ | {"PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    command = ["timeout", str(seconds), sys.executable, "-m", "pytest", *arguments]
    return not subprocess.run(command, cwd=copy, env=environment, capture_output=True, check=False).returncode


def tests_by_line(copy: Path, tests: list[str]) -> dict[tuple[str, int], list[str]]:
    """(module, line) -> the tests that run it, those that run least beside it first; line 0 is any line."""
    pytest(copy, *tests, "--cov=builder", "--cov=catalog", "--cov-context=test")
    data = CoverageData(str(copy / ".coverage"))
    data.read()
    found: dict[tuple[str, int], set[str]] = defaultdict(set)
    weight: dict[str, int] = defaultdict(int)
    for file in data.measured_files():
        for line, contexts in data.contexts_by_lineno(file).items():
            for test in {context.rpartition("|")[0] for context in contexts} - {""}:
                weight[test] += 1
                for place in (line, 0):
                    found[str(Path(file).relative_to(copy)), place].add(test)
    return {place: sorted(tests, key=lambda test: (weight[test], test)) for place, tests in found.items()}


def main() -> None:
    options = argparse.ArgumentParser(description="Changes of one token, and whether a test notices.")
    options.add_argument("modules", nargs="+", help="from the top of the project")
    options.add_argument("--tests", nargs="+", default=TESTS, help="where tests are looked for")
    options.add_argument("--count", type=int, default=150)
    options.add_argument("--seed", type=int, default=1)
    asked = options.parse_args()
    every = [change for module in asked.modules for change in every_change(module)]
    drawn = random.Random(asked.seed).sample(every, min(asked.count, len(every)))
    survivors = 0
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder).resolve() / "project"
        shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(".venv", ".git", ".hypothesis", "__pycache__"))
        by_line = tests_by_line(copy, asked.tests)
        for number, change in enumerate(sorted(drawn), start=1):
            source, difference = changed(change)
            tests = by_line.get((change.module, change.line)) or by_line.get((change.module, 0), [])
            (copy / change.module).write_text(source, encoding="utf-8")
            if not tests or pytest(copy, "-x", *tests[:MOST_TESTS], seconds=TIMEOUT_S):
                survivors += 1
                print(f"{change.module}:{change.line}, {len(tests)} tests\n{difference}", flush=True)  # noqa: T201
            shutil.copyfile(ROOT / change.module, copy / change.module)
            print(f"{number} of {len(drawn)}, {survivors} not noticed", file=sys.stderr)  # noqa: T201


if __name__ == "__main__":
    main()
