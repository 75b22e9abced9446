"""The kinds of values a car or setup file holds, each with its own check and wording.

Each class here marks a pydantic field through ``typing.Annotated``: it reads what stood in the
file, and puts itself into the JSON Schema that editors use for help while typing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pydantic_core import core_schema

from ridelog.units import KINDS, parse_quantity

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler

_QUANTITY_PATTERN = r"^\s*[-+]?[0-9.].*\D\s*$"


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityText:
    """Text with a unit, read into SI; `low` and `high` (SI) bound what is physically sensible."""

    kind: str
    low: float
    high: float
    example: str

    def read(self, value: object) -> float:
        """Turn the text into SI, or say what is wrong with it."""
        quantity = parse_quantity(value, self.kind, self.example)
        if not self.low <= quantity <= self.high:
            unit = KINDS[self.kind].si_unit
            raise ValueError(
                f'"{value}" is impossible here: expected {self.low:g} to {self.high:g} {unit}, '
                f'such as "{self.example}"; check number and unit'
            )
        return quantity

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Let pydantic read the field with `read`."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe the field to editors."""
        return {"type": "string", "pattern": _QUANTITY_PATTERN, "examples": [self.example]}


@dataclass(frozen=True, slots=True, kw_only=True)
class BareNumber:
    """A number without a unit between `low` and `high`; `whole` for counts."""

    low: float
    high: float
    example: float
    whole: bool = False

    def read(self, value: object) -> float | int:
        """Check the number, or say what is wrong with it."""
        words = "a whole number" if self.whole else "a number"
        allowed = (int,) if self.whole else (int, float)
        if isinstance(value, bool) or not isinstance(value, allowed):
            shown = f'"{value}"' if isinstance(value, str) else value
            raise ValueError(
                f"{shown} is not {words}; write {words} without unit or quotes,"
                f" such as {self.example:g}"
            )
        if not self.low <= value <= self.high:
            raise ValueError(
                f"{value} is impossible here: expected {words} from {self.low:g} to {self.high:g}"
            )
        return value

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Let pydantic read the field with `read`."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe the field to editors."""
        kind = "integer" if self.whole else "number"
        return {"type": kind, "minimum": self.low, "maximum": self.high, "examples": [self.example]}


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A relative tolerance: text such as ``"1 %"`` or a bare ratio such as 0.01."""

    high: float = 0.5

    def read(self, value: object) -> float:
        """Turn it into a ratio, or say what is wrong with it."""
        bare = isinstance(value, (int, float)) and not isinstance(value, bool)
        ratio = float(str(value)) if bare else parse_quantity(value, "ratio")
        if not 0 <= ratio <= self.high:
            raise ValueError(
                f'{value} is impossible here: expected "0 %" to "{100 * self.high:g} %"'
            )
        return ratio

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        """Let pydantic read the field with `read`."""
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """Describe the field to editors."""
        return {"type": ["string", "number"], "examples": ["1 %", 0.01]}
