"""Print the estimators beside what people usually do, on the same logs.

Run ``python -m tests.bench.compare_with_usual_methods [--cars N] [--seed S]``. Output-only modal
analysis needs the general-purpose library pyoma-2, which only this benchmark uses: where it is not
installed its row says so. Settings of the usual methods were picked in their favour, as those that
did best on other cars (seed 520, 6 cars: windows of 4 to 12 s, spectra of acceleration, velocity
and displacement; 20 to 100 samples a second, 20 to 60 block rows, orders to 30 or 60; two to five
peaks):

- spectra and modes are taken of body velocity, since a road's velocity is nearly white;
- a mode is a group of poles that are stable over several orders; of all groups the nearest to the
  truth is taken, which nobody could do on a road;
- a pole, a width and a decay show the decay's damping ratio, not the damper's: what they read is
  held against that, so that none is blamed for the tyre.
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
WELCH_WINDOW_S = 8.0
MODAL_RATE_HZ = 50.0
BLOCK_ROWS = 20  # more, or fewer samples a second, make frequency better and damping worse
HIGHEST_ORDER = 60
SAME_MODE = 0.02  # relative frequency within which poles of different orders are one mode
FEWEST_POLES = 5  # of a mode
DECAY_LOW_PASS_HZ = 8.0
LOWEST_PEAK_M_PER_S2 = 0.1
CLOSEST_PEAKS_S = 0.2  # half a period of 2.5 Hz


def body_of(recording, axle):
    return np.mean([recording.channels[f"body_{c}"] for c in CORNERS_OF_AXLE[axle]], axis=0)


def by_half_power(recording, axle):
    """Welch's spectrum of the body's velocity, its highest peak and the width at half power."""
    rate = recording.sample_rate_hz
    frequency, density = signal.welch(
        body_of(recording, axle), rate, nperseg=round(WELCH_WINDOW_S * rate), detrend="linear"
    )
    band = (frequency > BAND_HZ[0]) & (frequency < BAND_HZ[1])
    try:
        found = half_power(frequency[band], np.sqrt(density[band]) / frequency[band])
    except SignalError:
        return None
    return found.natural_frequency_hz, found.damping_ratio


def by_decrement(curve):
    """Frequency and damping ratio from the first two peaks of one decay.

    Later peaks are left out: friction shrinks them faster.
    """
    step_s = curve.time_s[1] - curve.time_s[0]
    low = signal.butter(2, DECAY_LOW_PASS_HZ, fs=1 / step_s, output="sos")
    smooth = signal.sosfiltfilt(low, curve.measured_m_per_s2)
    smooth -= np.median(smooth[len(smooth) // 2 :])
    places, _ = signal.find_peaks(
        np.abs(smooth), height=LOWEST_PEAK_M_PER_S2, distance=round(CLOSEST_PEAKS_S / step_s)
    )
    if len(places) < 2:
        return None
    try:
        ratio = log_decrement(smooth[places[:2]], half_cycles=True).damping_ratio
    except SignalError:
        return None
    half_s = curve.time_s[places[1]] - curve.time_s[places[0]]
    return 0.5 / half_s / np.sqrt(1 - ratio**2), ratio


def modes(recording):
    """Frequencies and damping ratios of the body's modes by covariance-driven subspaces."""
    from pyoma2.algorithms import SSI
    from pyoma2.setup import SingleSetup

    rate = recording.sample_rate_hz
    data = np.stack([recording.channels[name] for name in BODY_CHANNELS], axis=1)
    factor = max(1, round(rate / MODAL_RATE_HZ))
    data = signal.decimate(signal.detrend(data, axis=0), factor, ftype="fir", axis=0)
    rate /= factor
    high = signal.butter(2, 0.4, "highpass", fs=rate, output="sos")
    velocity = signal.detrend(
        np.cumsum(signal.sosfiltfilt(high, data, axis=0), axis=0) / rate, axis=0
    )
    with contextlib.redirect_stderr(io.StringIO()), contextlib.redirect_stdout(io.StringIO()):
        setup = SingleSetup(velocity, fs=rate)
        setup.add_algorithms(SSI(name="ssi", method="cov", br=BLOCK_ROWS, ordmax=HIGHEST_ORDER))
        setup.run_by_name("ssi")
        result = setup["ssi"].result
    stable = np.asarray(result.Lab) == np.max(result.Lab)
    frequency, ratio = np.asarray(result.Fn_poles), np.asarray(result.Xi_poles)
    keep = stable & np.isfinite(frequency) & (frequency > BAND_HZ[0]) & (frequency < BAND_HZ[1])
    rising = np.argsort(frequency[keep])
    frequency, ratio = frequency[keep][rising], ratio[keep][rising]
    cuts = np.flatnonzero(np.diff(np.log(frequency)) > SAME_MODE) + 1
    groups = zip(np.split(frequency, cuts), np.split(ratio, cuts), strict=True)
    return [(np.median(f), np.median(z)) for f, z in groups if len(f) >= FEWEST_POLES]


def nearest(found, truth_hz):
    return min(found, key=lambda mode: abs(mode[0] - truth_hz), default=None)


def of_damper(truth):
    """What our estimates are held against: body frequency and the damper's damping ratio."""
    return truth.body_frequency_hz, truth.damping_ratio


def of_decay(truth):
    """What a pole or a decay shows: the ratio is damping ratio x (T / (K + T))^1.5."""
    share = (truth.body_frequency_hz / truth.spring_frequency_hz) ** 2
    return truth.body_frequency_hz, truth.damping_ratio * share**1.5


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
        found_modes = modes(recording) if has_modal else None
        for axle in AXLES:
            truth = log.truth.axles[axle]
            ours, usual = of_damper(truth), of_decay(truth)
            rows = {
                "force balance, all sensors": (told(balance[axle]), ours),
                "spectral fit, two body sensors": (told(few[axle]), ours),
                "Welch peak, half-power width": (by_half_power(recording, axle), usual),
            }
            if found_modes is not None:
                rows["output-only modal analysis"] = (nearest(found_modes, usual[0]), usual)
            for method, pair in rows.items():
                found.setdefault(method, []).append(pair)
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
            found.setdefault("free decay fit", []).append((told(axles[axle]), of_damper(truth)))
            found.setdefault("logarithmic decrement", []).append((pair, of_decay(truth)))
    return found


def row(method, pairs):
    told_pairs = [(pair, truth) for pair, truth in pairs if pair is not None]
    if not told_pairs:
        return f"| {method} | 0/{len(pairs)} | | | | |"
    errors = 100 * np.array(
        [(pair[0] / truth[0] - 1, pair[1] / truth[1] - 1) for pair, truth in told_pairs]
    )
    rms, middle = np.sqrt(np.mean(errors**2, axis=0)), np.median(np.abs(errors), axis=0)
    cells = f"{middle[0]:.2f} | {rms[0]:.2f} | {middle[1]:.1f} | {rms[1]:.1f}"
    return f"| {method} | {len(told_pairs)}/{len(pairs)} | {cells} |"


def main():
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=12)
    parser.add_argument("--seed", type=int, default=16)
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
