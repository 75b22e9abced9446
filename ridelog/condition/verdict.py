"""The fault, or the pair of faults, that makes all sensors agree."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.condition.signals import siblings_of
from ridelog.condition.spectra import CrossSpectra
from ridelog.condition.witness import (
    Fault,
    Fit,
    WitnessSettings,
    fit_fault,
    possible_faults,
    put_right,
)
from ridelog.recording import BoolArray, FloatArray

FIRST_GUESSES = 4  # single faults from which a pair of faults is sought


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """A fault called by the sensors: its fit, the runner-up, and how far it is off.

    `names` are the channels to mend: the fit's own, or their like on the other axle.
    """

    fit: Fit
    names: tuple[str, ...]
    runner_up: Fault
    lead: float
    gain: float
    delay_s: float


def next_faults(
    spectra: CrossSpectra, rows: FloatArray, settings: WitnessSettings
) -> tuple[tuple[Verdict, ...], Fit]:
    """Return the faults to mend next, and how the sensors agree without any.

    Parameters
    ----------
    spectra : CrossSpectra
        Cross-spectra of the channels as mended so far.
    rows : float array, shape (rows, channels)
        Combinations that must vanish.

    Returns
    -------
    tuple
        One verdict, or two where only a pair of faults explains the disagreement, or none; and the
        fit with no fault granted.

    Notes
    -----
    A single fault that explains everything goes before any pair. The rigid-body row is dropped
    where the sensors agree without it, or where nothing explains the disagreement with it.
    """
    for find in (_single, _pair):
        for held in _row_sets(rows, spectra.names):
            none = fit_fault(spectra, held, Fault(code="none"), settings)
            if none.per_term > settings.most_left and _twists(spectra, held, settings):
                continue
            verdicts = find(spectra, held, none, settings)
            if verdicts or none.per_term < settings.most_left:
                return verdicts, none
    return (), none


def _row_sets(rows: FloatArray, names: tuple[str, ...]) -> tuple[FloatArray, ...]:
    twist = _twist_row(rows, names)
    return (rows, rows[~twist]) if twist.any() else (rows,)


def _twist_row(rows: FloatArray, names: tuple[str, ...]) -> BoolArray:
    """Mark the row of body sensors alone, which a twisting body breaks, if there are others."""
    others = [index for index, name in enumerate(names) if not name.startswith("body_")]
    corner = np.any(rows[:, others] != 0, axis=1)
    return ~corner if corner.any() else np.zeros(len(rows), dtype=bool)


def _twists(spectra: CrossSpectra, rows: FloatArray, settings: WitnessSettings) -> bool:
    """Tell whether the sensors agree once the body is allowed to twist."""
    twist = _twist_row(rows, spectra.names)
    if not twist.any():
        return False
    none = fit_fault(spectra, rows[~twist], Fault(code="none"), settings)
    return none.per_term < settings.most_left


def _supported(
    spectra: CrossSpectra, rows: FloatArray, fault: Fault, settings: WitnessSettings
) -> bool:
    """Tell whether a fault shows in more than the row that a twisting body breaks."""
    twist = _twist_row(rows, spectra.names)
    if not twist.any():
        return True
    none = fit_fault(spectra, rows[~twist], Fault(code="none"), settings)
    granted = fit_fault(spectra, rows[~twist], fault, settings)
    return none.disagreement - granted.disagreement > settings.least_support


def _single(
    spectra: CrossSpectra, rows: FloatArray, none: Fit, settings: WitnessSettings
) -> tuple[Verdict, ...]:
    ranked = _ranked(spectra, rows, none, settings)
    if not ranked or ranked[0].fit.per_term > settings.most_left:
        return ()
    best = ranked[0]
    believed = _enough(best, settings) and _supported(spectra, rows, best.fit.fault, settings)
    return (best,) if believed else ()


def _pair(
    spectra: CrossSpectra, rows: FloatArray, none: Fit, settings: WitnessSettings
) -> tuple[Verdict, ...]:
    """Two faults at once: grant each of the likeliest singles, look for a second one."""
    found: list[tuple[float, Verdict, Verdict]] = []
    for first in _ranked(spectra, rows, none, settings)[:FIRST_GUESSES]:
        if not _enough(first, settings):
            continue
        granted = corrected(spectra, first)
        left = fit_fault(granted, rows, Fault(code="none"), settings)
        for second in _ranked(granted, rows, left, settings)[:1]:
            if _enough(second, settings) and second.fit.per_term < settings.most_left:
                found.append((second.fit.disagreement, first, second))
    if not found:
        return ()
    _, first, second = min(found, key=lambda entry: entry[0])
    return first, second


def _ranked(
    spectra: CrossSpectra, rows: FloatArray, none: Fit, settings: WitnessSettings
) -> list[Verdict]:
    """Single faults that lower the disagreement enough, likeliest first."""
    faults = possible_faults(spectra.names, np.any(rows != 0, axis=0))
    rough = replace(settings, passes=1)
    tried = [fit_fault(spectra, rows, fault, rough) for fault in faults]
    tried = sorted(tried, key=lambda fit: fit.disagreement)[: settings.finalists]
    fits = [fit_fault(spectra, rows, fit.fault, settings) for fit in tried]
    fits = sorted(fits, key=lambda fit: fit.disagreement)
    return [
        _verdict(spectra.names, fit, fits[0 if rank else 1])
        for rank, fit in enumerate(fits)
        if len(fits) > 1 and none.disagreement - fit.disagreement > settings.least_fall
    ]


def _verdict(names: tuple[str, ...], fit: Fit, rival: Fit) -> Verdict:
    suspect = fit.fault.names[0]
    index = names.index(suspect)
    siblings = [names.index(n) for n in siblings_of(suspect, names) if n not in fit.fault.names]
    common = float(np.median(fit.delay_s[siblings])) if siblings else 0.0
    own = float(np.median(fit.delay_s[[names.index(name) for name in fit.fault.names]]))
    return Verdict(
        fit=fit,
        names=fit.fault.names,
        runner_up=rival.fault,
        lead=rival.disagreement - fit.disagreement,
        gain=float(fit.gain[index]),
        delay_s=own - common,
    )


def _enough(verdict: Verdict, settings: WitnessSettings) -> bool:
    """Tell whether a gain or delay is off by more than sound sensors may be."""
    if verdict.fit.fault.code == "scale":
        return abs(float(np.log(verdict.gain))) > float(np.log1p(settings.least_gain))
    if verdict.fit.fault.code == "late":
        return abs(verdict.delay_s) > settings.least_delay_s
    return True


def corrected(spectra: CrossSpectra, verdict: Verdict) -> CrossSpectra:
    """Return the spectra of the mended signals, a wrong gain put right too."""
    fault = verdict.fit.fault
    where = [spectra.names.index(name) for name in verdict.names]
    turn = np.ones((len(spectra.frequency_hz), len(spectra.names)), dtype=np.complex128)
    if fault.code == "swapped":
        granted = replace(fault, names=verdict.names)
        noise = spectra.noise.copy()
        noise[:, where] = noise[:, where[::-1]]
        density = put_right(spectra.density, spectra.names, granted)
        return replace(spectra, density=density, noise=noise)
    if fault.code == "sign":
        turn[:, where] = -1.0
    elif fault.code == "scale":
        turn[:, where] = verdict.gain
    else:
        turn[:, where] = np.exp(2j * np.pi * spectra.frequency_hz * verdict.delay_s)[:, None]
    density = turn.conj()[:, :, None] * spectra.density * turn[:, None, :]
    return replace(spectra, density=density, noise=spectra.noise * np.abs(turn) ** 2)
