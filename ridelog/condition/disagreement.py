"""Sensors checked against each other by the car's kinematics, and mended."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np
from scipy import fft

from ridelog.car.description import Car
from ridelog.condition.corner_pairs import settled_exchange, with_exchanged
from ridelog.condition.fault_words import CLOSE_RUNNER_UP, fault_problem, leftover_notes
from ridelog.condition.identity import COLUMNS, identity_rows
from ridelog.condition.signals import KINDS, Checked, Signals
from ridelog.condition.spectra import cross_spectra
from ridelog.condition.verdict import Verdict, corrected, next_faults
from ridelog.condition.witness import WitnessSettings
from ridelog.recording import FloatArray, Problem

MOST_FAULTS = 4  # a log with more is not worth mending


def check_identity(
    signals: Signals, car: Car, trusted: Collection[str], settings: WitnessSettings | None = None
) -> Checked:
    """Find wrong signs, exchanged channels, wrong gains and delays by the car's kinematics.

    Parameters
    ----------
    signals : Signals
        The log on its even base, after the checks of single channels.
    car : Car
        The car; uses levers and tracks.
    trusted : collection of str
        Channels that no earlier check has given up.

    Returns
    -------
    Checked
        Signals with signs, exchanges and delays mended; a wrong gain is reported and left.

    Notes
    -----
    After a fault is found it is corrected and the search repeated, so that a second one is seen.
    """
    settings = settings or WitnessSettings()
    names = tuple(name for name in COLUMNS if name in signals.channels and name in trusted)
    rows = _rows(car, names)
    if len(rows) == 0:
        return Checked(signals=signals)
    spectra = cross_spectra(signals, names)
    if spectra is None:
        note = "the sensors were not checked against each other: too little sound log in one piece"
        return Checked(signals=signals, notes=(note,))
    problems: list[Problem] = []
    for _ in range(MOST_FAULTS):
        verdicts, none = next_faults(spectra, rows, settings)
        if not verdicts:
            break
        for found in verdicts:
            problem, verdict = _settled(signals, found, trusted)
            problems.append(problem)
            signals = _mended(signals, verdict)
            spectra = corrected(spectra, verdict)
    notes = leftover_notes(car, names, none, bool(problems), settings)
    return Checked(signals=signals, problems=tuple(problems), notes=notes)


def _settled(
    signals: Signals, verdict: Verdict, trusted: Collection[str]
) -> tuple[Problem, Verdict]:
    """Word a verdict; where left and right of either axle would do, ask the other sensors."""
    problem = fault_problem(verdict)
    if problem.code != "swapped" or verdict.lead > CLOSE_RUNNER_UP:
        return problem, verdict
    problem = settled_exchange(signals, problem, trusted)
    return problem, replace(verdict, names=problem.channels)


def covered(car: Car, kind: str, trusted: Collection[str]) -> bool:
    """Tell whether exact identities bind the sensors of a kind that are present.

    Parameters
    ----------
    car : Car
        The car.
    kind : str
        ``travel``, ``body`` or ``hub``.
    trusted : collection of str
        Channels present and not given up.
    """
    rows = identity_rows(car, trusted)
    columns = [COLUMNS.index(name) for name in KINDS[kind] if name in trusted]
    return bool(np.any(rows[:, columns] != 0)) if len(rows) else False


def _rows(car: Car, names: tuple[str, ...]) -> FloatArray:
    rows = identity_rows(car, names)
    return rows[:, [COLUMNS.index(name) for name in names]]


def shifted(values: FloatArray, rate_hz: float, delay_s: float) -> FloatArray:
    """Return a signal moved earlier by a delay [s], ends held."""
    margin = int(np.ceil(abs(delay_s) * rate_hz)) + 64
    level = float(values.mean())
    length = fft.next_fast_len(len(values) + 2 * margin, real=True)
    padded = np.pad(values - level, (margin, length - len(values) - margin), mode="edge")
    spectrum = fft.rfft(padded)
    spectrum *= np.exp(2j * np.pi * fft.rfftfreq(length, 1.0 / rate_hz) * delay_s)
    return np.asarray(fft.irfft(spectrum, length)[margin : margin + len(values)] + level)


def _mended(signals: Signals, verdict: Verdict) -> Signals:
    fault = verdict.fit.fault
    if fault.code == "swapped":
        return with_exchanged(signals, verdict.names)
    for each in verdict.names:
        wrong = signals.channels[each]
        if fault.code == "sign":
            signals = signals.with_channel(each, -wrong)
        elif fault.code == "late":
            moved = shifted(wrong, signals.sample_rate_hz, verdict.delay_s)
            signals = signals.with_channel(each, moved)
    return signals
