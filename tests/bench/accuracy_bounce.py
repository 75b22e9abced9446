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
CARS = 12
SEED = 7


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


def line(name, errors, inside, unit):
    spread, middle = np.sqrt(np.mean(errors**2)), np.median(np.abs(errors))
    covered = f"{100 * np.mean(inside):5.0f} %" if len(inside) else "      -"
    return (
        f"{name:24s} {len(errors):5d} {spread:8.2f} {middle:8.2f} {errors.mean():8.2f} "
        f"{unit:3s} {covered}"
    )


@pytest.mark.bench
def test_accuracy_of_bounce_tests():
    errors = {name: [] for name in QUANTITIES}
    inside = {name: [] for name in QUANTITIES}
    peaks, seconds, axle_count = [], [], 0
    for log in cached_fleet("bounce", seed=SEED, count=CARS):
        prepared = prepare(log.recording(), log.car)
        start = time.process_time()
        axles, curves, _ = bounce_results(prepared.recording, log.car)
        seconds.append(time.process_time() - start)
        for axle in AXLES:
            axle_count += 1
            truth = log.truth.axles[axle]
            for name in QUANTITIES:
                estimate, true = getattr(axles[axle], name), getattr(truth, name)
                if estimate is not None:
                    scale = 1.0 if name == "friction_n" else 100 / true
                    errors[name].append((estimate.value - true) * scale)
                    inside[name].append(estimate.low <= true <= estimate.high)
            read = [decrement_by_peaks(c) for c in curves if c.place == axle]
            read = [pair for pair in read if pair is not None]
            if read:
                frequency, ratio = np.median(read, axis=0)
                peaks.append(
                    (frequency / truth.body_frequency_hz - 1, ratio / truth.damping_ratio - 1)
                )
    table = [f"{axle_count} axles        told     rms   median     bias     95 % holds"]
    for name in QUANTITIES:
        unit = "N" if name == "friction_n" else "%"
        table.append(line(name, np.array(errors[name]), inside[name], unit))
    by_peaks = 100 * np.array(peaks)
    table.append(line("frequency by peaks", by_peaks[:, 0], (), "%"))
    table.append(line("damping by peaks", by_peaks[:, 1], (), "%"))
    print("\n" + "\n".join(table))  # noqa: T201
    print(f"processor time per log: {np.mean(seconds):.1f} s")  # noqa: T201
    assert np.median(np.abs(errors["damping_ratio"])) < np.median(np.abs(by_peaks[:, 1]))
