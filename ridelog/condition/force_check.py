"""Travel and body sensors checked against each other through springs and dampers."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.disagreement import shifted
from ridelog.condition.fault_words import late_problem, scale_problem
from ridelog.condition.force_fit import ForceFit, ForceSettings, fit_suspects
from ridelog.condition.force_model import FORCE_CHANNELS, force_model
from ridelog.condition.signals import Checked, Signals, siblings_of
from ridelog.condition.spectra import SpectraSettings, cross_spectra
from ridelog.recording import Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceLimits:
    """When a fault is called.

    It must lower the disagreement by `least_fall` and be off by `least_gain` or `least_delay_s`;
    where another suspect explains the log as well within `close`, both are named in the words.
    """

    least_fall_scale: float = 16.0
    least_fall_late: float = 30.0
    least_gain: float = 0.10
    least_delay_s: float = 0.005
    close: float = 1.5


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
    spectra = cross_spectra(signals, FORCE_CHANNELS, band)
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
