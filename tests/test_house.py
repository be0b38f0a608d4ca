"""The house's measures: modules that fit in a head, functions that fit on a screen."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
LONGEST_MODULE, LONGEST_FUNCTION = 350, 40
MODULES = sorted(
    path
    for package in ("mechanics", "vision", "ui", "fixtures")
    for path in (ROOT / package).rglob("*.py")
)


def lines_of(function):
    """Return the lines of a function without its docstring and its arguments."""
    body = function.body
    if isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant):
        body = body[1:]
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def functions_of(path):
    tree = ast.parse(path.read_text())
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return [node for node in ast.walk(tree) if isinstance(node, kinds)]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_modules_and_functions_keep_to_the_measure(path):
    assert len(path.read_text().splitlines()) <= LONGEST_MODULE
    for function in functions_of(path):
        assert lines_of(function) <= LONGEST_FUNCTION, function.name
