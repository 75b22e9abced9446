"""One body accelerometer in a bounce test: the body as one mass on all four corners."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.curves import DecayCurve
from ridelog.estimate.decay_prior import AxleNumbers
from ridelog.estimate.free_decay import FreeDecaySettings, free_decay
from ridelog.estimate.result import Estimate, WholeCarResult
from ridelog.recording import AXLES, Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeBodySettings:
    """Settings; the doubts are one standard deviation, relative; common practice, no source."""

    decay: FreeDecaySettings = field(default_factory=FreeDecaySettings)
    frequency_doubt: float = 0.03  # what pitch mixes in
    damping_doubt: float = 0.12


def whole_body_bounce(
    recording: Recording, channel: str, car: Car, settings: WholeBodySettings | None = None
) -> tuple[WholeCarResult, tuple[DecayCurve, ...], tuple[str, ...]]:
    """Bounce of the whole car from one body accelerometer in a bounce test.

    Parameters
    ----------
    recording : Recording
        The log [m/s2].
    channel : str
        The channel to use, say ``cabin``.
    car : Car
        The car as its owner states it.
    settings : WholeBodySettings, optional
        Settings.

    Returns
    -------
    tuple
        Whole-car bounce, the decays for the report, and notes.

    Notes
    -----
    The body is taken as one mass on all four corners. One sensor sees both axles mixed, so the
    intervals are widened by what pitch may add.

    References
    ----------
    Derived here.
    """
    settings = settings or WholeBodySettings()
    parts = [AxleNumbers.from_axle(car.axle(name)) for name in AXLES]
    rates = np.array([part.wheel_rate_n_per_m for part in parts])
    ratios = np.array([part.motion_ratio for part in parts])
    tyres = [part.tyre_rate_n_per_m for part in parts]
    whole = AxleNumbers(
        sprung_mass_kg=sum(part.sprung_mass_kg for part in parts) / 2,
        unsprung_mass_kg=sum(part.unsprung_mass_kg for part in parts) / 2,
        wheel_rate_n_per_m=float(rates.mean()),
        motion_ratio=float(np.sqrt(np.average(ratios**2, weights=rates))),
        tyre_rate_n_per_m=None if None in tyres else sum(t for t in tyres if t is not None) / 2,
    )
    result = free_decay(
        recording.channels[channel],
        None,
        recording.sample_rate_hz,
        (whole, whole),
        settings.decay,
        tolerances=car.tolerances,
        valid=recording.valid,
    )
    front = result.front
    whole_car = WholeCarResult(
        bounce_frequency_hz=_doubted(front.body_frequency_hz, settings.frequency_doubt),
        bounce_damping_ratio=_doubted(front.damping_ratio, settings.damping_doubt),
    )
    remarks = tuple(
        r.replace("front axle", "whole car") for r in result.remarks if r.startswith("front")
    )
    note = "one body accelerometer sees both axles mixed: only the whole car's bounce is told"
    return whole_car, result.curves, (note, *remarks)


def _doubted(estimate: Estimate | None, doubt: float) -> Estimate | None:
    """Widen an interval by a relative doubt (one standard deviation)."""
    if estimate is None:
        return None
    extra = 1.96 * doubt * estimate.value
    return Estimate(
        value=estimate.value,
        low=estimate.value - float(np.hypot(estimate.value - estimate.low, extra)),
        high=estimate.value + float(np.hypot(estimate.high - estimate.value, extra)),
    )
