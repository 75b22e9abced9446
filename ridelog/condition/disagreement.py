"""From the sensors' disagreement to named faults, one after the other."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

import numpy as np
from scipy import fft

from ridelog.car.description import Car
from ridelog.condition.identity import COLUMNS, identity_rows
from ridelog.condition.signals import KINDS, Checked, Signals, siblings_of
from ridelog.condition.spectra import CrossSpectra, cross_spectra
from ridelog.condition.witness import Fault, Fit, WitnessSettings, fit_fault, possible_faults
from ridelog.recording import CORNERS_OF_AXLE, BoolArray, FloatArray, Problem

MOST_FAULTS = 4  # a log with more is not worth mending
CLOSE_RUNNER_UP = 5.0  # fall in disagreement below which the second guess is named too
AXLE_GAIN = 0.06  # both travels of an axle off alike by this much: the motion ratio is in question


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Verdict:
    """A fault called by the sensors: its fit, the runner-up, and how far it is off."""

    fit: Fit
    runner_up: Fault
    lead: float
    gain: float
    delay_s: float


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
        none = fit_fault(spectra, rows, Fault(code="none"), settings)
        verdict = _verdict(spectra, rows, none, settings)
        twist = _twist_row(rows, names)
        if verdict is None and none.per_term > settings.most_left and twist.any():
            rows = rows[~twist]
            continue
        if verdict is None:
            break
        problems.append(_problem(verdict))
        signals = _mended(signals, verdict)
        spectra = _corrected(spectra, verdict)
    notes = _leftover_notes(car, names, none, bool(problems), settings)
    return Checked(signals=signals, problems=tuple(problems), notes=notes)


def _twist_row(rows: FloatArray, names: tuple[str, ...]) -> BoolArray:
    """Mark the row of body sensors alone, which a twisting body breaks, if there are others."""
    others = [index for index, name in enumerate(names) if not name.startswith("body_")]
    corner = np.any(rows[:, others] != 0, axis=1)
    return ~corner if corner.any() else np.zeros(len(rows), dtype=bool)


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


def _verdict(
    spectra: CrossSpectra, rows: FloatArray, none: Fit, settings: WitnessSettings
) -> Verdict | None:
    involved = np.any(rows != 0, axis=0)
    fits = [
        fit_fault(spectra, rows, fault, settings)
        for fault in possible_faults(spectra.names, involved)
    ]
    if len(fits) < 2:
        return None
    best, second = sorted(fits, key=lambda fit: fit.disagreement)[:2]
    fall = none.disagreement - best.disagreement
    index = spectra.names.index(best.fault.names[0])
    siblings = [spectra.names.index(n) for n in siblings_of(best.fault.names[0], spectra.names)]
    common = float(np.median(best.delay_s[siblings])) if siblings else 0.0
    verdict = Verdict(
        fit=best,
        runner_up=second.fault,
        lead=second.disagreement - best.disagreement,
        gain=float(best.gain[index]),
        delay_s=float(best.delay_s[index]) - common,
    )
    enough = {
        "scale": abs(np.log(verdict.gain)) > np.log1p(settings.least_gain),
        "late": abs(verdict.delay_s) > settings.least_delay_s,
    }.get(best.fault.code, True)
    called = fall > settings.least_fall and enough and best.per_term < settings.most_left
    return verdict if called and _supported(spectra, rows, best.fault, settings) else None


def _problem(verdict: Verdict) -> Problem:
    fault = verdict.fit.fault
    name = fault.names[0]
    doubt = ""
    if verdict.lead < CLOSE_RUNNER_UP and verdict.runner_up.names != fault.names:
        doubt = f"; {' and '.join(verdict.runner_up.names)} could be meant as well, check both"
    if fault.code == "swapped":
        text = f"{name} and {fault.names[1]} are exchanged; put back for the analysis{doubt}"
        return Problem(code="swapped", channels=fault.names, text=text, mended=True)
    if fault.code == "scale":
        return scale_problem(name, 1.0 / verdict.gain, doubt)
    if fault.code == "late":
        side = "lags behind" if verdict.delay_s > 0 else "runs ahead of"
        text = f"{name} {side} the other sensors by {1000 * abs(verdict.delay_s):.0f} ms"
        text = f"{text}; shifted for the analysis{doubt}"
    else:
        text = f"{name} moves the wrong way round; turned over for the analysis{doubt}"
    return Problem(code=fault.code, channel=name, text=text, mended=True)


def scale_problem(name: str, reads_ratio: float, doubt: str = "") -> Problem:
    """Word a wrong gain, as a wrong unit where the ratio is that of two units."""
    ratios = {25.4: "in", 1 / 25.4: "in", 10.0: "cm", 0.1: "cm", 1000.0: "m", 0.001: "m"}
    if not name.startswith("travel_"):
        ratios = {9.80665: "m/s2", 1 / 9.80665: "g"}
    for ratio, unit in ratios.items():
        if abs(np.log(reads_ratio / ratio)) < 0.15:
            text = f"{name} reads {reads_ratio:.3g} times what the other sensors say"
            text = f"{text}: the readings seem to be in another unit ({unit}?)"
            return Problem(code="unit", channel=name, text=text)
    percent = 100 * (reads_ratio - 1)
    side = "more" if percent > 0 else "less"
    text = (
        f"{name} reads {abs(percent):.0f} % {side} than the other sensors say; calibrate it{doubt}"
    )
    return Problem(code="scale", channel=name, text=text)


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
    name = fault.names[0]
    values = signals.channels[name]
    if fault.code == "sign":
        return signals.with_channel(name, -values)
    if fault.code == "late":
        moved = shifted(values, signals.sample_rate_hz, verdict.delay_s)
        return signals.with_channel(name, moved)
    if fault.code == "swapped":
        other = fault.names[1]
        return signals.with_channel(name, signals.channels[other]).with_channel(other, values)
    return signals


def _corrected(spectra: CrossSpectra, verdict: Verdict) -> CrossSpectra:
    """Return the spectra of the mended signals, a wrong gain put right too."""
    fault = verdict.fit.fault
    where = [spectra.names.index(name) for name in fault.names]
    turn = np.ones((len(spectra.frequency_hz), len(spectra.names)), dtype=np.complex128)
    if fault.code == "swapped":
        order = np.arange(len(spectra.names))
        order[where] = where[::-1]
        density = spectra.density[:, order][:, :, order]
        return replace(spectra, density=density, noise=spectra.noise[:, order])
    if fault.code == "sign":
        turn[:, where] = -1.0
    elif fault.code == "scale":
        turn[:, where] = verdict.gain
    else:
        turn[:, where[0]] = np.exp(2j * np.pi * spectra.frequency_hz * verdict.delay_s)
    density = turn.conj()[:, :, None] * spectra.density * turn[:, None, :]
    return replace(spectra, density=density, noise=spectra.noise * np.abs(turn) ** 2)


def _leftover_notes(
    car: Car, names: tuple[str, ...], none: Fit, mended: bool, settings: WitnessSettings
) -> tuple[str, ...]:
    """Say what remains that no single fault explains."""
    notes = []
    if none.per_term > settings.most_left and not mended and any("hub" in name for name in names):
        notes.append("the sensors disagree in a way that no single fault explains")
    for axle, corners in CORNERS_OF_AXLE.items():
        both = [f"travel_{corner}" for corner in corners]
        if not all(name in names for name in both):
            continue
        logs = np.log(none.gain[[names.index(name) for name in both]])
        if np.all(np.abs(logs) > AXLE_GAIN) and logs[0] * logs[1] > 0:
            percent = 100 * abs(float(np.expm1(-logs.mean())))
            notes.append(
                f"both {axle} travel sensors are off by about {percent:.0f} % alike: "
                f"check the {axle} motion ratio in the car file ({car.axle(axle).motion_ratio:g})"
            )
    return tuple(notes)
