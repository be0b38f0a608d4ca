import ast
from pathlib import Path

ROOT = Path(__file__).parents[1]
MAY_IMPORT = {"mechanics": {"mechanics"}, "vision": {"vision", "mechanics"}}


def test_imports_go_one_way():
    for package, allowed in MAY_IMPORT.items():
        for path in (ROOT / package).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
                if isinstance(node, ast.ImportFrom):
                    assert node.level == 0, f"{path}: relative import"
                    names = [node.module or ""]
                for name in {n.split(".")[0] for n in names} & {"mechanics", "vision", "ui"}:
                    assert name in allowed, f"{path} imports {name}"
