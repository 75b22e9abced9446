"""What a drive tells when only travel, or only body acceleration, was logged."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.errors import SignalError
from ridelog.estimate.curves import SpectrumCurve
from ridelog.estimate.few_sensor_fit import FewSensorFit, fit_few_sensors
from ridelog.estimate.few_sensor_priors import AxleNumbers, Mode
from ridelog.estimate.few_sensor_results import axle_results, spectrum_curves
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.estimate.road_match.settings import RoadMatchGuess
from ridelog.recording import AXLES, TRAVEL_CHANNELS, FloatArray, Recording

AxleOutcome = tuple[dict[str, AxleResult], tuple[SpectrumCurve, ...], tuple[str, ...]]
"""Results by axle, curves to draw, and notes on what could not be told and why."""


def two_body_results(recording: Recording, car: Car) -> AxleOutcome:
    """Both axles from body accelerometers alone: one over each axle, or two.

    Parameters
    ----------
    recording : Recording
        The cleaned log; uses ``body_*`` and, if there, ``speed``.
    car : Car
        Masses, motion ratios, tyre rates and tolerances; not its spring rates or targets.

    Returns
    -------
    tuple
        Results by axle name (`AxleResult` with empty fields where the log cannot tell), spectrum
        curves, and notes.

    References
    ----------
    See `fit_few_sensors`.
    """
    return _outcome(recording, car, kind="body")


def travel_only_results(recording: Recording, car: Car) -> AxleOutcome:
    """Both axles from travel alone: one sensor at each axle, or two.

    Four sensors are told by the road match, fewer (or a drive the match cannot use) by the fit
    to the spectra.

    Parameters
    ----------
    recording : Recording
        The cleaned log; uses ``travel_*`` and, if there, ``speed``.
    car : Car
        Masses, motion ratios, tyre rates and tolerances; not its spring rates or targets.

    Returns
    -------
    tuple
        As `two_body_results`.

    References
    ----------
    See `fit_road_match` and `fit_few_sensors`.
    """
    chosen = axle_signals(recording, "travel")
    if chosen is None or not recording.has(*TRAVEL_CHANNELS):
        return _outcome(recording, car, kind="travel")
    fit = _fit_or_none(recording, car, *chosen)
    matched = _matched(recording, car, fit)
    if matched is None:
        return _outcome(recording, car, kind="travel", fit=fit)
    results, notes = matched
    results = {
        name: _with_catalogue_error(result, car.axle(name)) for name, result in results.items()
    }
    return results, () if fit is None else spectrum_curves(fit), notes


def _fit_or_none(
    recording: Recording, car: Car, pairs: tuple[FloatArray, ...], modes: tuple[Mode, ...]
) -> FewSensorFit | None:
    try:
        return fit_axles(recording, car, pairs, modes, travel=True)
    except SignalError:
        return None


def _matched(
    recording: Recording, car: Car, fit: FewSensorFit | None
) -> tuple[dict[str, AxleResult], tuple[str, ...]] | None:
    """Results of the road match, started from the fit to the spectra; None where untrusted."""
    from ridelog.estimate.road_match.fit import fit_road_match
    from ridelog.estimate.road_match.results import match_results, trusted

    try:
        match = fit_road_match(recording, car, guess=None if fit is None else match_guess(fit, car))
    except SignalError:
        return None
    return match_results(match, car) if trusted(match) else None


def match_guess(fit: FewSensorFit, car: Car) -> RoadMatchGuess:
    """Where the road match starts: springs and dampers at the damper, and the delays.

    Parameters
    ----------
    fit : FewSensorFit
        The fit to the travel spectra.
    car : Car
        Motion ratios.
    """
    springs, damping = [], []
    for number, name in enumerate(AXLES):
        axle = fit.model.axle_model(fit.fit.parameters[None], number, 0)
        lever = car.axle(name).motion_ratio ** 2
        springs.append(float(axle.wheel_rate_n_per_m[0, 0]) / lever)
        damping.append(float(axle.wheel_damping_n_s_per_m[0, 0]) / lever)
    return RoadMatchGuess(
        spring_n_per_m=(springs[0], springs[1]),
        damping_n_s_per_m=(damping[0], damping[1]),
        delay_s=(float(fit.delays_s.min()), float(fit.delays_s.max())),
    )


def _outcome(
    recording: Recording, car: Car, *, kind: str, fit: FewSensorFit | None = None
) -> AxleOutcome:
    method = (
        "fit of a two-axle car to the travel spectra"
        if kind == "travel"
        else "fit of a two-axle car to the body acceleration spectra"
    )
    nothing = {name: AxleResult(method=method) for name in AXLES}
    chosen = axle_signals(recording, kind)
    if chosen is None:
        sensors = "travel sensor" if kind == "travel" else "body accelerometer"
        return nothing, (), (f"Front and rear: need at least one {sensors} at each axle",)
    pairs, modes = chosen
    try:
        fit = fit or fit_axles(recording, car, pairs, modes, travel=kind == "travel")
    except SignalError as error:
        return nothing, (), (f"Front and rear frequency and damping: {error}",)
    results, notes = axle_results(fit, method=method)
    results = {
        name: _with_catalogue_error(result, car.axle(name)) for name, result in results.items()
    }
    return results, spectrum_curves(fit), notes


def axle_signals(
    recording: Recording, kind: str
) -> tuple[tuple[FloatArray, ...], tuple[Mode, ...]] | None:
    """Pair up front and rear channels of one kind as the fit wants them.

    Parameters
    ----------
    recording : Recording
        The log.
    kind : str
        ``body`` or ``travel``.

    Returns
    -------
    tuple or None
        Signal pairs, each (2, n), with their modes; None where an axle has no such channel.
    """
    front = [side for side in "lr" if recording.has(f"{kind}_f{side}")]
    rear = [side for side in "lr" if recording.has(f"{kind}_r{side}")]
    if not front or not rear:
        return None
    if len(front) == len(rear) == 2:
        left = recording.stack((f"{kind}_fl", f"{kind}_rl"))
        right = recording.stack((f"{kind}_fr", f"{kind}_rr"))
        return ((left + right) / 2, (left - right) / 2), ("mean", "difference")
    same = [side for side in front if side in rear]
    sides = (same[0], same[0]) if same else (front[0], rear[0])
    pair = recording.stack((f"{kind}_f{sides[0]}", f"{kind}_r{sides[1]}"))
    return (pair,), ("side" if same else "diagonal",)


def axle_numbers(axle: Axle, car: Car, *, travel: bool) -> AxleNumbers:
    """Take from a car file what the spectral fit may use.

    Parameters
    ----------
    axle : Axle
        The axle.
    car : Car
        For the tolerances.
    travel : bool
        Whether travel sensors (rather than accelerometers) are fitted.
    """
    tolerances = car.tolerances
    return AxleNumbers(
        sprung_mass_kg=axle.sprung_mass_kg,
        unsprung_mass_kg=axle.unsprung_mass_kg,
        motion_ratio=axle.motion_ratio,
        track_m=axle.track_m,
        tyre_rate_n_per_m=axle.tyre_rate_n_per_m,
        solid=axle.layout == "solid",
        roll_lever_ratio=axle.roll_lever_ratio,
        sprung_mass_sd=tolerances.sprung_mass,
        motion_ratio_sd=tolerances.motion_ratio,
        tyre_rate_sd=tolerances.tyre_rate,
        sensor_gain_sd=tolerances.travel_gain if travel else tolerances.accelerometer_gain,
    )


def fit_axles(
    recording: Recording,
    car: Car,
    pairs: tuple[FloatArray, ...],
    modes: tuple[Mode, ...],
    *,
    travel: bool,
) -> FewSensorFit:
    """Fit the two-axle model to signals as `axle_signals` pairs them.

    Parameters
    ----------
    recording : Recording
        The log, for its rate, its gaps and its speed.
    car : Car
        Masses, motion ratios, tyre rates and tolerances.
    pairs, modes : tuple
        From `axle_signals`.
    travel : bool
        Whether they are travel rather than acceleration.

    Raises
    ------
    SignalError
        As `fit_few_sensors`.
    """
    speed = recording.channels.get("speed")
    if speed is not None and not np.all(np.isfinite(speed)):
        speed = None
    return fit_few_sensors(
        pairs,
        modes,
        recording.valid,
        sample_rate_hz=recording.sample_rate_hz,
        axles=(
            axle_numbers(car.front, car, travel=travel),
            axle_numbers(car.rear, car, travel=travel),
        ),
        wheelbase_m=car.wheelbase_m,
        travel=travel,
        speed_m_per_s=speed,
    )


def _with_catalogue_error(result: AxleResult, axle: Axle) -> AxleResult:
    """Add measured over stated spring rate minus 1; the motion ratio enters twice."""
    wheel = result.wheel_rate_n_per_m
    if wheel is None:
        return result
    stated = axle.spring_rate_n_per_m * axle.motion_ratio**2
    return replace(
        result,
        catalogue_spring_error=Estimate(
            value=wheel.value / stated - 1,
            low=wheel.low / stated - 1,
            high=wheel.high / stated - 1,
        ),
    )
