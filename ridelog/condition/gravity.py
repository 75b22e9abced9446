"""What gravity tells of an accelerometer: its unit, and which way up it is mounted."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.condition.order_statistics import median
from ridelog.condition.signals import Checked, Signals
from ridelog.recording import (
    STANDARD_GRAVITY_M_PER_S2,
    VERTICAL_ACCELERATION_CHANNELS,
    Problem,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class GravitySettings:
    """`low_ratio`, `high_ratio`: a mean within this range of gravity is gravity.

    A sensor tilted by 50 degrees still reads 0.64 of it. `fewest_still`: where gravity has been
    taken off already (mean below a tenth of it) the mean tells nothing.
    """

    low_ratio: float = 0.6
    high_ratio: float = 1.6


def check_gravity(signals: Signals, settings: GravitySettings | None = None) -> Checked:
    """Judge the unit and the mounting of each vertical accelerometer by the gravity in it.

    Parameters
    ----------
    signals : Signals
        The log on its even base, accelerations in the unit the log claims, converted to m/s2.

    Returns
    -------
    Checked
        Signals with unit and sign put right for the checks that follow.

    Notes
    -----
    A reading in g taken for m/s2 rests at 1 instead of 9.81; one in m/s2 taken for g rests at 96.
    """
    settings = settings or GravitySettings()
    problems = []
    for name in VERTICAL_ACCELERATION_CHANNELS:
        if name not in signals.channels:
            continue
        values = signals.channels[name]
        believable = signals.believable(name)
        if not believable.any():
            continue
        some = values if believable.all() else values[believable]
        rest = float(median(some[:: max(1, len(some) // 50_000)]))
        factor, unit = _unit_factor(abs(rest), settings)
        if unit is not None:
            text = (
                f"{name} rests at {abs(rest):.2f} m/s2 where gravity is 9.81: "
                f"the readings look like {unit}; correct the column's name or its unit"
            )
            problems.append(Problem(code="unit", channel=name, text=text))
        upside_down = -rest * factor > settings.low_ratio * STANDARD_GRAVITY_M_PER_S2
        if upside_down:
            factor = -factor
            text = f"{name} reads gravity the wrong way round (mounted upside down); turned over"
            problems.append(Problem(code="sign", channel=name, text=text, mended=True))
        if factor != 1.0:
            signals = signals.with_channel(name, values * factor)
    return Checked(signals=signals, problems=tuple(problems))


def _unit_factor(rest: float, settings: GravitySettings) -> tuple[float, str | None]:
    """Factor that turns the readings into m/s2, and the unit they look like (None: as claimed)."""
    g = STANDARD_GRAVITY_M_PER_S2
    for factor, unit in ((g, "g"), (1 / g, "m/s2"), (g / 1000, "mg"), (1 / 100, "cm/s2")):
        if settings.low_ratio < rest * factor / g < settings.high_ratio and factor != 1.0:
            return factor, unit
    return 1.0, None
