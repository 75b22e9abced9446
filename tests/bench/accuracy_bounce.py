"""Print how well bounce tests of random cars are measured, beside the usual peak ratio.

Run: ``python -m pytest tests/bench/accuracy_bounce.py -s -m bench``. Seeds below 100 were never
used to choose a setting.
"""

from __future__ import annotations

import time

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.estimate.free_decay import bounce_results
from ridelog.estimate.log_decrement import log_decrement
from ridelog.recording import AXLES
from tests.bench.fleet_cache import cached_fleet

QUANTITIES = (
    "body_frequency_hz",
    "damping_ratio",
    "damping_ratio_bump",
    "damping_ratio_rebound",
    "friction_n",
)
SEEDS = (11, 12, 13)
CARS = 12


def decrement_by_peaks(curve):
    """Frequency and damping ratio from the peaks of one decay, as is common; None without two."""
    signal = np.convolve(curve.measured_m_per_s2, np.ones(7) / 7, mode="same")
    inner = signal[1:-1]
    top = (np.abs(inner) >= np.abs(signal[:-2])) & (np.abs(inner) > np.abs(signal[2:]))
    peaks = [i + 1 for i in np.flatnonzero(top) if abs(inner[i]) > 0.06]
    peaks = [b for a, b in zip([None, *peaks], peaks, strict=False) if a is None or b - a > 15]
    if len(peaks) < 2 or signal[peaks[0]] * signal[peaks[1]] >= 0:
        return None
    if abs(signal[peaks[1]]) >= abs(signal[peaks[0]]):
        return None
    ratio = log_decrement(signal[peaks[:2]], half_cycles=True).damping_ratio
    half_s = curve.time_s[peaks[1]] - curve.time_s[peaks[0]]
    return 0.5 / half_s / np.sqrt(1 - ratio**2), ratio


def errors_by_peaks(curves, axle, truth):
    """Relative errors of the median over one axle's decays, or nothing."""
    read = [decrement_by_peaks(c) for c in curves if c.place == axle]
    read = [pair for pair in read if pair is not None]
    if not read:
        return []
    frequency, ratio = np.median(read, axis=0)
    return [(frequency / truth.body_frequency_hz - 1, ratio / truth.damping_ratio - 1)]


def line(name, errors, unit, inside=(), half_widths=()):
    spread, middle = np.sqrt(np.mean(errors**2)), np.median(np.abs(errors))
    covered = f"{100 * np.mean(inside):5.0f} %" if len(inside) else "      -"
    # 1 where intervals are as wide as the errors ask for, above where wider.
    wide = np.sqrt(np.mean((half_widths / 1.96) ** 2)) / spread if len(half_widths) else np.nan
    return (
        f"{name:24s} {len(errors):5d} {spread:8.2f} {middle:8.2f} {errors.mean():8.2f} "
        f"{unit:3s} {covered} {wide:8.2f}"
    )


def measured_fleets():
    """Errors and whether the interval holds, by quantity; errors by peaks; seconds per log."""
    found = {name: [] for name in QUANTITIES}
    peaks, seconds = [], []
    for log in (log for seed in SEEDS for log in cached_fleet("bounce", seed=seed, count=CARS)):
        prepared = prepare(log.recording(), log.car)
        start = time.process_time()
        axles, curves, _ = bounce_results(prepared.recording, log.car)
        seconds.append(time.process_time() - start)
        for axle, name in ((axle, name) for axle in AXLES for name in QUANTITIES):
            estimate, true = getattr(axles[axle], name), getattr(log.truth.axles[axle], name)
            if estimate is not None:
                scale = 1.0 if name == "friction_n" else 100 / true
                held = estimate.low <= true <= estimate.high
                half = (estimate.high - estimate.low) / 2
                found[name].append(((estimate.value - true) * scale, held, half * scale))
        for axle in AXLES:
            peaks += errors_by_peaks(curves, axle, log.truth.axles[axle])
    return {name: np.array(pairs) for name, pairs in found.items()}, 100 * np.array(peaks), seconds


@pytest.mark.bench
def test_accuracy_of_bounce_tests():
    found, peaks, seconds = measured_fleets()
    axle_count = len(AXLES) * len(SEEDS) * CARS
    table = [
        f"{axle_count:4d} axles            told      rms   median     bias     95 % held  width"
    ]
    for name, pairs in found.items():
        unit = "N" if name == "friction_n" else "%"
        table.append(line(name, pairs[:, 0], unit, pairs[:, 1], pairs[:, 2]))
    table.append(line("frequency by peaks", peaks[:, 0], "%"))
    table.append(line("damping by peaks", peaks[:, 1], "%"))
    table.append(f"processor time per log: {np.mean(seconds):.2f} s, at most {max(seconds):.2f} s")
    print("\n" + "\n".join(table))  # noqa: T201
    damping = found["damping_ratio"]
    assert np.median(np.abs(damping[:, 0])) < np.median(np.abs(peaks[:, 1]))
