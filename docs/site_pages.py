"""Pages of the site that are made from the sources: what the tests compare with, and the modules.

Run by mkdocs as a hook (`make docs`).
"""

import ast
from collections.abc import Iterator
from pathlib import Path

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files

ROOT = Path(__file__).parents[1]
REPOSITORY_FILES = ("README.md", "DEVELOPERS.md")


def on_files(files: Files, config: MkDocsConfig) -> Files:
    """Add the pages that stand in no file of `docs`."""
    made = {
        "index.md": _from_the_top("README.md"),
        "developers.md": _from_the_top("DEVELOPERS.md"),
        "validation.md": _validation(),
    }
    made |= {f"reference/{name}.md": _modules(name) for name in ("mechanics", "vision", "ui")}
    for name, content in made.items():
        files.append(File.generated(config, name, content=content))
    return files


def _from_the_top(name: str) -> str:
    """Return a page of the repository's top with its links as they are from here."""
    text = (ROOT / name).read_text().replace("(docs/", "(").replace('src="docs/', 'src="')
    return text.replace("(DEVELOPERS.md)", "(developers.md)")


def _modules(package: str) -> str:
    """Return a page that shows all modules of a package by their docstrings."""
    names = []
    for path in sorted((ROOT / package).rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if parts[-1] in ("__init__", "conftest", "front", "app") or "migrations" in parts:
            continue
        names.append(".".join(parts))
    return "\n\n".join([f"# `{package}`", *(f"::: {name}" for name in names)]) + "\n"


def _validation() -> str:
    """Return a page with every comparison of `tests/validation`, by the tests' own tables."""
    parts = [
        "# Validation",
        "What is reckoned, compared with published examples and with general libraries. This page "
        "is made from the tests themselves (`tests/validation`), which run before it is made: each "
        "line is a comparison that holds, with the tolerance that stands in the test.",
    ]
    for path in sorted((ROOT / "tests" / "validation").glob("test_*.py")):
        tree = ast.parse(path.read_text())
        parts += [f"## {path.stem.removeprefix('test_').replace('_', ' ')}", _prose(tree)]
        parts += [text for function in _tests(tree) for text in _told(function)]
    return "\n\n".join(part for part in parts if part) + "\n"


def _tests(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            yield node


def _prose(node: ast.Module | ast.FunctionDef) -> str:
    return (ast.get_docstring(node) or "").replace("<", "&lt;")


def _told(function: ast.FunctionDef) -> Iterator[str]:
    """Yield a test's name, what it says of itself, and its table."""
    yield f"### {function.name.removeprefix('test_').replace('_', ' ')}"
    yield _prose(function)
    for mark in function.decorator_list:
        if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "pytest.mark.parametrize":
            yield _table(mark.args[0], mark.args[1])


def _table(names: ast.expr, rows: ast.expr) -> str:
    """Return a parametrised test's values as a table; what is no list of rows is left as it is."""
    value = ast.literal_eval(names)
    head = [one.strip() for one in value.split(",")] if isinstance(value, str) else list(value)
    if not isinstance(rows, ast.List | ast.Tuple):
        return f"for {', '.join(head)} in `{ast.unparse(rows)}`"
    lines = [f"| {' | '.join(head)} |", "|" + "---|" * len(head)]
    for row in rows.elts:
        cells = row.elts if len(head) > 1 and isinstance(row, ast.Tuple) else [row]
        lines.append("| " + " | ".join(_cell(cell) for cell in cells) + " |")
    return "\n".join(lines)


def _cell(value: ast.expr) -> str:
    if isinstance(value, ast.Constant) and isinstance(value.value, str):
        return value.value.replace("|", "\\|").replace("<", "&lt;")
    return f"`{ast.unparse(value)}`".replace("|", "\\|")
