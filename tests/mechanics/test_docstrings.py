"""Every public formula says the unit of every number it takes."""

import ast
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "mechanics"
NUMBER = re.compile(r"\b(float|Floats|Real|int|Array|NDArray\[np\.float64\])\b")
HEAD = re.compile(r"^(?P<names>[A-Za-z_]\w*(?:, [A-Za-z_]\w*)*) : ", re.MULTILINE)


def public_functions():
    for path in sorted(FOLDER.glob("*.py")):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield pytest.param(node, id=f"{path.stem}.{node.name}")


def described(doc):
    """Names in the Parameters section, each with its description."""
    section = doc.partition("Parameters\n----------\n")[2]
    section = re.split(r"\n\w[\w ]*\n-{3,}\n", section)[0]
    heads = list(HEAD.finditer(section))
    ends = [h.start() for h in heads[1:]] + [len(section)] if heads else []
    return {
        name: section[head.start() : end]
        for head, end in zip(heads, ends, strict=True)
        for name in head["names"].split(", ")
    }


@pytest.mark.parametrize("function", list(public_functions()))
def test_numbers_have_units(function):
    doc = ast.get_docstring(function) or ""
    assert doc, "no docstring"
    told = described(doc)
    for argument in function.args.args:
        kind = ast.unparse(argument.annotation) if argument.annotation else ""
        if "Callable" in kind or not NUMBER.search(kind):
            continue
        if "Parameters" not in doc and "shape" in doc:
            continue  # one line that gives the shapes
        assert argument.arg in told, f"{argument.arg} is not described"
        assert "[" in told[argument.arg], f"{argument.arg} has no unit"
