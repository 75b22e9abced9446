"""Accuracy of the few-sensor estimates beside what people do today.

Run with ``python -m pytest tests/bench/accuracy_few_sensors.py -m bench -s`` or as a module:
``python -m tests.bench.accuracy_few_sensors``. Prints relative rms error, bias and coverage of the
95 % intervals over the axles of simulated cars, the axles left without an answer, and the same for
the highest Welch peak with its half-power width.
"""

import sys
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from scipy import signal

from ridelog.condition.prepare import prepare
from ridelog.estimate.spectral_fit import travel_only_results, two_body_results
from ridelog.recording import AXLES, TRAVEL_CHANNELS
from tests.bench.fleet_cache import cached_fleet

CASES = (
    # label, situation, seed, seconds, channels, estimator
    ("two body sensors", "two_accel", 31, 110.0, ("body_fl", "body_rl"), two_body_results),
    ("four travels", "travel_only", 32, 75.0, TRAVEL_CHANNELS, travel_only_results),
    ("four travels, nonlinear", "nonlinear", 34, 75.0, TRAVEL_CHANNELS, travel_only_results),
    ("two travels", "travel_only", 32, 75.0, ("travel_fl", "travel_rl"), travel_only_results),
    ("four travels, unkind", "unkind", 33, 75.0, TRAVEL_CHANNELS, travel_only_results),
    ("two body, unkind", "unkind", 33, 75.0, ("body_fl", "body_rl"), two_body_results),
)
KEYS = ("body_frequency_hz", "damping_ratio", "wheel_hop_hz")


@dataclass
class Score:
    """Log errors and whether the interval held the truth."""

    errors: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    asked: int = 0

    def add(self, estimate, truth):
        self.asked += 1
        if estimate is not None:
            self.errors.append(float(np.log(estimate.value / truth)))
            self.inside.append(estimate.low <= truth <= estimate.high)

    def row(self):
        if not self.errors:
            return f"{'none':>8}{'':>8}{'':>9}{len(self.errors):>6}/{self.asked}"
        errors = 100 * np.array(self.errors)
        return (
            f"{np.sqrt(np.mean(errors**2)):8.2f}{errors.mean():+8.2f}"
            f"{100 * np.mean(self.inside):9.0f}{len(errors):>6}/{self.asked}"
        )


def welch_peak(x, sample_rate_hz):
    """Frequency of the highest peak in 0.7-3.5 Hz and half its half-power width over it."""
    frequency_hz, density = signal.welch(x, sample_rate_hz, nperseg=round(8 * sample_rate_hz))
    band = (frequency_hz > 0.7) & (frequency_hz < 3.5)
    frequency_hz, density = frequency_hz[band], density[band]
    top = int(density.argmax())
    above = density > density[top] / 2
    low = top - np.argmin(above[top::-1]) if not above[: top + 1].all() else 0
    high = top + np.argmin(above[top:]) if not above[top:].all() else len(above) - 1
    width_hz = frequency_hz[high] - frequency_hz[low]
    return frequency_hz[top], width_hz / (2 * frequency_hz[top])


def bench_case(case, count):
    """Scores of one case: ours by key, and the baseline's frequency and damping errors."""
    _, situation, seed, duration_s, channels, estimator = case
    ours = {key: Score() for key in KEYS}
    baseline = ([], [])
    for log in cached_fleet(situation, seed=seed, count=count, duration_s=duration_s):
        recording = prepare(log.recording(), log.car).recording
        recording = replace(recording, channels={n: recording.channels[n] for n in channels})
        results, _, _ = estimator(recording, log.car)
        for axle in AXLES:
            truth = log.truth.axles[axle]
            for key in KEYS:
                ours[key].add(getattr(results[axle], key), getattr(truth, key))
            own = next(name for name in channels if f"_{axle[0]}" in name)
            peak_hz, ratio = welch_peak(recording.channels[own], recording.sample_rate_hz)
            baseline[0].append(np.log(peak_hz / truth.body_frequency_hz))
            baseline[1].append(np.log(ratio / truth.damping_ratio))
    return ours, baseline


def say(line):
    """Write one line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def print_table(count):
    """Print the whole table."""
    say(f"\n{'case':<24}{'quantity':<20}{'rms %':>8}{'bias %':>8}{'cover %':>9}{'told':>8}")
    outcome = {}
    for case in CASES:
        ours, baseline = bench_case(case, count)
        outcome[case[0]] = ours
        for key in KEYS:
            say(f"{case[0]:<24}{key:<20}{ours[key].row()}")
        for name, errors in zip(("peak", "half-power width"), baseline, strict=True):
            rms = 100 * np.sqrt(np.mean(np.square(errors)))
            say(f"{'':<24}{'Welch ' + name:<22}{rms:6.1f}{100 * np.mean(errors):+8.1f}")
    return outcome


@pytest.mark.bench
@pytest.mark.slow
def test_few_sensor_table():
    outcome = print_table(12)
    for label, frequency, damping in (
        ("two body sensors", 0.05, 0.5),
        ("four travels", 0.03, 0.15),
        ("four travels, nonlinear", 0.03, 0.15),
    ):
        for key, limit in (("body_frequency_hz", frequency), ("damping_ratio", damping)):
            errors = outcome[label][key].errors
            assert np.sqrt(np.mean(np.square(errors))) < limit, (label, key)


if __name__ == "__main__":
    print_table(12)
