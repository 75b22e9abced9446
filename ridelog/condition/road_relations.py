"""Sensors without an exact partner: judged by the road, which every axle sees in turn.

Where hubs or travel are missing no identity binds the rest. But the rear wheels meet the front
wheels' road one wheelbase later, left after left and right after right, and both sides of an axle
meet roads of like roughness. These relations are soft; only gross faults are called.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.corner_pairs import settled_exchange, with_exchanged
from ridelog.condition.fault_words import scale_problem
from ridelog.condition.signals import KINDS, Checked, Signals
from ridelog.condition.spectra import ComplexArray, WindowSpectra, window_spectra
from ridelog.recording import AXLE_OF_CORNER, FloatArray, Problem


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadSettings:
    """Limits of the soft relations.

    The rear follows the front best between `low_hz` and `high_hz`. Agreement is the sum of two
    correlations (heave and roll, 2 at best) plus `heave_weight` times how much heave outdoes roll;
    granting a fault lowers it by 0.1 and more on sound logs, so a fault that raises it by
    `least_gain` is called. Speeds between `slowest_m_per_s` and `fastest_m_per_s` are tried where
    none was logged. A gain is called if the sides of an axle differ by `gain_log` in all of
    `gain_bands_hz`, compared with the other axle on the same road, by the same amount within
    `gain_spread`: a tired damper differs from band to band; beyond `far_log` it is a sensor. One
    sensor over each axle is judged by which follows which in `order_band_hz`; sound pairs never
    follow the wrong way by 0.1 of correlation more than the right way, `order_lead` is asked.
    """

    low_hz: float = 2.5
    high_hz: float = 8.0
    heave_weight: float = 0.3
    order_band_hz: tuple[float, float] = (1.0, 6.0)
    order_lead: float = 0.2
    least_gain: float = 0.3
    slowest_m_per_s: float = 3.0
    fastest_m_per_s: float = 40.0
    gain_log: float = 0.14
    gain_spread: float = 0.12
    far_log: float = 1.1
    gain_bands_hz: tuple[tuple[float, float], ...] = ((1.2, 3.5), (3.5, 8.0), (8.0, 16.0))


def check_road_relations(
    signals: Signals,
    car: Car,
    kinds: Collection[str],
    trusted: Collection[str],
    settings: RoadSettings | None = None,
    compare_gains: bool = True,
) -> Checked:
    """Find wrong signs, exchanged channels and unequal gains among sensors of a kind.

    Parameters
    ----------
    signals : Signals
        The log on its even base.
    car : Car
        The car; uses its wheelbase.
    kinds : collection of str
        ``travel``, ``body`` or ``hub``: kinds that no exact identity covers.
    trusted : collection of str
        Channels that no earlier check has given up.
    compare_gains : bool
        Whether left is compared with right closely; where better witnesses do so, only what is off
        by a factor of three is named.
    """
    settings = settings or RoadSettings()
    problems: list[Problem] = []
    for kind in kinds:
        names = tuple(n for n in KINDS[kind] if n in signals.channels and n in trusted)
        one_each = (
            len(names) == 2 and AXLE_OF_CORNER[names[0][-2:]] != AXLE_OF_CORNER[names[1][-2:]]
        )
        windows = window_spectra(signals, names) if one_each or len(names) == 4 else None
        if windows is None:
            continue
        delay_s = axle_delays(signals, windows, car.wheelbase_m, settings)
        if not np.isfinite(delay_s).any():
            continue
        problem = _found(windows, delay_s, one_each, compare_gains, settings)
        if problem is None:
            continue
        if problem.code == "swapped":
            problem = settled_exchange(signals, problem, trusted)
        if problem.mended:
            signals = _put_right(signals, problem)
        problems.append(problem)
    return Checked(signals=signals, problems=tuple(problems))


def _found(
    windows: WindowSpectra,
    delay_s: FloatArray,
    one_each: bool,
    compare_gains: bool,
    settings: RoadSettings,
) -> Problem | None:
    """The first thing found wrong with the sensors of a kind."""
    if one_each:
        return _time_order_problem(windows, delay_s, settings)
    problem = _order_problem(windows, delay_s, settings)
    if problem is None:
        problem = _gain_problem(windows, settings, far_only=not compare_gains)
    return problem


def axle_delays(
    signals: Signals, windows: WindowSpectra, wheelbase_m: float, settings: RoadSettings
) -> FloatArray:
    """Return delays of the rear axle to try: one by the logged speed, else many, alike for all.

    Parameters
    ----------
    signals : Signals
        The log on its even base.
    windows : WindowSpectra
        Its windows.
    wheelbase_m : float
        Wheelbase [m].
    settings : RoadSettings
        Uses its speeds.

    Returns
    -------
    ndarray, shape (tries, windows)
        Delays [s], NaN where the car stands.
    """
    speed = signals.channels.get("speed")
    if speed is not None and np.any(speed > settings.slowest_m_per_s):
        mean = np.array([speed[start : start + windows.size].mean() for start in windows.starts])
        with np.errstate(divide="ignore"):
            return np.where(mean > settings.slowest_m_per_s, wheelbase_m / mean, np.nan)[None, :]
    slowness = np.linspace(1 / settings.fastest_m_per_s, 1 / settings.slowest_m_per_s, 80)
    return np.asarray(np.outer(wheelbase_m * slowness, np.ones(len(windows.starts))))


def _following(
    front: ComplexArray, rear: ComplexArray, omega: FloatArray, delay_s: FloatArray
) -> FloatArray:
    """Correlation of the rear with the front one delay earlier, for each try, shape (tries,)."""
    moving = np.isfinite(delay_s[0])
    front, rear = front[moving], rear[moving]
    norm = np.sqrt(max(_power(front) * _power(rear), 1e-300))
    cross = front.conj() * rear
    if len(delay_s) == 1:
        turned = np.exp(1j * omega * delay_s[0][moving, None]) * cross
        return np.array([turned.sum().real / norm])
    # where delays are tried, each holds for all windows, so that these can be summed first
    return np.asarray((np.exp(1j * np.outer(delay_s[:, 0], omega)) @ cross.sum(axis=0)).real / norm)


def agreement(
    lines: ComplexArray, omega: FloatArray, delay_s: FloatArray, settings: RoadSettings
) -> float:
    """Return how well the rear follows the delayed front, heave plus roll, at the best delay.

    Parameters
    ----------
    lines : ndarray, shape (4, windows, frequencies)
        Transforms of fl, fr, rl, rr.
    omega : ndarray, shape (frequencies,)
        Angular frequencies [rad/s].
    delay_s : ndarray, shape (tries, windows)
        Delays to try [s].
    settings : RoadSettings
        Uses its weight of heave.
    """
    front_left, front_right, rear_left, rear_right = lines
    heave = (front_left + front_right, rear_left + rear_right)
    roll = (front_left - front_right, rear_left - rear_right)
    total = _following(*heave, omega, delay_s) + _following(*roll, omega, delay_s)
    best = float(np.max(total))
    for up, tilt in zip(heave, roll, strict=True):
        best += settings.heave_weight * (_power(up) - _power(tilt)) / (_power(up) + _power(tilt))
    return best


def _time_order_problem(
    windows: WindowSpectra, delay_s: FloatArray, settings: RoadSettings
) -> Problem | None:
    """Tell whether the sensor called rear meets the road before the one called front."""
    low_hz, high_hz = settings.order_band_hz
    band = (windows.frequency_hz >= low_hz) & (windows.frequency_hz <= high_hz)
    omega = 2 * np.pi * windows.frequency_hz[band]
    front, rear = windows.lines[:, :, band]
    ahead = float(np.max(_following(front, rear, omega, delay_s)))
    behind = float(np.max(_following(rear, front, omega, delay_s)))
    return _worded(windows.names) if behind - ahead > settings.order_lead else None


def _power(lines: ComplexArray) -> float:
    return float(np.sum(np.abs(lines) ** 2))


def _order_problem(
    windows: WindowSpectra, delay_s: FloatArray, settings: RoadSettings
) -> Problem | None:
    band = (windows.frequency_hz >= settings.low_hz) & (windows.frequency_hz <= settings.high_hz)
    lines = windows.lines[:, :, band]
    omega = 2 * np.pi * windows.frequency_hz[band]
    before = agreement(lines, omega, delay_s, settings)
    tries: list[tuple[float, tuple[str, ...]]] = []
    for index, name in enumerate(windows.names):
        flipped = lines.copy()
        flipped[index] *= -1
        tries.append((agreement(flipped, omega, delay_s, settings), (name,)))
    for first, second in combinations(range(4), 2):
        order = np.arange(4)
        order[[first, second]] = second, first
        pair = (windows.names[first], windows.names[second])
        tries.append((agreement(lines[order], omega, delay_s, settings), pair))
    after, names = max(tries)
    return _worded(names) if after - before > settings.least_gain else None


def _worded(names: tuple[str, ...]) -> Problem:
    if len(names) == 1:
        text = f"{names[0]} moves the wrong way round (judged by the road at both axles)"
        return Problem(
            code="sign", channel=names[0], text=f"{text}; turned over for the analysis", mended=True
        )
    return exchange_problem(names)


def exchange_problem(names: tuple[str, ...]) -> Problem:
    """Word an exchange of two channels.

    Parameters
    ----------
    names : tuple of str
        Both.
    """
    text = f"{names[0]} and {names[1]} are exchanged; put back for the analysis"
    return Problem(code="swapped", channels=names, text=text, mended=True)


def _put_right(signals: Signals, problem: Problem) -> Signals:
    if problem.channel is not None:
        return signals.with_channel(problem.channel, -signals.channels[problem.channel])
    return with_exchanged(signals, problem.channels)


def _levels(windows: WindowSpectra, settings: RoadSettings) -> FloatArray:
    """Log of each channel's size in several bands, its noise taken off, shape (bands, channels)."""
    levels = []
    for low, high in settings.gain_bands_hz:
        band = (windows.frequency_hz >= low) & (windows.frequency_hz <= high)
        power = np.sum(np.abs(windows.lines[:, :, band]) ** 2, axis=(1, 2))
        noise = np.sum(windows.noise[band], axis=0) * len(windows.starts)
        levels.append(0.5 * np.log(np.maximum(power - noise, 1e-300)))
    return np.array(levels)


