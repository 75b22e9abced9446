"""Travel and body sensors checked against each other through springs and dampers."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.disagreement import shifted
from ridelog.condition.fault_words import late_problem, scale_problem
from ridelog.condition.force_fit import ForceFit, ForceSettings, fit_suspects
from ridelog.condition.force_model import FORCE_CHANNELS, force_model
from ridelog.condition.signals import Checked, Signals, robust_spread, siblings_of
from ridelog.condition.spectra import SpectraSettings, cross_spectra
from ridelog.condition.stretches import widen
from ridelog.recording import AXLE_OF_CORNER, TRAVEL_CHANNELS, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceLimits:
    """When a fault is called.

    It must lower the disagreement by `least_fall` and be off by `least_gain` or `least_delay_s`;
    where another suspect explains the log as well within `close`, both are named in the words.
    Within `stop_margin_m` of a stop, or beyond `far_ratio` robust deviations where its gap is not
    stated, and `stop_margin_s` around, nothing is judged; what is left is cut into windows of
    `short_window_s`.
    """

    least_fall_scale: float = 10.0
    least_fall_late: float = 10.0
    least_gain: float = 0.10
    least_delay_s: float = 0.005
    close: float = 1.5
    stop_margin_m: float = 0.004
    stop_margin_s: float = 0.15
    far_ratio: float = 3.5
    short_window_s: float = 2.0


def judges_by_force(signals: Signals, trusted: Collection[str]) -> bool:
    """Tell whether all channels that the forces bind are there.

    Parameters
    ----------
    signals : Signals
        The log on its even base.
    trusted : collection of str
        Channels that no earlier check has given up.
    """
    return all(name in signals.channels and name in trusted for name in FORCE_CHANNELS)


def check_force(
    signals: Signals,
    car: Car,
    settings: ForceSettings | None = None,
    limits: ForceLimits | None = None,
) -> Checked:
    """Find a wrong gain or delay among four travel and four body sensors.

    Parameters
    ----------
    signals : Signals
        The log on its even base, signs and exchanges put right.
    car : Car
        The car; uses masses, springs, levers and tracks.

    Returns
    -------
    Checked
        Signals with a delay mended; a wrong gain is reported and left.

    References
    ----------
    Derived here.
    """
    settings, limits = settings or ForceSettings(), limits or ForceLimits()
    band = SpectraSettings(low_hz=settings.low_hz, high_hz=settings.high_hz)
    apart = _away_from_stops(signals, car, limits)
    if any(doubt.any() for doubt in apart.doubtful.values()):
        band = replace(band, window_s=limits.short_window_s)
    spectra = cross_spectra(apart, FORCE_CHANNELS, band)
    if spectra is None:
        return Checked(signals=signals)
    model = force_model(car, 2 * np.pi * spectra.frequency_hz)
    none, fits = fit_suspects(spectra, model, settings)
    problem, delay_s = _called(none, fits, limits)
    if problem is None:
        return Checked(signals=signals)
    if problem.code == "late" and problem.channel is not None:
        values = signals.channels[problem.channel]
        moved = shifted(values, signals.sample_rate_hz, delay_s)
        signals = signals.with_channel(problem.channel, moved)
    return Checked(signals=signals, problems=(problem,))


def _away_from_stops(signals: Signals, car: Car, limits: ForceLimits) -> Signals:
    """Leave out where a damper may touch a stop: that force is no spring's and no damper's."""
    around = round(limits.stop_margin_s * signals.sample_rate_hz)
    for name in TRAVEL_CHANNELS:
        axle = car.axle(AXLE_OF_CORNER[name.removeprefix("travel_")])
        travel = signals.channels[name]
        usual = limits.far_ratio * robust_spread(travel[signals.believable(name)])
        bump = usual if axle.bump_gap_m is None else axle.bump_gap_m - limits.stop_margin_m
        droop = usual if axle.droop_gap_m is None else axle.droop_gap_m - limits.stop_margin_m
        touched = (travel > bump) | (travel < -droop)
        if touched.any():
            signals = signals.with_doubt(name, widen(touched, around))
    return signals


def _called(
    none: ForceFit, fits: tuple[ForceFit, ...], limits: ForceLimits
) -> tuple[Problem | None, float]:
    """Word the likeliest fault if it is likely enough; also its delay [s]."""
    best, rival = fits[0], fits[1]
    fault = best.fault
    name = fault.names[0]
    index = FORCE_CHANNELS.index(name)
    fall = none.disagreement - best.disagreement
    others = rival.fault.names[0]
    close = rival.disagreement - best.disagreement < limits.close and others != name
    doubt = f"; {others} could be meant as well, check both" if close else ""
    if fault.code == "scale":
        gain = float(best.gain[index])
        far = abs(np.log(gain)) > np.log1p(limits.least_gain)
        if not far or fall < limits.least_fall_scale:
            return None, 0.0
        return scale_problem(name, 1 / gain, doubt), 0.0
    siblings = [FORCE_CHANNELS.index(other) for other in siblings_of(name, FORCE_CHANNELS)]
    delay_s = float(best.delay_s[index] - np.median(best.delay_s[siblings]))
    if abs(delay_s) < limits.least_delay_s or fall < limits.least_fall_late:
        return None, 0.0
    return late_problem(name, delay_s, doubt), delay_s
