"""Cramer-Rao bounds of body frequency and damping ratio from each method's own information.

What the two bounds of `Floors` are is said in `information_bounds`, which prints them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ridelog.errors import SignalError
from ridelog.estimate.balance.doubt import gain_doubts
from ridelog.estimate.balance.drive_balance import drive_balance
from ridelog.estimate.balance.kinematics import body_delay_covariance
from ridelog.estimate.balance.prior import PriorSettings as BalancePrior
from ridelog.estimate.balance.prior import channel_precision
from ridelog.estimate.balance.quantities import axle_quantities
from ridelog.estimate.balance.results import balance_results
from ridelog.estimate.damper_law_prior import DamperLawPrior
from ridelog.estimate.decay_fit import GAIN, LAG
from ridelog.estimate.decay_model import AXLE_PARAMETERS
from ridelog.estimate.decay_numbers import quantities as decay_quantities
from ridelog.estimate.few_sensor_results import OUTPUTS, damper_law, log_outputs
from ridelog.estimate.free_decay import bounce_results, free_decay_of
from ridelog.estimate.road_match.fit import fit_road_match
from ridelog.estimate.road_match.prior import car_prior
from ridelog.estimate.road_match.results import (
    METHOD,
    QUANTITIES,
    log_quantities,
    secant_rows,
)
from ridelog.estimate.road_match.settings import RoadMatchSettings
from ridelog.estimate.spectral_fit import (
    axle_signals,
    fit_axles,
    match_guess,
    travel_only_results,
    two_body_results,
)
from ridelog.recording import (
    AXLES,
    TRAVEL_CHANNELS,
    FloatArray,
    Recording,
    Step,
)

KEYS = ("body_frequency_hz", "damping_ratio")
GAIN_STEP = 0.01  # of the travels of one axle, to see what their gain does


@dataclass(frozen=True, slots=True, kw_only=True)
class Floors:
    """Of one axle, for `KEYS`: standard deviations of logarithms, infinite where undetermined."""

    told: tuple[float | None, float | None]
    floor: FloatArray
    log_alone: FloatArray


def spread(information: FloatArray, slopes: FloatArray) -> FloatArray:
    """Cramer-Rao bound of quantities with `slopes` (p, quantities); infinite where undetermined."""
    scale = 1 / np.sqrt(np.maximum(np.diag(information), 1e-300))
    values, vectors = np.linalg.eigh(information * np.outer(scale, scale))
    along = vectors.T @ (slopes * scale[:, None])
    blind = values < 1e-9
    told = (along[~blind] ** 2 / values[~blind, None]).sum(axis=0)
    unseen = (along[blind] ** 2).sum(axis=0) > 1e-6 * (along**2).sum(axis=0)
    return np.asarray(np.where(unseen, np.inf, np.sqrt(told)))


def slopes_of(
    logarithms: Callable[[FloatArray], FloatArray], point: FloatArray, step: FloatArray
) -> FloatArray:
    """Central differences of `KEYS`' logarithms, shape (p, 2)."""
    rows = [
        (logarithms(point + move) - logarithms(point - move)) / (2 * size)
        for move, size in zip(np.diag(step), step, strict=True)
    ]
    return np.array(rows)


def told(result) -> tuple[float | None, float | None]:
    first, second = (getattr(result, key) for key in KEYS)
    return first.value if first else None, second.value if second else None


def of_balance(recording: Recording, car) -> list[Floors]:
    """Force balance, whatever the sensors."""
    fit = drive_balance(recording, car).fit
    results = balance_results(fit, car)
    calibrated = fit.sensor_set == "travel+body+hub"
    channels = slice(fit.layout.mechanical_count, fit.layout.count)
    bare = fit.normal.copy()
    bare[channels, channels] += channel_precision(
        car,
        fit.layout,
        BalancePrior(),
        body_delay_covariance(fit.calibration) if calibrated else None,
    )
    # Motion ratios are stated rightly here: known, not sought.
    ratios = slice(24, 26)
    covariance = fit.calibration.covariance
    if calibrated:
        gain = np.linalg.solve(covariance[ratios, ratios], covariance[ratios])
        covariance = covariance - covariance[:, ratios] @ gain
    known = replace(fit, calibration=replace(fit.calibration, covariance=covariance))
    exact = replace(car, tolerances=replace(car.tolerances, motion_ratio=0.0))
    found = []
    for number, name in enumerate(AXLES):
        axle = car.axle(name)
        ratio = axle.motion_ratio * float(np.exp(fit.calibration.log_motion_ratio[number]))

        def logarithms(point, axle=axle, number=number, ratio=ratio):
            scaled = point.copy()
            scaled[: fit.layout.dynamic_index] *= fit.force_scale
            values = axle_quantities(scaled[None], fit.layout, axle, number, ratio)
            return np.log([max(values[key][0], 1e-6) for key in KEYS])

        step = 1e-3 * np.sqrt(np.diag(fit.covariance))
        slopes = slopes_of(logarithms, fit.parameters, step)
        gains = np.sqrt(sum(part**2 for part in gain_doubts(known, exact, number).values()))
        believed = np.sqrt(np.einsum("pk,pq,qk->k", slopes, fit.covariance, slopes))
        found.append(
            Floors(
                told=told(results.axles[name]),
                floor=np.hypot(believed, gains),
                log_alone=np.hypot(spread(bare, slopes), gains),
            )
        )
    return found


