"""The house itself: what is pure stays pure, and what the guide says of the tree is so."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PURE = ("inventory/core", "inventory/workbook", "planner/core", "planner/handover")
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", "inventory", "planner", "templates", "tests", "fixtures",
}  # fmt: skip
MOST_LINES, MOST_BODY_LINES = 500, 60
FOLDERS = ("inventory", "planner", "tests", "fixtures")


def modules(folder: str) -> list[str]:
    return sorted(
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in (ROOT / folder).rglob("*.py")
    )


def sources() -> list[Path]:
    return [
        path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py")) if "migrations" not in path.parts
    ]


@pytest.mark.parametrize("folder", PURE)
def test_pure_modules_import_without_django(folder: str) -> None:
    code = (
        "import importlib, sys\n"
        f"for name in {modules(folder)!r}: importlib.import_module(name)\n"
        "loaded = sorted(name for name in sys.modules if name.split('.')[0] in ('django', 'celery'))\n"
        "sys.exit(' '.join(loaded) or 0)"
    )
    ran = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr


def test_the_top_level_is_the_design_card() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    names = {line.split("/")[0] for line in listed.splitlines()}
    assert {name for name in names if not name.startswith(".")} == TOP_LEVEL


def test_no_module_is_too_long_to_read() -> None:
    long = {path.name: count for path in sources() if (count := path.read_text().count("\n")) > MOST_LINES}
    assert long == {}


def test_no_function_is_too_long_to_read() -> None:
    assert [name for path in sources() for name in long_functions(path)] == []


def long_functions(path: Path) -> list[str]:
    functions = [
        node
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    return [f"{path.name}:{one.name}" for one in functions if body_lines(one) > MOST_BODY_LINES]


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0
