"""A number measured in the garage, with its 95 % interval."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """One number and its 95 % interval, in the unit named by the field that holds it."""

    value: float
    low: float
    high: float


def around(value: float, half_width: float) -> Measured:
    """Build a number with an interval of the same width on both sides.

    Parameters
    ----------
    value, half_width : float
        In one unit.
    """
    return Measured(value=value, low=value - half_width, high=value + half_width)
