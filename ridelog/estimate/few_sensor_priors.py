"""What is known of a car, and believed of the rest, before a log with few sensors speaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

Mode = Literal["mean", "difference", "side", "diagonal"]


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleNumbers:
    """Plain numbers of one axle: all the spectral fit wants to know of a car.

    Masses are of the whole axle. `tyre_rate_n_per_m` is per corner, None where unknown.
    `roll_lever_ratio` is damper spacing over track on a solid axle, 1 otherwise. The `_sd` entries
    are one relative standard deviation.
    """

    sprung_mass_kg: float
    unsprung_mass_kg: float
    motion_ratio: float
    track_m: float
    tyre_rate_n_per_m: float | None = None
    solid: bool = False
    roll_lever_ratio: float = 1.0
    sprung_mass_sd: float = 0.01
    motion_ratio_sd: float = 0.005
    tyre_rate_sd: float = 0.05
    sensor_gain_sd: float = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorSettings:
    """What is believed before the log speaks: (mean, standard deviation), mostly of logarithms.

    All common practice (no source) for road cars and deliberately wide; the owner's spring rate,
    gaps and targets are not used.
    """

    body_frequency: tuple[float, float] = (np.log(1.45), 0.40)
    effective_damping: tuple[float, float] = (np.log(0.38), 0.50)
    unknown_tyre_rate: tuple[float, float] = (np.log(230e3), 0.18)
    pitch_index: tuple[float, float] = (np.log(0.95), 0.10)
    roll_radius_over_track: tuple[float, float] = (np.log(0.33), 0.15)
    bar_over_wheel_rate: tuple[float, float] = (np.log(0.30), 0.9)
    solid_roll_mass_ratio: tuple[float, float] = (np.log(0.60), 0.20)
    unsprung_mass: tuple[float, float] = (0.0, 0.03)
    road_slope: tuple[float, float] = (2.0, 0.25)
    road_knot: tuple[float, float] = (0.0, 0.15)
    track_coherence_hz: tuple[float, float] = (np.log(4.0), 0.8)
    track_coherence_power: tuple[float, float] = (0.0, 0.3)
    moment_level: tuple[float, float] = (np.log(1e-3), 2.5)
    noise: tuple[float, float] = (0.0, 1.0)
    distortion: tuple[float, float] = (np.log(0.01), 0.8)
    delay_spread: tuple[float, float] = (np.log(0.008), 0.7)
    channel_delay_s: tuple[float, float] = (0.0, 0.00085)
    softening: tuple[float, float] = (0.30, 0.20)


CAR_PARAMETERS = ("frequency", "damping", "mass", "unsprung", "tyre", "bar", "roll_mass")
"""Parameters of each axle that its responses depend on; the sensors' gain comes on top."""

AXLE_PARAMETERS = (*CAR_PARAMETERS, "gain")


def axle_priors(
    numbers: AxleNumbers, settings: PriorSettings, travel: bool
) -> list[tuple[str, tuple[float, float]]]:
    """Name and prior of every parameter of one axle.

    Parameters
    ----------
    numbers : AxleNumbers
        The axle.
    settings : PriorSettings
        Beliefs about the rest.
    travel : bool
        Whether the sensors measure travel, so that the motion ratio enters their gain.
    """
    tyre = settings.unknown_tyre_rate
    if numbers.tyre_rate_n_per_m is not None:
        tyre = (float(np.log(numbers.tyre_rate_n_per_m)), numbers.tyre_rate_sd)
    gain_mean = float(np.log(numbers.motion_ratio)) if travel else 0.0
    gain_sd = numbers.sensor_gain_sd
    if travel:
        gain_sd = float(np.hypot(gain_sd, numbers.motion_ratio_sd))
    roll_mass = settings.solid_roll_mass_ratio if numbers.solid else (0.0, 0.02)
    priors = (
        settings.body_frequency,
        settings.effective_damping,
        (0.0, numbers.sprung_mass_sd),
        settings.unsprung_mass,
        tyre,
        settings.bar_over_wheel_rate,
        roll_mass,
        (gain_mean, gain_sd),
    )
    return list(zip(AXLE_PARAMETERS, priors, strict=True))
