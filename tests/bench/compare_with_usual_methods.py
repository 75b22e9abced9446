"""Print the estimators beside what people usually do, on the same logs.

Run ``python -m tests.bench.compare_with_usual_methods [--cars N] [--seed S]``. Output-only modal
analysis needs the general-purpose library pyoma-2, which only this benchmark uses: where it is not
installed its row says so. Its poles are picked in its favour: of all stable ones the nearest to
the truth.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import logging
import sys
from importlib.util import find_spec

import numpy as np
from scipy import signal

from ridelog.condition.prepare import prepare
from ridelog.errors import SignalError
from ridelog.estimate.balance.drive_balance import drive_balance
from ridelog.estimate.balance.results import balance_results
from ridelog.estimate.free_decay import bounce_results
from ridelog.estimate.half_power import half_power
from ridelog.estimate.log_decrement import log_decrement
from ridelog.estimate.spectral_fit import two_body_results
from ridelog.recording import AXLES, BODY_CHANNELS, CORNERS_OF_AXLE, Step
from tests.bench.fleet_cache import cached_fleet

BAND_HZ = (0.7, 3.5)


def body_of(recording, axle):
    return np.mean([recording.channels[f"body_{c}"] for c in CORNERS_OF_AXLE[axle]], axis=0)


def by_half_power(recording, axle):
    """Welch's spectrum of the body, its highest peak and the width at half power."""
    rate = recording.sample_rate_hz
    frequency, density = signal.welch(body_of(recording, axle), rate, nperseg=round(8 * rate))
    band = (frequency > BAND_HZ[0]) & (frequency < BAND_HZ[1])
    try:
        # displacement falls with the square of the frequency
        found = half_power(frequency[band], np.sqrt(density[band]) / frequency[band] ** 2)
    except SignalError:
        return None
    return found.peak_frequency_hz, found.width_damping_ratio


def by_decrement(curve):
    """Frequency and damping ratio from the first two peaks of one decay."""
    low = signal.butter(2, 8.0, fs=1 / (curve.time_s[1] - curve.time_s[0]), output="sos")
    smooth = signal.sosfiltfilt(low, curve.measured_m_per_s2)
    places, _ = signal.find_peaks(np.abs(smooth), height=0.06, distance=15)
    if len(places) < 2 or smooth[places[0]] * smooth[places[1]] >= 0:
        return None
    try:
        ratio = log_decrement(smooth[places[:2]], half_cycles=True).damping_ratio
    except SignalError:
        return None
    half_s = curve.time_s[places[1]] - curve.time_s[places[0]]
    return 0.5 / half_s / np.sqrt(1 - ratio**2), ratio


def modal_poles(recording):
    """Frequencies and damping ratios of all poles by covariance-driven subspaces."""
    from pyoma2.algorithms import SSI
    from pyoma2.setup import SingleSetup

    rate = recording.sample_rate_hz
    data = np.stack([recording.channels[name] for name in BODY_CHANNELS], axis=1)
    factor = max(1, round(rate / 50))
    data = signal.decimate(data, factor, ftype="fir", axis=0)
    with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
        setup = SingleSetup(data, fs=rate / factor)
        setup.add_algorithms(SSI(name="ssi", method="cov", br=30, ordmax=30))
        setup.run_by_name("ssi")
        result = setup["ssi"].result
    stable = np.asarray(result.Lab) == np.max(result.Lab)
    frequency, ratio = np.asarray(result.Fn_poles), np.asarray(result.Xi_poles)
    keep = stable & np.isfinite(frequency) & (frequency > BAND_HZ[0]) & (frequency < BAND_HZ[1])
    return frequency[keep], ratio[keep]


def nearest(poles, truth_hz):
    frequency, ratio = poles
    if frequency.size == 0:
        return None
    best = int(np.argmin(np.abs(frequency - truth_hz)))
    return float(frequency[best]), float(ratio[best])


def told(result):
    if result.body_frequency_hz is None or result.damping_ratio is None:
        return None
    return result.body_frequency_hz.value, result.damping_ratio.value


def drives(cars, seed):
    """Errors on drives by method."""
    found = {}
    has_modal = find_spec("pyoma2") is not None
    for log in cached_fleet("nonlinear", seed=seed, count=cars):
        recording = prepare(log.recording(), log.car).recording
        balance = balance_results(drive_balance(recording, log.car).fit, log.car).axles
        two = {name: recording.channels[name] for name in ("body_fl", "body_rl")}
        few, _, _ = two_body_results(recording.with_channels(two, Step(name="two")), log.car)
        poles = modal_poles(recording) if has_modal else None
        for axle in AXLES:
            truth = log.truth.axles[axle]
            rows = {
                "force balance, all sensors": told(balance[axle]),
                "spectral fit, two body sensors": told(few[axle]),
                "Welch peak, half-power width": by_half_power(recording, axle),
            }
            if poles is not None:
                rows["output-only modal analysis"] = nearest(poles, truth.body_frequency_hz)
            for method, pair in rows.items():
                found.setdefault(method, []).append((pair, truth))
    if not has_modal:
        found["output-only modal analysis (pyoma-2 not installed)"] = []
    return found


def bounces(cars, seed):
    """Errors on bounce tests by method."""
    found = {}
    for log in cached_fleet("bounce", seed=seed, count=cars):
        recording = prepare(log.recording(), log.car).recording
        axles, curves, _ = bounce_results(recording, log.car)
        for axle in AXLES:
            truth = log.truth.axles[axle]
            read = [by_decrement(curve) for curve in curves if curve.place == axle]
            read = [pair for pair in read if pair is not None]
            pair = tuple(np.median(read, axis=0)) if read else None
            found.setdefault("free decay fit", []).append((told(axles[axle]), truth))
            found.setdefault("logarithmic decrement", []).append((pair, truth))
    return found


def row(method, pairs):
    told_pairs = [(pair, truth) for pair, truth in pairs if pair is not None]
    if not told_pairs:
        return f"| {method} | 0/{len(pairs)} | | | | |"
    errors = 100 * np.array(
        [
            (p[0] / truth.body_frequency_hz - 1, p[1] / truth.damping_ratio - 1)
            for p, truth in told_pairs
        ]
    )
    rms, middle = np.sqrt(np.mean(errors**2, axis=0)), np.median(np.abs(errors), axis=0)
    cells = f"{middle[0]:.2f} | {rms[0]:.2f} | {middle[1]:.1f} | {rms[1]:.1f}"
    return f"| {method} | {len(told_pairs)}/{len(pairs)} | {cells} |"


def main():
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=8)
    parser.add_argument("--seed", type=int, default=21)
    chosen = parser.parse_args()
    logging.disable(logging.WARNING)
    say = sys.stdout.write
    say(f"seed {chosen.seed}, {chosen.cars} cars each; errors in %, of the axles told\n")
    say("| method | axles told | frequency median | rms | damping median | rms |\n")
    say("| --- | --- | --- | --- | --- | --- |\n")
    for fleet in (drives, bounces):
        for method, pairs in fleet(chosen.cars, chosen.seed).items():
            say(row(method, pairs) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