def side_ratios(windows: WindowSpectra, settings: RoadSettings | None = None) -> FloatArray:
    """Return how much louder left is than right, in logs, by axle and band.

    Parameters
    ----------
    windows : WindowSpectra
        Transforms of left and right of one axle or both.

    Returns
    -------
    ndarray, shape (bands, axles)
    """
    levels = _levels(windows, settings or RoadSettings())
    return levels[:, ::2] - levels[:, 1::2]


def _gain_problem(windows: WindowSpectra, settings: RoadSettings, far_only: bool) -> Problem | None:
    """Compare left and right of each axle in several bands, less what the road does to both."""
    sides = side_ratios(windows, settings)
    apart = sides[:, 0] - sides[:, 1]
    same_way = bool(np.all(apart > 0) or np.all(apart < 0))
    if not same_way or np.min(np.abs(apart)) < settings.gain_log:
        return None
    if np.min(np.abs(apart)) > settings.far_log:
        return _far_off(windows.names, _levels(windows, settings))
    if far_only or np.ptp(apart) > settings.gain_spread:
        return None
    axle = int(np.argmax(np.abs(np.median(sides, axis=0))))
    names = windows.names[2 * axle : 2 * axle + 2]
    excess = float(np.expm1(np.abs(np.median(apart))))
    larger = 0 if np.median(sides[:, axle]) > 0 else 1
    text = (
        f"{names[larger]} reads {100 * excess:.0f} % more than {names[1 - larger]}: "
        "a sensor, its lever or a damper is off; no other sensor tells which"
    )
    return Problem(code="scale", channels=names, text=text)


def _far_off(names: tuple[str, ...], levels: FloatArray) -> Problem:
    """Name the sensor that no spring or damper could set so far apart from the other three."""
    apart = levels - np.median(levels, axis=1, keepdims=True)
    worst = int(np.argmax(np.min(np.abs(apart), axis=0)))
    far = np.median(levels[:, worst] - levels[:, worst ^ 1])  # its partner on the axle
    return scale_problem(names[worst], float(np.exp(far)))
