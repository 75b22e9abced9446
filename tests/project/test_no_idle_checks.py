"""No check that checks nothing: a comparison whose answer is thrown away, a test without one."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted((ROOT / "tests").rglob("*.py")) + sorted((ROOT / "ridelog").rglob("*.py"))
TEST_FILES = [path for path in SOURCES if path.name.startswith("test_")]
ANSWERS = ("isclose", "allclose", "array_equal", "approx", "isfinite", "isinstance", "all", "any")
CHECKING_CALLS = ("raises", "warns", "fail")


def called_name(node: ast.expr) -> str:
    if not isinstance(node, ast.Call):
        return ""
    function = node.func
    return function.attr if isinstance(function, ast.Attribute) else getattr(function, "id", "")


def idle_lines(source: str) -> list[int]:
    """Lines whose whole statement is a question nobody reads the answer of."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Expr)
        and (isinstance(node.value, ast.Compare) or called_name(node.value) in ANSWERS)
    ]


def checks_something(function: ast.FunctionDef, helpers: set[str]) -> bool:
    for node in ast.walk(function):
        if isinstance(node, ast.Assert):
            return True
        name = called_name(node) if isinstance(node, ast.Call) else ""
        if name.startswith(("assert", "check")) or name in CHECKING_CALLS or name in helpers:
            return True
    return False


def unchecked_tests(source: str) -> list[str]:
    functions = [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.FunctionDef)]
    helpers = {
        f.name for f in functions if not f.name.startswith("test_") and checks_something(f, set())
    }
    return [
        f.name for f in functions if f.name.startswith("test_") and not checks_something(f, helpers)
    ]


def place_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("path", SOURCES, ids=place_of)
def test_no_answer_is_thrown_away(path):
    assert idle_lines(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", TEST_FILES, ids=place_of)
def test_every_test_checks_something(path):
    assert unchecked_tests(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    "line",
    ["np.isclose(a, b)", "np.allclose(a, b)", "a == b", "math.isclose(a, b)", "np.all(a > b)"],
)
def test_the_check_itself_catches_an_idle_line(line):
    assert idle_lines(f"def test_it():\n    {line}\n") == [2]
    assert idle_lines(f"def test_it():\n    assert {line}\n") == []


def test_the_check_itself_catches_a_test_without_a_check():
    assert unchecked_tests("def test_it():\n    run()\n") == ["test_it"]
    assert unchecked_tests("def test_it():\n    assert run()\n") == []
