"""Quantities as people write them ("450 lbf/in", "42 mm"), turned into SI.

Used at the edges only: car files, setup files, log columns. Inside ridelog everything is SI.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pint import UnitRegistry

# The trade's units and no others. pint's full list takes 0.2 s longer to load, and reads slips as
# exotic units ("Mm" as megametres, "pa" as pico-years) where a fault with a suggestion helps more.
# Factors are the exact ones of NIST Special Publication 811 (2008), appendix B.8.
_DEFINITIONS = """
metre = [length] = m
kilogram = [mass] = kg
second = [time] = s
ampere = [current] = A
count = [] = _ = counts = LSB = lsb
radian = [] = rad
degree = 0.017453292519943295 radian = deg = °
percent = 0.01 count = pct
mm = 1e-3 metre
cm = 1e-2 metre
um = 1e-6 metre = µm = μm
km = 1e3 metre
inch = 0.0254 metre = in = inches
thou = 2.54e-5 metre = mil
foot = 0.3048 metre = ft = feet
mile = 1609.344 metre = mi = miles
gram = 1e-3 kilogram
tonne = 1e3 kilogram
pound = 0.45359237 kilogram = lb = lbs = pounds
slug = 14.593902937206364 kilogram
ms = 1e-3 second
us = 1e-6 second = µs = μs
ns = 1e-9 second
minute = 60 second = min
hour = 3600 second = h = hr
hertz = 1 / second = Hz
kHz = 1e3 hertz
rpm = hertz / 60
newton = kilogram * metre / second ** 2 = N
kN = 1e3 newton
g_n = 9.80665 metre / second ** 2
m_g_n = 1e-3 g_n
kgf = kilogram * g_n = kp
lbf = pound * g_n
pascal = newton / metre ** 2 = Pa
hPa = 1e2 pascal
kPa = 1e3 pascal
MPa = 1e6 pascal
bar = 1e5 pascal
mbar = 1e2 pascal
psi = lbf / inch ** 2
mps = metre / second
kph = km / hour = kmh
mph = mile / hour
knot = 1852 metre / hour = kn
volt = newton * metre / second / ampere = V
mV = 1e-3 volt
ohm = volt / ampere
kohm = 1e3 ohm
"""


class QuantityError(ValueError):
    """Text that is not the quantity asked for; the message says what was found and expected."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of quantity: its SI unit, what people call it, an example, and trade habits.

    `aliases` holds unit names that mean something else for this kind: a spring of 25 lb/in means
    pounds-force, an acceleration in g means standard gravity and not grams.
    """

    si_unit: str
    words: str
    example: str
    aliases: Mapping[str, str] = field(default_factory=dict)


_FORCE_HABIT = {"lb": "lbf", "lbs": "lbf", "pound": "lbf", "kg": "kgf", "kilogram": "kgf"}
_GRAVITY_HABIT = {"g": "g_n", "G": "g_n", "mg": "m_g_n", "mps2": "m/s^2"}

KINDS: Mapping[str, Kind] = {
    "length": Kind(si_unit="m", words="a length", example="42 mm"),
    "mass": Kind(
        si_unit="kg", words="a mass", example="780 kg", aliases={"g": "gram", "t": "tonne"}
    ),
    "rate": Kind(
        si_unit="N/m", words="a force per travel", example="450 lbf/in", aliases=_FORCE_HABIT
    ),
    "force": Kind(si_unit="N", words="a force", example="2900 N", aliases=_FORCE_HABIT),
    "pressure": Kind(si_unit="Pa", words="a pressure", example="30 psi"),
    "speed": Kind(si_unit="m/s", words="a speed", example="56 km/h"),
    "frequency": Kind(si_unit="Hz", words="a frequency", example="1.30 Hz"),
    "time": Kind(si_unit="s", words="a time", example="1.5 ms"),
    "angle": Kind(si_unit="radian", words="an angle", example="12 deg"),
    "ratio": Kind(si_unit="count", words="a share", example="1 %"),
    "acceleration": Kind(
        si_unit="m/s^2", words="an acceleration", example="9.81 m/s^2", aliases=_GRAVITY_HABIT
    ),
}
_ANY = Kind(si_unit="", words="a reading", example="0.52 V", aliases={"g": "g_n"})
_SYMBOLS = {"%": "percent", '"': "inch", "'": "foot"}

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d{1,3})?")
_NAME = re.compile(r"[A-Za-zµμ_%°\"']+")
_ATOM = rf"{_NAME.pattern}(?:\^?-?[1-4])?"
_UNIT = re.compile(rf"{_ATOM}(?: ?[/*] ?{_ATOM}){{0,4}}")
_POWER = re.compile(r"(?<=[A-Za-zµμ_])\^?(-?[1-4])")


def parse_quantity(text: object, kind: str, example: str = "") -> float:
    """Turn a quantity written with its unit into a number in SI.

    Parameters
    ----------
    text : object
        What stood in the file: text such as ``"450 lbf/in"``.
    kind : str
        One of `KINDS`; says which dimension is expected and how trade shorthand is read.
    example : str
        What to show in a fault's remedy instead of the kind's own example.

    Returns
    -------
    float
        The value in the kind's SI unit.

    Raises
    ------
    QuantityError
        When it is a bare number, no number, an unknown unit or a unit of another kind.

    References
    ----------
    NIST Special Publication 811 (2008), appendix B: conversion factors.

    Examples
    --------
    >>> round(parse_quantity("100 lb/in", "rate"), 4)
    17512.6835
    """
    wanted = replace(KINDS[kind], example=example or KINDS[kind].example)
    number, unit = _split(text, wanted)
    return number * _ratio(unit, wanted.si_unit, wanted)


def parse_reading(text: object, unit: str | None) -> float:
    """Turn a sensor reading such as ``"0.52 V"`` into a bare number in the column's own unit.

    Parameters
    ----------
    text : object
        The reading; a bare number is taken to be in the column's unit already.
    unit : str or None
        The column's unit; None for plain counts.

    Raises
    ------
    QuantityError
        When it is no number, or its unit does not fit the column's.
    """
    if isinstance(text, (int, float)) and not isinstance(text, bool):
        return float(text)
    number, own_unit = _split(text, _ANY)
    if unit is None:
        raise QuantityError(f'"{text}" has a unit but the column has none; add unit = "{own_unit}"')
    return number * _ratio(own_unit, unit, replace(_ANY, words=f'a reading in "{unit}"'))


def unit_of_reading(text: str) -> str | None:
    """Tell the unit behind a reading; None for a bare number.

    Parameters
    ----------
    text : str
        The reading, such as ``"0.52 V"``.

    Raises
    ------
    QuantityError
        When it does not begin with a number.
    """
    try:
        float(text)
    except ValueError:
        return _split(text, _ANY)[1]
    return None


@lru_cache(maxsize=256)
def unit_factor(unit: str, kind: str) -> float:
    """Tell what one `unit` is in the kind's SI unit.

    Parameters
    ----------
    unit : str
        Unit as written, such as ``"lbf/in"``.
    kind : str
        One of `KINDS`.

    Raises
    ------
    QuantityError
        When the unit is unknown or of another kind.
    """
    wanted = KINDS[kind]
    return _ratio(unit, wanted.si_unit, wanted)


def check_unit(unit: str) -> None:
    """Make sure that a unit is known, whatever its kind.

    Raises
    ------
    QuantityError
        When it is not.
    """
    _ratio(unit, unit, _ANY)


def _split(text: object, kind: Kind) -> tuple[float, str]:
    """Split a quantity into its number and the text of its unit."""
    if isinstance(text, bool) or not isinstance(text, (str, int, float)):
        raise QuantityError(f'{text!r} is not {kind.words}; write it like "{kind.example}"')
    if not isinstance(text, str):
        raise QuantityError(f'{text} has no unit; write it like "{kind.example}"')
    stripped = " ".join(text.split())
    found = _NUMBER.match(stripped)
    if found is None or not math.isfinite(float(found.group())):
        raise QuantityError(f'"{text}" is not {kind.words}; write it like "{kind.example}"')
    unit = stripped[found.end() :].strip()
    if unit.startswith(",") and unit[1:2].isdigit():
        raise QuantityError(f'"{text}" has a comma in the number; write a point instead')
    if not unit:
        raise QuantityError(f'"{text}" has no unit; write it like "{kind.example}"')
    return float(found.group()), unit


def _ratio(unit: str, target: str, kind: Kind) -> float:
    """Factor from `unit` to `target`, dimensions checked."""
    from pint.errors import DimensionalityError

    habits = tuple(kind.aliases.items())
    try:
        own, wanted = _canonical(unit, habits), _canonical(target, habits)
        return float(_registry().Quantity(1.0, own).to(wanted).magnitude)
    except KeyError:
        message = f'unit "{unit}" is not known; write {kind.words} like "{kind.example}"'
    except DimensionalityError:
        message = f'unit "{unit}" is not that of {kind.words}; write it like "{kind.example}"'
    raise QuantityError(message)


@lru_cache(maxsize=256)
def _canonical(unit: str, habits: tuple[tuple[str, str], ...]) -> str:
    """Spell a unit the way the registry knows it: known names only, powers as ``**2``."""
    aliases = {**_SYMBOLS, **dict(habits)}
    if unit in aliases:
        return aliases[unit]
    spelled = unit.replace("²", "^2").replace("³", "^3").replace("·", "*").replace(" per ", "/")
    if _UNIT.fullmatch(spelled) is None:
        raise KeyError(unit)
    named = _NAME.sub(lambda found: aliases.get(found[0]) or _known_name(found[0]), spelled)
    return _POWER.sub(r"**\1", named)


def _known_name(name: str) -> str:
    """Return the registry's spelling of a unit name, forgiving capitals where that is safe."""
    if name in _names():
        return name
    same = [known for known in _names() if known.lower() == name.lower()]
    if len(same) != 1:
        raise KeyError(name)
    return same[0]


@lru_cache(maxsize=1)
def _names() -> frozenset[str]:
    """Every unit name and symbol of the definitions; an underscore there says that one has none."""
    parts = [line.split("=") for line in _DEFINITIONS.strip().splitlines()]
    names = frozenset(name.strip() for first, _, *others in parts for name in (first, *others))
    return names - {"_"}


@lru_cache(maxsize=1)
def _registry() -> UnitRegistry[float]:
    """Build pint's registry of the trade's units, once."""
    from pint import UnitRegistry

    return UnitRegistry(_DEFINITIONS.strip().splitlines())
