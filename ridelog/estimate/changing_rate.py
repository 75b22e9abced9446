"""Springs whose rate changes: from the mean over a drive's travel to that at ride height."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from math import hypot, sqrt

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.car.spring_law import load_at_squash_n, squash_at_load_m
from ridelog.car.springs import law_of, rate_at_ride_height_n_per_m, spring_load_n
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import CORNERS_OF_AXLE, FloatArray, Recording

ENOUGH_SAMPLES = 20_000
"""Samples of travel that the mean rate is reckoned from: far more than it needs."""
OPEN_SHARE = 0.8
"""Part of a correction that stays open [1]: the law and the travel's zero are the owner's, and the
fit does not weigh all travel alike. With a half, one simulated frequency in five lay outside."""
UNSEEN_TRAVEL_M = 0.004
"""How far from ride height a car without travel sensors may ride on average [m]: uneven damping in
bump and rebound pulls it down by 2-4 mm on simulated cars."""


def at_ride_height(
    axles: Mapping[str, AxleResult], recording: Recording, car: Car
) -> tuple[dict[str, AxleResult], tuple[str, ...]]:
    """Turn what a drive shows of changing spring rates into the values at ride height.

    Parameters
    ----------
    axles : Mapping
        Results by axle, as for springs of one rate.
    recording : Recording
        The log; its travel says where the springs were.
    car : Car
        The car with its springs.

    Returns
    -------
    dict
        Results by axle, those on springs of one rate as they were.
    tuple of str
        Notes.

    Notes
    -----
    A straight line fitted to the force of a bent spring has the mean of its rate over the travel
    used. Four fifths of the correction are added to the intervals; without travel sensors nothing
    is corrected and the intervals take what 4 mm from ride height would do.

    References
    ----------
    Statistical linearization: J. B. Roberts & P. D. Spanos, Random Vibration and Statistical
    Linearization (1990), from memory.
    """
    found, notes = dict(axles), []
    for name, result in axles.items():
        axle = car.axle(name)
        if axle.spring_stack is None or not _bent(axle):
            continue
        travel = _travel(recording, name)
        if travel is None:
            ratio, doubt = 1.0, _largest_change(axle)
            how = "the log has no travel, so the intervals take what 4 mm of it would do"
        else:
            ratio = _mean_over_standing_rate(axle, travel)
            doubt = OPEN_SHARE * abs(ratio - 1)
            how = (
                f"over this drive's travel it was {100 * abs(ratio - 1):.1f} % "
                f"{'higher' if ratio > 1 else 'lower'} than at ride height, which is taken off"
            )
        found[name] = _corrected(result, ratio, doubt)
        notes.append(f"{name}: the spring's rate changes with travel by the car file; {how}")
    return found, tuple(notes)


def _bent(axle: Axle) -> bool:
    law = law_of(axle)
    return len(law.squash_m) > 1 or law.helper_rate_n_per_m is not None


def _travel(recording: Recording, axle_name: str) -> FloatArray | None:
    """Travel of both corners of an axle [m] where it is logged, thinned."""
    names = [f"travel_{c}" for c in CORNERS_OF_AXLE[axle_name] if recording.has(f"travel_{c}")]
    if not names:
        return None
    travel = np.concatenate([recording.channels[name][recording.valid] for name in names])
    travel = travel[np.isfinite(travel)]
    if len(travel) < 2 or not np.ptp(travel) > 0:
        return None
    thinned: FloatArray = travel[:: max(len(travel) // ENOUGH_SAMPLES, 1)]
    return thinned


def _mean_over_standing_rate(axle: Axle, travel_m: FloatArray) -> float:
    """Slope of the straight line through the spring's force, over the rate at ride height."""
    law = law_of(axle)
    squash = squash_at_load_m(law, spring_load_n(axle))
    force = load_at_squash_n(law, squash + travel_m)
    slope = np.polyfit(travel_m, force, 1)[0]
    return float(slope) / rate_at_ride_height_n_per_m(axle)


def _largest_change(axle: Axle) -> float:
    """How much the mean rate may differ from that at ride height where travel is not logged."""
    spread = UNSEEN_TRAVEL_M * np.linspace(-1.5, 1.5, 61)
    means = (-UNSEEN_TRAVEL_M, 0.0, UNSEEN_TRAVEL_M)
    return max(abs(_mean_over_standing_rate(axle, mean + spread) - 1) for mean in means)


def _corrected(result: AxleResult, ratio: float, doubt: float) -> AxleResult:
    """Scale what hangs on the spring's rate; `doubt` is the relative half-width of that rate."""
    share = 1.0
    if result.body_frequency_hz and result.spring_frequency_hz:
        share = min((result.body_frequency_hz.value / result.spring_frequency_hz.value) ** 2, 1.0)
    body = 1 / sqrt(ratio * share + 1 - share)
    error = result.catalogue_spring_error
    if error is not None:
        whole = Estimate(value=1 + error.value, low=1 + error.low, high=1 + error.high)
        scaled = _scaled(whole, 1 / ratio, doubt)
        error = scaled and Estimate(
            value=scaled.value - 1, low=scaled.low - 1, high=scaled.high - 1
        )
    return replace(
        result,
        wheel_rate_n_per_m=_scaled(result.wheel_rate_n_per_m, 1 / ratio, doubt),
        body_frequency_hz=_scaled(result.body_frequency_hz, body, doubt / 2),
        spring_frequency_hz=_scaled(result.spring_frequency_hz, ratio**-0.5, doubt / 2),
        damping_ratio=_scaled(result.damping_ratio, ratio**0.5, doubt / 2),
        damping_ratio_bump=_scaled(result.damping_ratio_bump, ratio**0.5, doubt / 2),
        damping_ratio_rebound=_scaled(result.damping_ratio_rebound, ratio**0.5, doubt / 2),
        catalogue_spring_error=error,
    )


def _scaled(estimate: Estimate | None, factor: float, doubt: float) -> Estimate | None:
    """Scale an estimate and widen its interval by an independent relative half-width."""
    if estimate is None:
        return None
    value = estimate.value * factor
    below = hypot(factor * (estimate.value - estimate.low), doubt * value)
    above = hypot(factor * (estimate.high - estimate.value), doubt * value)
    systematic = estimate.systematic_half_width
    return replace(
        estimate,
        value=value,
        low=value - below,
        high=value + above,
        random_half_width=None
        if estimate.random_half_width is None
        else factor * estimate.random_half_width,
        systematic_half_width=None
        if systematic is None
        else hypot(factor * systematic, doubt * value),
    )
