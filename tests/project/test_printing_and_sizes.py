"""Nothing prints outside `cli`, and no file grows beyond what one sitting can read."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import ridelog

PACKAGE = Path(ridelog.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
LONGEST_FILE = 350


def printing_lines(source: str) -> list[int]:
    """Lines that write to the terminal."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        text = ast.unparse(node.func)
        if text in ("print", "click.echo", "sys.stdout.write", "sys.stderr.write"):
            found.append(node.lineno)
    return found


def place_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize(
    "path", [path for path in MODULES if not place_of(path).startswith("cli/")], ids=place_of
)
def test_only_the_command_line_prints(path):
    assert printing_lines(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", MODULES, ids=place_of)
def test_a_file_is_read_in_one_sitting(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


def test_the_check_itself_catches_printing():
    assert printing_lines("def f():\n    print('x')\n    sys.stdout.write('y')\n") == [2, 3]
