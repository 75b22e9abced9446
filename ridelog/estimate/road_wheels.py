"""The road under each wheel, put together again from what the wheels and the body did."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.car.geometry import (
    damper_lever_matrix,
    sprung_mass_per_corner_kg,
    wheel_rate_n_per_m,
)
from ridelog.condition.filters import power_of
from ridelog.errors import SignalError
from ridelog.recording import AXLES, CORNERS_OF_AXLE, FloatArray, Recording

#: Up to here [Hz] the wheel's own inertia is a small part of the tyre's force, so that an unknown
#: tyre rate, a live axle's unknown inertia in roll or a body motion known only as the small
#: difference of two large ones hardly matter (checked on simulated cars).
COARSE_BAND_HZ = 5.0
FULL_BAND_HZ = 20.0

#: Time [s] over which a log's ends fade, so that no step is differentiated there.
FADE_S = 0.25

#: Wheel hop of a passenger car's wheel on its tyre, 8-15 Hz (common practice, no source): stands
#: in for the tyre rate where the car file has none.
TYPICAL_WHEEL_HOP_HZ = 11.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoadProfile:
    """Road height under the named wheels [m], shape (wheels, n), right up to `highest_hz`."""

    corners: tuple[str, ...]
    height_m: FloatArray
    highest_hz: float
    sensors: str


def road_under_wheels(
    recording: Recording,
    car: Car,
    *,
    tyre_rate_n_per_m: Mapping[str, float] | None = None,
    lowest_hz: float = 0.6,
    every_axle: bool = False,
) -> RoadProfile:
    """Road height under each wheel with two of travel, body and hub sensors.

    Parameters
    ----------
    recording : Recording
        The log.
    car : Car
        The car: masses, motion ratio, tyre rate.
    tyre_rate_n_per_m : Mapping, optional
        Tyre rate [N/m] by axle where an estimate is better than the car file's.
    lowest_hz : float
        Below this frequency [Hz] the height is faded out, because acceleration cannot be
        integrated twice there.
    every_axle : bool
        Whether to keep an axle that allows only a coarser answer than the other.

    Raises
    ------
    SignalError
        If no axle has two kinds of sensor at both corners.

    Notes
    -----
    The tyre carries what accelerates wheel and body: T (road - wheel) = mu a_wheel + ms a_body, so
    road = wheel + (mu a_wheel + ms a_body) / T, done on one padded FFT with wheel = -a_wheel / w^2.
    Assumes a tyre without damping and a body whose corners move as if each carried its own mass
    (dynamic index near 1). Axles that allow only a coarser answer are left out where the other
    axle, which meets the same road, allows a finer one. Whichever of the three sensors is missing
    follows from travel / motion ratio = wheel - body.

    References
    ----------
    Derived here from Newton's law for wheel and body of a quarter car.
    """
    rates = tyre_rate_n_per_m or {}
    plans = [
        plan
        for name in AXLES
        if (plan := _axle_plan(recording, name, car.axle(name), rates.get(name))) is not None
    ]
    if not plans:
        raise SignalError(
            "road: needs two of travel, body and hub sensors at both corners of an axle; "
            "with less, the road cannot be told from what the car does with it"
        )
    highest_hz = (min if every_axle else max)(plan.highest_hz for plan in plans)
    plans = [plan for plan in plans if plan.highest_hz >= highest_hz]
    return RoadProfile(
        corners=tuple(corner for plan in plans for corner in plan.corners),
        height_m=np.concatenate([_axle_road(recording, plan, lowest_hz) for plan in plans]),
        highest_hz=highest_hz,
        sensors=" and ".join(plans[0].kinds),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _AxlePlan:
    """How the road under one axle is found, and up to which frequency that is right."""

    axle: Axle
    corners: tuple[str, str]
    kinds: tuple[str, str]
    tyre_rate_n_per_m: float
    highest_hz: float


def _axle_plan(
    recording: Recording, name: str, axle: Axle, tyre_rate_n_per_m: float | None
) -> _AxlePlan | None:
    corners = CORNERS_OF_AXLE[name]
    kinds = _best_two_kinds(recording, corners)
    if kinds is None:
        return None
    known = tyre_rate_n_per_m or axle.tyre_rate_n_per_m
    unsprung_kg = axle.unsprung_mass_kg / 2
    stiffness_n_per_m = unsprung_kg * (2 * pi * TYPICAL_WHEEL_HOP_HZ) ** 2
    coarse = known is None or axle.layout == "solid" or "body" not in kinds
    return _AxlePlan(
        axle=axle,
        corners=corners,
        kinds=kinds,
        tyre_rate_n_per_m=known or stiffness_n_per_m - wheel_rate_n_per_m(axle),
        highest_hz=COARSE_BAND_HZ if coarse else FULL_BAND_HZ,
    )


def _best_two_kinds(recording: Recording, pair: tuple[str, str]) -> tuple[str, str] | None:
    for kinds in (("hub", "body"), ("travel", "body"), ("travel", "hub")):
        if recording.has(*(f"{kind}_{corner}" for kind in kinds for corner in pair)):
            return kinds
    return None


def _axle_road(recording: Recording, plan: _AxlePlan, lowest_hz: float) -> FloatArray:
    """Road height under the two wheels of an axle [m], shape (2, n)."""
    from scipy import fft

    unsprung_kg = plan.axle.unsprung_mass_kg / 2
    sprung_kg = sprung_mass_per_corner_kg(plan.axle)
    rate = plan.tyre_rate_n_per_m
    count, fs = recording.sample_count, recording.sample_rate_hz
    length = fft.next_fast_len(count + int(4 * fs / lowest_hz), real=True)
    squared = (2 * pi * fft.rfftfreq(length, 1 / fs)) ** 2
    faded = _fade(count, round(FADE_S * fs))
    spectra = {
        kind: fft.rfft(
            recording.stack(f"{kind}_{corner}" for corner in plan.corners) * faded, length
        )
        for kind in plan.kinds
    }
    wheel, body = _wheel_and_body(spectra, plan.axle, squared)
    per_squared = np.zeros_like(squared)
    np.divide(1.0, squared[1:], out=per_squared[1:])
    kept = 1 / (1 + power_of((2 * pi * lowest_hz) ** 2 * per_squared, 4))
    kept[0] = 0.0
    road = wheel * (kept * (unsprung_kg / rate - per_squared)) + body * (kept * sprung_kg / rate)
    heights: FloatArray = fft.irfft(road, length)[:, :count]
    return heights


def _fade(count: int, fade_count: int) -> FloatArray:
    """Weights that let the ends of a log rise from and fall to zero, shape (count,)."""
    ramp = np.arange(min(fade_count, (count + 1) // 2)) / max(fade_count, 1)
    weights = np.ones(count)
    weights[: len(ramp)] = np.sin(np.pi / 2 * ramp) ** 2
    weights[count - len(ramp) :] = weights[: len(ramp)][::-1]
    return weights


def _wheel_and_body(
    spectra: Mapping[str, FloatArray], axle: Axle, squared: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Spectra of wheel and body acceleration [m/s2] at both corners."""
    if "travel" not in spectra:
        return spectra["hub"], spectra["body"]
    wheel_travel = np.linalg.solve(damper_lever_matrix(axle), spectra["travel"])
    relative = -squared * wheel_travel
    if "body" in spectra:
        return spectra["body"] + relative, spectra["body"]
    return spectra["hub"], spectra["hub"] - relative
