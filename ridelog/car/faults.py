"""Turn what pydantic found into one plain line per fault: key, what was found, what to do."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from typing import TYPE_CHECKING, Any, get_args

if TYPE_CHECKING:
    from pydantic import BaseModel, ValidationError
    from pydantic_core import ErrorDetails


def fault_lines(error: ValidationError, model: type[BaseModel]) -> tuple[str, ...]:
    """Word each fault of a validation, key first.

    Parameters
    ----------
    error : ValidationError
        What pydantic found.
    model : type of BaseModel
        The model that was validated; gives known keys and examples.

    Returns
    -------
    tuple of str
        One line per fault, in the file's order.
    """
    lines = [_line(detail, model) for detail in error.errors()]
    return tuple(dict.fromkeys(lines))


def nearest(word: str, known: Sequence[str]) -> str:
    """Suggest the known word nearest to `word`, or list them all.

    Parameters
    ----------
    word : str
        What was written.
    known : sequence of str
        What may be written.
    """
    close = get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    return f"did you mean {close[0]}?" if close else f"known are {', '.join(known)}"


def _line(detail: ErrorDetails, model: type[BaseModel]) -> str:
    """Word one fault."""
    path = tuple(str(part) for part in detail["loc"] if part not in _UNION_MEMBERS)
    return f"{'.'.join(path)}: {_words(detail, path, model)}"


def _words(detail: ErrorDetails, path: tuple[str, ...], model: type[BaseModel]) -> str:
    """Say what is wrong and what to do about it."""
    kind, found = detail["type"], detail["input"]
    if kind == "missing":
        return _missing(path, model)
    if kind == "extra_forbidden":
        words = "unknown section" if isinstance(found, dict) else "unknown key"
        return f"{words}; {nearest(path[-1], tuple(_parent(path, model).model_fields))}"
    if kind == "literal_error":
        choices = detail["ctx"]["expected"].replace("'", '"')
        return f"{_shown(found)} is not possible here; write {choices}"
    if kind == "value_error":
        return str(detail["ctx"]["error"])
    return f"{_shown(found)} is {_TYPE_WORDS.get(kind, 'not what belongs here')}"


# pydantic names the members of a union in the place of a fault; people need the key only.
_UNION_MEMBERS = ("str", "int", "TimeSection")
_TYPE_WORDS = {
    "model_type": "not a section; write its keys below a line with its [name]",
    "dict_type": "not a section; write its keys below a line with its [name]",
    "string_type": 'not text; write it in "quotes"',
    "string_too_short": "empty; write a name",
    "list_type": "not a list; write it in [square brackets]",
}


def _shown(value: object) -> str:
    """Show what was found, as it would stand in the file."""
    if isinstance(value, dict):
        return "a section"
    return f'"{value}"' if isinstance(value, str) else str(value).replace("'", '"')


def _missing(path: tuple[str, ...], model: type[BaseModel]) -> str:
    """Say what a missing key looks like."""
    field = _parent(path, model).model_fields[path[-1]]
    section = _model_of(field.annotation)
    if section is not None:
        needed = [name for name, item in section.model_fields.items() if item.is_required()]
        return f"missing section; add [{'.'.join(path)}] with {', '.join(needed)}"
    return f"missing; add a line such as {path[-1]} = {_example(path, model)}"


def _example(path: tuple[str, ...], model: type[BaseModel]) -> str:
    """Find the example that the schema shows for a key."""
    schema = _parent(path, model).model_json_schema()["properties"][path[-1]]
    example = next(iter(schema.get("examples") or schema.get("enum") or ["..."]))
    return f'"{example}"' if isinstance(example, str) else f"{example}"


def _parent(path: tuple[str, ...], model: type[BaseModel]) -> type[BaseModel]:
    """Find the model that holds the last key of a path."""
    for part in path[:-1]:
        field = model.model_fields.get(part)
        inner = _model_of(field.annotation) if field is not None else None
        model = inner or model
    return model


def _model_of(annotation: Any) -> type[BaseModel] | None:
    """Find the section model inside an annotation, if there is one."""
    from pydantic import BaseModel

    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    found = (_model_of(argument) for argument in get_args(annotation))
    return next((inner for inner in found if inner is not None), None)
