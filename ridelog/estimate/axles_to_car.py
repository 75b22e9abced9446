"""Bounce of the whole body from what is known of both axles."""

from __future__ import annotations

from collections.abc import Mapping
from math import exp, hypot, log, pi, sqrt

from ridelog.car.description import Car
from ridelog.estimate.result import AxleResult, Estimate, WholeCarResult
from ridelog.recording import AXLES


def whole_car_of_axles(axles: Mapping[str, AxleResult], car: Car) -> WholeCarResult | None:
    """Frequency and damping ratio of pure bounce; None where an axle is not known.

    Parameters
    ----------
    axles : Mapping
        Results of both axles.
    car : Car
        Masses.

    Notes
    -----
    Bounce without pitch: both ride rates carry the whole sprung mass. The damping ratio counts as
    the axles' does, on the wheel rates.

    References
    ----------
    T. D. Gillespie, Fundamentals of Vehicle Dynamics, ch. 5 (bounce of a two-axle vehicle); cited
    from memory.
    """
    frequencies = [axles[name].body_frequency_hz for name in AXLES if name in axles]
    dampings = [axles[name].damping_ratio for name in AXLES if name in axles]
    if len(frequencies) < len(AXLES) or any(f is None for f in frequencies):
        return None
    masses = [car.axle(name).sprung_mass_kg for name in AXLES]
    ride_rates = [
        mass * (2 * pi * frequency.value) ** 2
        for mass, frequency in zip(masses, frequencies, strict=True)
        if frequency is not None
    ]
    shares = [rate / sum(ride_rates) for rate in ride_rates]
    bounce = sqrt(sum(ride_rates) / sum(masses)) / (2 * pi)
    spreads = [_log_half_width(f) for f in frequencies if f is not None]
    frequency = _estimate(bounce, [s * w for s, w in zip(shares, spreads, strict=True)])
    if any(damping is None for damping in dampings):
        return WholeCarResult(bounce_frequency_hz=frequency)
    springs = [axles[name].spring_frequency_hz or axles[name].body_frequency_hz for name in AXLES]
    rates = [
        mass * (2 * pi * spring.value) ** 2
        for mass, spring in zip(masses, springs, strict=True)
        if spring is not None
    ]
    coefficients = [
        2 * damping.value * sqrt(rate * mass)
        for damping, rate, mass in zip(dampings, rates, masses, strict=True)
        if damping is not None
    ]
    ratio = sum(coefficients) / (2 * sqrt(sum(rates) * sum(masses)))
    parts = [
        coefficient / sum(coefficients) * _log_half_width(damping)
        for coefficient, damping in zip(coefficients, dampings, strict=True)
        if damping is not None
    ]
    return WholeCarResult(
        bounce_frequency_hz=frequency, bounce_damping_ratio=_estimate(ratio, parts)
    )


def _log_half_width(estimate: Estimate) -> float:
    return 0.5 * log(estimate.high / max(estimate.low, 1e-3 * estimate.value))


def _estimate(value: float, half_widths: list[float]) -> Estimate:
    spread = hypot(*half_widths)
    return Estimate(value=value, low=value * exp(-spread), high=value * exp(spread))
