"""Faults in plain words: what is wrong, how far, and what was done about it."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.signals import kind_of
from ridelog.condition.verdict import Verdict
from ridelog.condition.witness import Fit, WitnessSettings
from ridelog.recording import CORNERS_OF_AXLE, Problem

CLOSE_RUNNER_UP = 5.0  # fall in disagreement below which the second guess is named too
AXLE_GAIN = 0.06  # both travels of an axle off alike by this much: the motion ratio is in question


def fault_problem(verdict: Verdict) -> Problem:
    """Word a verdict."""
    fault = verdict.fit.fault
    name = fault.names[0]
    doubt = ""
    if verdict.lead < CLOSE_RUNNER_UP and verdict.runner_up.names != fault.names:
        doubt = f"; {' and '.join(verdict.runner_up.names)} could be meant as well, check both"
    if fault.code == "swapped":
        text = f"{name} and {fault.names[1]} are exchanged; put back for the analysis{doubt}"
        return Problem(code="swapped", channels=fault.names, text=text, mended=True)
    if fault.code == "scale":
        return scale_problem(name, 1.0 / verdict.gain, doubt)
    several = len(fault.names) > 1
    who = f"every {kind_of(name)} sensor" if several else name
    if fault.code == "late":
        text = _late_text(who, verdict.delay_s, doubt)
    else:
        text = f"{who} moves the wrong way round; turned over for the analysis{doubt}"
    return Problem(
        code=fault.code,
        channel=None if several else name,
        channels=fault.names if several else (),
        text=text,
        mended=True,
    )


def late_problem(name: str, delay_s: float, doubt: str = "") -> Problem:
    """Word a delay.

    Parameters
    ----------
    name : str
        The channel.
    delay_s : float
        Its delay [s], positive where it lags.
    doubt : str
        What else could be meant.
    """
    return Problem(code="late", channel=name, text=_late_text(name, delay_s, doubt), mended=True)


def _late_text(who: str, delay_s: float, doubt: str) -> str:
    side = "lags behind" if delay_s > 0 else "runs ahead of"
    text = f"{who} {side} the other sensors by {1000 * abs(delay_s):.0f} ms"
    return f"{text}; shifted for the analysis{doubt}"


def scale_problem(name: str, reads_ratio: float, doubt: str = "") -> Problem:
    """Word a wrong gain, as a wrong unit where the ratio is that of two units.

    Parameters
    ----------
    name : str
        The channel.
    reads_ratio : float
        Its readings over what they should be.
    doubt : str
        What else could be meant.
    """
    ratios = {25.4: "in", 1 / 25.4: "in", 10.0: "cm", 0.1: "cm", 1000.0: "m", 0.001: "m"}
    if not name.startswith("travel_"):
        ratios = {9.80665: "m/s2", 1 / 9.80665: "g"}
    for ratio, unit in ratios.items():
        if abs(np.log(reads_ratio / ratio)) < 0.15:
            text = f"{name} reads {reads_ratio:.3g} times what the other sensors say"
            text = f"{text}: the readings seem to be in another unit ({unit}?)"
            return Problem(code="unit", channel=name, text=text)
    percent = 100 * (reads_ratio - 1)
    side = "more" if percent > 0 else "less"
    text = (
        f"{name} reads {abs(percent):.0f} % {side} than the other sensors say; calibrate it{doubt}"
    )
    return Problem(code="scale", channel=name, text=text)


def leftover_notes(
    car: Car, names: tuple[str, ...], none: Fit, mended: bool, settings: WitnessSettings
) -> tuple[str, ...]:
    """Say what remains that no single fault explains."""
    notes = []
    if none.per_term > settings.most_left and not mended and any("hub" in name for name in names):
        notes.append("the sensors disagree in a way that no single fault explains")
    for axle, corners in CORNERS_OF_AXLE.items():
        both = [f"travel_{corner}" for corner in corners]
        if not all(name in names for name in both):
            continue
        logs = np.log(none.gain[[names.index(name) for name in both]])
        if np.all(np.abs(logs) > AXLE_GAIN) and logs[0] * logs[1] > 0:
            percent = 100 * abs(float(np.expm1(-logs.mean())))
            notes.append(
                f"both {axle} travel sensors are off by about {percent:.0f} % alike: "
                f"check the {axle} motion ratio in the car file ({car.axle(axle).motion_ratio:g})"
            )
    return tuple(notes)
