"""The house has floors: a module imports only from its own room or from lower floors.

Rooms on one floor do not import each other.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import ridelog

PACKAGE = Path(ridelog.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
FLOORS = (
    ("errors",),
    ("units",),
    ("recording", "wire"),
    ("car",),
    ("ingest", "condition", "simulate", "record"),
    ("estimate",),
    ("runs",),
    ("advise",),
    ("report",),
    ("cli",),
)
FLOOR_OF = {room: level for level, rooms in enumerate(FLOORS) for room in rooms}
ONLY_IN = {
    "click": ("cli/",),
    "matplotlib": ("report/plots.py",),
    "serial": ("record/ports.py",),
    "ridelog.simulate": ("simulate/", "cli/demo.py"),
}


def imports_of(source: str) -> list[tuple[str, int]]:
    """Every imported module with the dots of a relative import, wherever in the file."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [(alias.name, 0) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            found.append((module, node.level))
            if module == "ridelog":
                found += [(f"ridelog.{alias.name}", node.level) for alias in node.names]
    return found


def faults_of(place: str, source: str) -> list[str]:
    """What a module at `place` (path in the package) imports against the rules."""
    imports = imports_of(source)
    faults = [f"relative import of {name or '.'}" for name, dots in imports if dots]
    faults += [
        f"{guarded} belongs in {' or '.join(homes)}"
        for name, _ in imports
        for guarded, homes in ONLY_IN.items()
        if (name == guarded or name.startswith(f"{guarded}.")) and not place.startswith(homes)
    ]
    room = place.removesuffix(".py").split("/")[0]
    return faults + [fault for name, _ in imports for fault in floor_faults(room, name)]


def floor_faults(room: str, name: str) -> list[str]:
    """What is wrong with a module of `room` importing the module `name`."""
    parts = name.split(".")
    if parts[0] != "ridelog" or len(parts) < 2 or room not in FLOOR_OF:
        return []
    other = parts[1]
    if other == "__version__" or other == room:
        return []
    if other not in FLOOR_OF:
        return [f"{name} stands on no floor"]
    return [f"{room} must not import {name}"] if FLOOR_OF[other] >= FLOOR_OF[room] else []


def place_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


@pytest.mark.parametrize("path", MODULES, ids=place_of)
def test_imports_only_from_its_own_room_or_below(path):
    assert faults_of(place_of(path), path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", MODULES, ids=place_of)
def test_every_module_stands_on_a_floor(path):
    room = place_of(path).removesuffix(".py").split("/")[0]
    assert room in FLOOR_OF or room == "__init__"


@pytest.mark.parametrize(
    ("place", "source", "fault"),
    [
        ("car/load.py", "from ridelog.estimate.comfort import x", "must not import"),
        ("condition/clock.py", "import ridelog.ingest.read", "must not import"),
        ("estimate/road.py", "def f():\n    import click", "click belongs in cli/"),
        ("estimate/road.py", "from ridelog.simulate.road import Road", "belongs in simulate/"),
        ("runs/collect.py", "from . import setup", "relative import"),
        ("report/text.py", "from matplotlib import pyplot", "report/plots.py"),
        ("advise/knobs.py", "from ridelog import report", "must not import"),
        ("advise/knobs.py", "from ridelog.helpers import x", "stands on no floor"),
    ],
)
def test_the_check_itself_catches(place, source, fault):
    assert any(fault in each for each in faults_of(place, source))
