"""Sensors bear witness against each other: the one fault that makes all of them agree.

Every way in which one channel can be wrong (sign, gain, delay) or two exchanged is tried; with
each, all gains and delays are fitted within what sound sensors are allowed. The fault that leaves
the least disagreement is the verdict, if it leaves much less than no fault does.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ridelog.condition.signals import KINDS, kind_of
from ridelog.condition.spectra import ComplexArray, CrossSpectra
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class WitnessSettings:
    """What sound sensors may do, and when a fault is called.

    One standard deviation: `gain_tolerance`, `delay_tolerance_s` of one channel and
    `common_delay_s` shared by a kind (the accelerometers' own filter). `term_tolerance` covers what
    the identity leaves out (tilt, flex), relative to its terms; `acceleration_noise` is the density
    of a cheap accelerometer [(m/s2)^2/Hz]. A fault is called if it lowers the disagreement by
    `least_fall`, its gain is off by `least_gain` or its delay by `least_delay_s`, and the rest
    agrees to `most_left` per frequency and row (1 is what noise alone leaves). A body that twists
    breaks the rigid-body row; a fault that row alone shows (its fall in the other rows is less than
    `least_support`) is not believed. Each fault gets one pass of the fit, the `finalists` get
    `passes`.
    """

    gain_tolerance: float = 0.015
    delay_tolerance_s: float = 0.0008
    common_delay_s: float = 0.0012
    term_tolerance: float = 0.03
    acceleration_noise: float = 1e-5
    free_gain: float = 1.5
    free_delay_s: float = 0.2
    longest_delay_s: float = 0.15
    least_fall: float = 25.0
    least_gain: float = 0.10
    least_delay_s: float = 0.005
    most_left: float = 1.1
    least_support: float = 3.0
    passes: int = 3
    finalists: int = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One way to be wrong. `code` is a problem code or ``none``.

    `names` are one channel, two exchanged ones, or all of a kind that are wrong alike.
    """

    code: str
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """How well the sensors agree if one fault is granted.

    `disagreement` is the fitted misfit plus what the gains and delays cost; `per_term` the misfit
    per frequency and row. `gain` (true over recorded) and `delay_s` (positive: recorded late) hold
    every channel's correction.
    """

    fault: Fault
    disagreement: float
    per_term: float
    gain: FloatArray
    delay_s: FloatArray


def possible_faults(names: tuple[str, ...], involved: FloatArray) -> tuple[Fault, ...]:
    """List every single fault the rows could show; `involved` marks channels with an identity."""
    present = [name for name, used in zip(names, involved, strict=True) if used]
    singles = [Fault(code=c, names=(n,)) for n in present for c in ("sign", "scale", "late")]
    pairs = [
        Fault(code="swapped", names=pair)
        for kind in KINDS.values()
        for pair in combinations([n for n in names if n in kind], 2)
        if pair[0] in present or pair[1] in present
    ]
    # a convention the other way round, or a card that buffers longer, hits a whole kind
    kinds = [tuple(n for n in present if n in kind) for kind in KINDS.values()]
    wholes = [
        Fault(code=code, names=kind)
        for kind in kinds
        for code in ("sign", "late")
        if 3 <= len(kind) < len(present)
    ]
    return (*singles, *pairs, *wholes)


def fit_fault(
    spectra: CrossSpectra, rows: FloatArray, fault: Fault, settings: WitnessSettings
) -> Fit:
    """Fit all gains and delays under one fault.

    Parameters
    ----------
    spectra : CrossSpectra
        Cross-spectra [(m/s2)^2/Hz] of the channels.
    rows : float array, shape (rows, channels)
        Combinations that must vanish.
    fault : Fault
        What is granted to be wrong.

    Returns
    -------
    Fit

    Notes
    -----
    The misfit is quadratic in small gain and delay corrections, so each pass is one linear solve;
    passes repeat because a delay turns the phase. A late channel starts from the best of a scan.

    References
    ----------
    Derived here.
    """
    state = spectra.density
    if fault.code == "sign":  # the same, and cheaper, done to what multiplies the channels
        rows = rows * np.where(np.isin(spectra.names, fault.names), -1.0, 1.0)
    else:
        state = put_right(state, spectra.names, fault)
    omega = 2 * np.pi * spectra.frequency_hz
    products = _products(rows)
    priors = _precisions(spectra.names, fault, settings)
    gain = np.ones(len(spectra.names))
    delay = np.zeros(len(spectra.names))
    if fault.code in ("scale", "late"):
        suspect = [spectra.names.index(name) for name in fault.names]
        couple = _couple(state, _weights(state, spectra.noise, rows, settings), products)
        if fault.code == "late":
            delay[suspect] = _scan_delay(couple, suspect, omega, settings)
        else:
            gain[suspect] = _best_gain(couple, suspect[0])
    for _ in range(settings.passes):
        turned = _turned(state, gain, delay, omega)
        weight = _weights(state, spectra.noise, rows, settings, gain)
        gain_step, delay_step = _solve(
            _couple(turned, weight, products), omega, priors, np.log(gain), delay
        )
        gain = gain * np.exp(np.clip(gain_step, -0.7, 0.7))
        delay = delay + np.clip(delay_step, -0.02, 0.02)
    weight = _weights(state, spectra.noise, rows, settings, gain)
    left = float(np.sum(weight * _left_in_rows(state, gain, delay, omega, rows)))
    cost = float(np.dot(priors[0], np.log(gain) ** 2) + delay @ priors[1] @ delay)
    return Fit(
        fault=fault,
        disagreement=left + cost,
        per_term=left / weight.size,
        gain=gain,
        delay_s=delay,
    )


def _products(rows: FloatArray) -> FloatArray:
    return (rows[:, :, None] * rows[:, None, :]).reshape(len(rows), -1)


def _turned(
    density: ComplexArray, gain: FloatArray, delay_s: FloatArray, omega: FloatArray
) -> ComplexArray:
    """Cross-spectra of the channels with gains and delays put right."""
    if np.any(delay_s):
        turn = _turn(gain, delay_s, omega)
        return np.asarray(turn.conj()[:, :, None] * density * turn[:, None, :])
    return density if np.all(gain == 1) else np.asarray(density * np.outer(gain, gain))


def _turn(gain: FloatArray, delay_s: FloatArray, omega: FloatArray) -> ComplexArray:
    """What puts a channel's gain and delay right, shape (frequencies, channels)."""
    return np.asarray(gain * np.exp(1j * np.outer(omega, delay_s)))


def _left_in_rows(
    density: ComplexArray,
    gain: FloatArray,
    delay_s: FloatArray,
    omega: FloatArray,
    rows: FloatArray,
) -> FloatArray:
    """Power that each row leaves with gains and delays put right, shape (frequencies, rows)."""
    turned = _turn(gain, delay_s, omega)[:, :, None] * rows.T
    return np.asarray(np.sum((turned.conj() * (density @ turned)).real, axis=1))


def _couple(density: ComplexArray, weight: FloatArray, products: FloatArray) -> ComplexArray:
    """Return what each pair of channels adds to the misfit at each frequency."""
    return density * (weight @ products).reshape(density.shape)


def put_right(density: ComplexArray, names: tuple[str, ...], fault: Fault) -> ComplexArray:
    """Return cross-spectra with a turned sensor turned back, or two exchanged ones put back.

    Parameters
    ----------
    density : ndarray
        Cross-spectra [(m/s2)^2/Hz], shape (frequencies, channels, channels).
    names : tuple of str
        The channels.
    fault : Fault
        What is granted to be wrong; other faults change nothing.
    """
    where = [names.index(name) for name in fault.names]
    if fault.code == "sign":
        flip = np.ones(len(names))
        flip[where] = -1.0
        return np.asarray(density * flip[:, None] * flip)
    if fault.code == "swapped":
        order = np.arange(len(names))
        order[where] = where[::-1]
        return density[:, order[:, None], order]
    return density


def _precisions(
    names: tuple[str, ...], fault: Fault, settings: WitnessSettings
) -> tuple[FloatArray, FloatArray]:
    """Prior precisions of log gains, shape (c,), and of delays, shape (c, c)."""
    gain_sd = np.full(len(names), settings.gain_tolerance)
    kinds = np.array([kind_of(name) for name in names])
    covariance = (kinds[:, None] == kinds) * settings.common_delay_s**2
    covariance = covariance + np.eye(len(names)) * settings.delay_tolerance_s**2
    if fault.code == "scale":
        gain_sd[names.index(fault.names[0])] = settings.free_gain
    if fault.code == "late":
        where = [names.index(name) for name in fault.names]
        covariance[np.ix_(where, where)] += settings.free_delay_s**2
    return gain_sd**-2.0, np.linalg.inv(covariance)


def _weights(
    density: ComplexArray,
    noise: FloatArray,
    rows: FloatArray,
    settings: WitnessSettings,
    gain: FloatArray | float = 1.0,
) -> FloatArray:
    """One over the power each row may leave, shape (frequencies, rows)."""
    power = np.real(np.einsum("fcc->fc", density)) * settings.term_tolerance**2
    allowed = (power + noise) * np.square(gain) + settings.acceleration_noise
    return np.asarray(1.0 / (allowed @ (rows**2).T))


def _solve(
    couple: ComplexArray,
    omega: FloatArray,
    priors: tuple[FloatArray, FloatArray],
    log_gain: FloatArray,
    delay_s: FloatArray,
) -> tuple[FloatArray, FloatArray]:
    """Return steps of log gain and delay that least disagree, given prior precisions of both."""
    count = len(log_gain)
    pairs = couple.reshape(len(omega), -1).view(np.float64)  # real and imaginary parts in turn
    sums = (omega ** np.arange(3)[:, None]) @ pairs
    by_power = sums.view(np.complex128).reshape(3, count, count)
    plain, twice = by_power[0].real, by_power[2].real
    once = -by_power[1].imag  # gain row, delay column
    matrix = np.empty((2 * count, 2 * count))
    matrix[:count, :count] = plain + np.diag(priors[0])
    matrix[:count, count:] = once
    matrix[count:, :count] = once.T
    matrix[count:, count:] = twice + priors[1]
    gain_pull = plain.sum(axis=1) + priors[0] * log_gain
    delay_pull = once.sum(axis=0) + priors[1] @ delay_s
    step = np.linalg.solve(matrix, -np.concatenate([gain_pull, delay_pull]))
    return step[:count], step[count:]


def _scan_delay(
    couple: ComplexArray, suspect: list[int], omega: FloatArray, settings: WitnessSettings
) -> float:
    """Delay of the suspects that best fits the others as they are [s]."""
    grid = np.arange(-settings.longest_delay_s, settings.longest_delay_s, 0.001)
    others = [index for index in range(couple.shape[1]) if index not in suspect]
    cross = couple[:, :, suspect].sum(axis=2)[:, others].sum(axis=1)
    # Every delay is a coarse step and a fine one: few turns to work out, many products.
    fine = grid[: int(np.sqrt(len(grid)))]
    coarse = grid[:: len(fine)] - grid[0]
    turned = np.exp(1j * np.outer(coarse, omega)) * cross
    misfit = np.real(turned @ np.exp(1j * np.outer(omega, fine))).ravel()[: len(grid)]
    return float(grid[np.argmin(misfit)])


def _best_gain(couple: ComplexArray, suspect: int) -> float:
    """Gain of one channel that best fits the others as they are."""
    own = float(couple[:, suspect, suspect].real.sum())
    cross = float(couple[:, :, suspect].real.sum()) - own
    return float(np.clip(-cross / own, 0.02, 50.0)) if own > 0 else 1.0