def of_two_body(recording: Recording, car) -> list[Floors]:
    """Two-axle model of the spectra of two body accelerometers."""
    results, _, _ = two_body_results(recording, car)
    pairs, modes = axle_signals(recording, "body")
    fit = fit_axles(recording, car, pairs, modes, travel=False)
    information = np.linalg.inv(fit.fit.covariance)
    kinds = {place: name.rsplit("_", 1)[0] for name, place in fit.model.index.items()}
    free = sorted(place for place in kinds if kinds[place] not in ("mass", "unsprung", "tyre"))
    gains = [place for place in kinds if kinds[place] == "gain"]
    beliefs = fit.prior.sd**-2.0
    beliefs[gains] = 0.0
    places = [OUTPUTS.index(key) for key in KEYS]
    found = []
    for number, name in enumerate(AXLES):

        def logarithms(theta, number=number):
            return log_outputs(fit, theta[None], number)[0, places]

        step = 1e-3 * np.minimum(fit.prior.sd, 1.0)
        slopes = slopes_of(logarithms, fit.fit.parameters, step)[free]
        shape = [0.0, damper_law(fit, number, DamperLawPrior()).sd]  # of the damper's curve
        found.append(
            Floors(
                told=told(results[name]),
                floor=np.hypot(spread(information[np.ix_(free, free)], slopes), shape),
                log_alone=spread((information - np.diag(beliefs))[np.ix_(free, free)], slopes),
            )
        )
    return found


def of_travel(recording: Recording, car) -> list[Floors]:
    """Road match of four travels."""
    results, _, _ = travel_only_results(recording, car)
    if results["front"].method != METHOD:
        raise SignalError("no road match")
    pairs, modes = axle_signals(recording, "travel")
    guess = match_guess(fit_axles(recording, car, pairs, modes, travel=True), car)
    match = fit_road_match(recording, car, guess=guess)
    settings = RoadMatchSettings()
    point = np.concatenate([match.forces, match.inertia])
    secants = secant_rows(match, settings)
    places = [QUANTITIES.index(key) for key in KEYS]
    information = np.linalg.inv(match.covariance)
    alone = information - car_prior(car, match.layout, settings).precision
    free = np.setdiff1d(np.arange(len(point)), match.layout.count + np.array([2, 3]))  # tyres

    def logarithms(fitted, number):
        at = np.concatenate([fitted.forces, fitted.inertia])
        axle = car.axle(AXLES[number])
        return log_quantities(at, fitted, axle, number, secants)[places]

    here = [logarithms(match, number) for number in (0, 1)]
    gains = np.zeros((2, 2))
    for axle in AXLES:
        scaled = dict(recording.channels)
        for corner in (name for name in TRAVEL_CHANNELS if f"_{axle[0]}" in name):
            scaled[corner] = scaled[corner] * (1 + GAIN_STEP)
        other = recording.with_channels(scaled, Step(name="gain"))
        moved = fit_road_match(other, car, guess=guess)
        change = np.array([logarithms(moved, number) for number in (0, 1)]) - here
        gains += (change / GAIN_STEP * car.tolerances.travel_gain / np.sqrt(2)) ** 2
    found = []
    for number, name in enumerate(AXLES):
        axle = car.axle(name)

        def at(point, axle=axle, number=number):
            return log_quantities(point, match, axle, number, secants)[places]

        slopes = slopes_of(at, point, 1e-2 * np.sqrt(np.diag(match.covariance)))[free]
        found.append(
            Floors(
                told=told(results[name]),
                floor=np.hypot(
                    spread(information[np.ix_(free, free)], slopes), np.sqrt(gains[number])
                ),
                log_alone=np.hypot(
                    spread(alone[np.ix_(free, free)], slopes), np.sqrt(gains[number])
                ),
            )
        )
    return found


def of_bounce(recording: Recording, car) -> list[Floors]:
    """Free decays of a car let go; what hands leave at the release stays believed in."""
    results, _, _ = bounce_results(recording, car)
    decay = free_decay_of(recording, car)
    fit, width = decay.fit, decay.prior.shared_width
    size = len(AXLE_PARAMETERS)
    stated = ("sprung_mass", "unsprung_mass", "tyre_rate", "motion_ratio")
    known = [axle * size + AXLE_PARAMETERS.index(name) for name in stated for axle in (0, 1)]
    free = np.setdiff1d(np.arange(len(fit.shared)), known)
    sensors = np.zeros(len(fit.shared))
    sensors[GAIN] = sensors[LAG] = 1.0
    alone = fit.normal - np.diag(1 - sensors)
    found = []
    for number, name in enumerate(AXLES):

        def logarithms(shared, number=number):
            values = decay_quantities(shared, number)
            return np.array([values[key] for key in KEYS])

        step = np.full(len(fit.shared), 1e-5)
        slopes = (slopes_of(logarithms, fit.shared, step) * width[:, None])[free]
        found.append(
            Floors(
                told=told(results[name]),
                floor=spread(fit.normal[np.ix_(free, free)], slopes),
                log_alone=spread(alone[np.ix_(free, free)], slopes),
            )
        )
    return found
