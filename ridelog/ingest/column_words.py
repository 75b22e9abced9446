"""What the words in a column's name say: kind of sensor, corner, axis."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

_WORD = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+|\d+")
_UNIT_PART = re.compile(r"[\[(].*?[\])]")

_PLACES: Mapping[str, frozenset[str]] = {
    "travel": frozenset(
        (
            *("travel", "pot", "potentiometer", "shock", "damper", "susp", "suspension"),
            *("stroke", "displacement", "disp", "position", "lvdt"),
        )
    ),
    "body": frozenset(("body", "chassis", "sprung", "tower", "turret")),
    "hub": frozenset(("hub", "unsprung", "upright", "knuckle", "axle", "wheel")),
    "cabin": frozenset(("cabin", "floor", "phone", "dash", "windscreen", "windshield", "tunnel")),
    "seat": frozenset(("seat",)),
    "speed": frozenset(("speed", "velocity", "spd")),
}
_ACCELERATION = frozenset(
    ("acc", "accel", "acceleration", "accelerometer", "imu", "linear", "ax", "ay", "az")
)
_OTHER_QUANTITIES = frozenset(
    (
        *("gyro", "gyr", "gyroscope", "rotation", "angular", "orientation", "mag", "magnetic"),
        *("gravity", "latitude", "longitude", "altitude", "accuracy", "temperature", "temp"),
    )
)
_AXES: Mapping[str, frozenset[str]] = {
    "vertical": frozenset(("z", "az", "accz", "vertical", "vert", "down", "up")),
    "long": frozenset(("x", "ax", "accx", "long", "longitudinal", "forward", "forwards")),
    "lat": frozenset(("y", "ay", "accy", "lat", "lateral", "left", "right")),
}
_CORNERS: Mapping[str, frozenset[str]] = {
    "fl": frozenset({"fl", "lf"}),
    "fr": frozenset({"fr", "rf"}),
    "rl": frozenset({"rl", "lr"}),
    "rr": frozenset({"rr"}),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class NameWords:
    """What a name says; None or False where it says nothing. `other` is no ride quantity."""

    place: str | None
    corner: str | None
    axis: str | None
    acceleration: bool
    other: bool


def name_words(name: str) -> NameWords:
    """Read the words in a column's name.

    Parameters
    ----------
    name : str
        The header cell.
    """
    words = [word.lower() for word in _WORD.findall(_UNIT_PART.sub(" ", name))]
    seen = set(words)
    place = next((key for key, known in _PLACES.items() if known & seen), None)
    if "speed" in seen or "velocity" in seen:  # wheel speed is a speed
        place = "speed"
    corner = _corner(seen)
    sides = {"left", "right"} if corner is not None else set()
    return NameWords(
        place=place,
        corner=corner,
        axis=next((key for key, known in _AXES.items() if known & (seen - sides)), None),
        acceleration=bool(_ACCELERATION & seen),
        other=bool(_OTHER_QUANTITIES & seen),
    )


def _corner(words: set[str]) -> str | None:
    """Find the corner, written short or in whole words."""
    short = [corner for corner, known in _CORNERS.items() if known & words]
    if len(short) == 1:
        return short[0]
    ends = [letter for letter, known in (("f", "front"), ("r", "rear")) if known in words]
    sides = [letter for letter, known in (("l", "left"), ("r", "right")) if known in words]
    return ends[0] + sides[0] if len(ends) == 1 and len(sides) == 1 else None
