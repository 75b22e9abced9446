"""Functions of `estimate` and `advise` say units, sources and what they raise.

That is every function that another room, the module that puts an analysis together, or a test
against published values calls by name.
"""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass
from pathlib import Path

import pytest

import ridelog
import ridelog.errors

PACKAGE = Path(ridelog.__file__).parent
NUMERIC = re.compile(r"\b(float|FloatArray)\b")
WITHOUT_UNIT = re.compile(r"Mapping|tuple|Sequence|Callable|Literal|dict|list")
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}$", re.MULTILINE)
ERRORS = {name for name in dir(ridelog.errors) if name.endswith("Error")}


@dataclass(frozen=True)
class Case:
    place: str
    function: ast.FunctionDef

    def __str__(self) -> str:
        return f"{self.place}:{self.function.name}"


def public_functions(place: str, source: str) -> list[Case]:
    body = ast.parse(source).body
    return [
        Case(place, node)
        for node in body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_")
    ]


def sections_of(docstring: str) -> dict[str, str]:
    """Text of each numpydoc section by its name."""
    parts = SECTION.split(docstring)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def documented(parameters: str) -> dict[str, str]:
    """What is said of each parameter, those described together included."""
    said: dict[str, str] = {}
    entries = re.split(r"^(?=\*{0,2}\w[\w, ]* ?:)", parameters, flags=re.MULTILINE)
    for entry in entries:
        names, _, text = entry.partition(":")
        said |= {name.strip(): text for name in names.split(",")}
    return said


def unit_faults(function: ast.FunctionDef) -> list[str]:
    """Numeric parameters that are described without a unit in brackets."""
    sections = sections_of(ast.get_docstring(function) or "")
    said = documented(sections.get("Parameters", ""))
    return [
        f"{argument.arg} has no [unit]"
        for argument in arguments_of(function)
        if argument.arg in said
        and argument.annotation is not None
        and NUMERIC.search(kind := ast.unparse(argument.annotation))
        and not WITHOUT_UNIT.search(kind)
        and not re.search(r"\[[^\]]+\]", said[argument.arg])
    ]


def arguments_of(function: ast.FunctionDef) -> list[ast.arg]:
    return [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]


def form_faults(function: ast.FunctionDef) -> list[str]:
    """What a docstring lacks: a source, a parameter, an error that the body raises."""
    sections = sections_of(ast.get_docstring(function) or "")
    faults = [] if sections.get("References", "").strip() else ["no References"]
    said = documented(sections.get("Parameters", ""))
    faults += [
        f"{argument.arg} is not described"
        for argument in arguments_of(function)
        if argument.arg not in said
    ]
    raised = {
        getattr(getattr(node.exc, "func", node.exc), "id", "")
        for node in ast.walk(function)
        if isinstance(node, ast.Raise) and node.exc is not None
    }
    return faults + [
        f"{name} is not under Raises"
        for name in sorted(raised & ERRORS)
        if name not in sections.get("Raises", "")
    ]


CASES = [
    case
    for room in ("estimate", "advise")
    for path in sorted((PACKAGE / room).rglob("*.py"))
    if not path.stem.startswith("_") and not path.parent.name.startswith("_")
    for case in public_functions(
        path.relative_to(PACKAGE).as_posix(), path.read_text(encoding="utf-8")
    )
]


def called_from_elsewhere() -> set[tuple[str, str]]:
    """Pairs (module, name) imported from outside their room, or by `estimate/drive.py`."""
    found = set()
    outside = [*PACKAGE.rglob("*.py"), *(Path(__file__).parents[1] / "published").glob("*.py")]
    for path in outside:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            module = getattr(node, "module", None) or ""
            room = module.split(".")[1] if module.startswith("ridelog.") else ""
            outer = PACKAGE / room not in path.parents or path.name == "drive.py"
            if isinstance(node, ast.ImportFrom) and outer:
                found |= {(module, alias.name) for alias in node.names}
    return found


CALLED = called_from_elsewhere()
PUBLIC = [
    case
    for case in CASES
    if (f"ridelog.{case.place.removesuffix('.py').replace('/', '.')}", case.function.name) in CALLED
]


@pytest.mark.parametrize("case", PUBLIC, ids=str)
def test_numbers_have_units(case):
    assert unit_faults(case.function) == []


@pytest.mark.parametrize("case", PUBLIC, ids=str)
def test_a_public_function_has_a_source_and_says_what_it_raises(case):
    assert form_faults(case.function) == []


def test_the_published_estimators_count_as_public():
    assert "estimate/weighting.py:weighting_response" in [str(case) for case in PUBLIC]


GOOD = '''
def rate(force: float, names: tuple[float, ...]) -> float:
    """Rate.

    Parameters
    ----------
    force : float
        Force [N].
    names : tuple
        Names.

    Raises
    ------
    SignalError
        If weak.

    References
    ----------
    Derived here.
    """
    raise SignalError("weak")
'''


@pytest.mark.parametrize(
    ("old", "new", "fault"),
    [
        ("Force [N].", "Force.", "force has no [unit]"),
        ("force : float", "power : float", "force is not described"),
        ("References\n    ----------\n    Derived here.", "", "no References"),
        ("SignalError\n        If weak.", "", "SignalError is not under Raises"),
    ],
)
def test_the_check_itself_catches(old, new, fault):
    good = public_functions("x.py", GOOD)[0].function
    assert unit_faults(good) + form_faults(good) == []
    assert old in GOOD
    spoilt = public_functions("x.py", GOOD.replace(old, new))[0].function
    assert fault in unit_faults(spoilt) + form_faults(spoilt)
