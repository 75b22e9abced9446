"""Travel (or hub) and body sensors checked against each other through springs and dampers."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np

from ridelog.car.description import Car
from ridelog.car.geometry import damper_lever_matrix
from ridelog.condition.corner_pairs import settled_exchange, with_exchanged
from ridelog.condition.disagreement import shifted
from ridelog.condition.fault_words import late_problem, scale_problem
from ridelog.condition.force_fit import ForceFit, ForceSettings, fit_exchanged, fit_suspects
from ridelog.condition.force_model import BY_HUB, BY_TRAVEL, force_model
from ridelog.condition.integrate import integrate
from ridelog.condition.signals import Checked, Signals, kind_of, robust_spread, siblings_of
from ridelog.condition.spectra import SpectraSettings, cross_spectra
from ridelog.condition.stretches import widen
from ridelog.condition.witness import Fault, put_right
from ridelog.recording import (
    AXLE_OF_CORNER,
    AXLES,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    FloatArray,
    Problem,
)

_SLOWEST_TRAVEL_HZ = 0.5  # below it what accelerometers tell of travel is drift


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceLimits:
    """When a fault is called.

    It must lower the disagreement by `least_fall` and be off by `least_gain` or `least_delay_s`.
    A travel sensor off by some is told from its axle partner off by as much the other way by the
    springs' rates alone; where that is `close`, both are named in the words. Everything else must
    lower it by `surest_fall`, and no other suspect by more than `rival_share` of that: on sound
    cars that bend and give, several come to 13 together, a fault comes to 20 and more alone.
    Two exchanged body sensors lower it by `least_fall_exchange`: by 1000 and more, while a sound
    log's rises by hundreds. Within `stop_margin_m` of a stop, or beyond `far_ratio` robust
    deviations where its gap is not stated, and `stop_margin_s` around, nothing is judged; what is
    left is cut into windows of `short_window_s`. With hubs for travel, fewer than `fewest_windows`
    fit any gain.
    """

    least_fall: float = 12.0
    surest_fall: float = 18.0
    least_fall_exchange: float = 150.0
    rival_share: float = 0.65
    least_gain: float = 0.10
    least_delay_s: float = 0.005
    close: float = 4.0
    stop_margin_m: float = 0.004
    stop_margin_s: float = 0.15
    far_ratio: float = 3.5
    short_window_s: float = 2.0
    fewest_windows: int = 18


def force_channels(signals: Signals, trusted: Collection[str]) -> tuple[str, ...]:
    """Name the channels that the forces bind, none where one of them is missing.

    Parameters
    ----------
    signals : Signals
        The log on its even base.
    trusted : collection of str
        Channels that no earlier check has given up.
    """
    for names in (BY_TRAVEL, BY_HUB):
        if all(name in signals.channels and name in trusted for name in names):
            return names
    return ()


def check_force(
    signals: Signals,
    car: Car,
    names: tuple[str, ...],
    settings: ForceSettings | None = None,
    limits: ForceLimits | None = None,
) -> Checked:
    """Find body sensors exchanged, a wrong gain or delay, among four of two kinds of sensor.

    Parameters
    ----------
    signals : Signals
        The log on its even base, signs and exchanges put right.
    car : Car
        The car; uses masses, springs, levers and tracks.
    names : tuple of str
        What `force_channels` names.

    Returns
    -------
    Checked
        Signals with exchange and delay mended; a wrong gain is reported and left.

    References
    ----------
    Derived here.
    """
    settings, limits = settings or ForceSettings(), limits or ForceLimits()
    band = SpectraSettings(low_hz=settings.low_hz, high_hz=settings.high_hz)
    apart = _away_from_stops(signals, car, names, limits)
    if any(doubt.any() for doubt in apart.doubtful.values()):
        band = replace(band, window_s=limits.short_window_s)
    spectra = cross_spectra(apart, names, band)
    if spectra is None:
        return Checked(signals=signals)
    model = force_model(car, 2 * np.pi * spectra.frequency_hz, names)
    none, fits = fit_suspects(spectra, model, settings)
    problems = []
    exchanged = fit_exchanged(spectra, model, none, settings)
    if exchanged and none.disagreement - exchanged[0].disagreement > limits.least_fall_exchange:
        problem = Problem(code="swapped", channels=exchanged[0].fault.names, text="", mended=True)
        problem = settled_exchange(signals, problem, names)
        problems.append(problem)
        signals = with_exchanged(signals, problem.channels)
        fault = Fault(code="swapped", names=problem.channels)
        spectra = replace(spectra, density=put_right(spectra.density, names, fault))
        none, fits = fit_suspects(spectra, model, settings)
    if names == BY_HUB and spectra.windows < limits.fewest_windows:
        return Checked(signals=signals, problems=tuple(problems))
    called, delay_s = _called(none, fits, names, limits)
    if called is None:
        return Checked(signals=signals, problems=tuple(problems))
    if called.code == "late" and called.channel is not None:
        values = signals.channels[called.channel]
        moved = shifted(values, signals.sample_rate_hz, delay_s)
        signals = signals.with_channel(called.channel, moved)
    return Checked(signals=signals, problems=(*problems, called))


def _away_from_stops(
    signals: Signals, car: Car, names: tuple[str, ...], limits: ForceLimits
) -> Signals:
    """Leave out where a damper may touch a stop: that force is no spring's and no damper's."""
    around = round(limits.stop_margin_s * signals.sample_rate_hz)
    for name, travel in _travels(signals, car, names).items():
        axle = car.axle(AXLE_OF_CORNER[name[-2:]])
        usual = limits.far_ratio * robust_spread(travel[signals.believable(name)])
        bump = usual if axle.bump_gap_m is None else axle.bump_gap_m - limits.stop_margin_m
        droop = usual if axle.droop_gap_m is None else axle.droop_gap_m - limits.stop_margin_m
        touched = (travel > bump) | (travel < -droop)
        if touched.any():
            signals = signals.with_doubt(name, widen(touched, around))
    return signals


def _travels(signals: Signals, car: Car, names: tuple[str, ...]) -> dict[str, FloatArray]:
    """Travel by the channels that tell of it: its sensors, or the hubs."""
    if names == BY_TRAVEL:
        return {name: signals.channels[name] for name in TRAVEL_CHANNELS}
    found: dict[str, FloatArray] = {}
    for end, axle in enumerate(AXLES):
        own = HUB_CHANNELS[2 * end : 2 * end + 2]
        apart = np.stack(
            [signals.channels[hub] - signals.channels[f"body_{hub[-2:]}"] for hub in own]
        )
        moved = damper_lever_matrix(car.axle(axle)) @ apart
        travel = integrate(moved, signals.sample_rate_hz, _SLOWEST_TRAVEL_HZ, times=2)
        found |= dict(zip(own, travel, strict=True))
    return found


def _called(
    none: ForceFit, fits: tuple[ForceFit, ...], names: tuple[str, ...], limits: ForceLimits
) -> tuple[Problem | None, float]:
    """Word the likeliest fault if it is likely enough; also its delay [s]."""
    best = fits[0]
    fault = best.fault
    name = fault.names[0]
    fall = none.disagreement - best.disagreement
    partner = _partner(name) if fault.code == "scale" and name in TRAVEL_CHANNELS else ""
    others = [fit for fit in fits[1:] if fit.fault.names[0] not in (name, partner)]
    rivals = [none.disagreement - fit.disagreement for fit in others]
    share = max(rivals, default=0.0) / fall if fall > 0 else 1.0
    least_fall = limits.least_fall if partner else limits.surest_fall
    if fall < least_fall or share > limits.rival_share:
        return None, 0.0
    rival = fits[1]
    close = rival.disagreement - best.disagreement < limits.close
    close = close and rival.fault.names[0] == partner
    doubt = f"; {partner} could be meant as well, check both" if close else ""
    index = names.index(name)
    siblings = [names.index(sibling) for sibling in siblings_of(name, names)]
    if fault.code == "scale":
        gain = float(best.gain[index])
        if kind_of(name) == "hub":
            gain /= float(np.median(best.gain[siblings]))
        if abs(np.log(gain)) <= np.log1p(limits.least_gain):
            return None, 0.0
        return scale_problem(name, 1 / gain, doubt), 0.0
    delay_s = float(best.delay_s[index] - np.median(best.delay_s[siblings]))
    if abs(delay_s) < limits.least_delay_s:
        return None, 0.0
    return late_problem(name, delay_s, doubt), delay_s


def _partner(name: str) -> str:
    """Name the sensor of its kind on the other side of its axle."""
    return name[:-1] + {"l": "r", "r": "l"}[name[-1]]
