"""Force balance on simulated drives whose truth is known: errors, intervals, weak corners.

Limits are loose multiples of what the bench finds on many cars; four short drives cannot tell more.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.errors import SignalError
from ridelog.estimate.balance import fit
from ridelog.estimate.balance.drive_balance import drive_balance
from ridelog.estimate.balance.layout import BODY_DELAY
from ridelog.estimate.balance.results import balance_results
from ridelog.estimate.drive import estimate_log
from ridelog.recording import AXLES, BODY_CHANNELS, CORNERS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.simulate.fleet import simulate_fleet

pytestmark = pytest.mark.slow
SETS = {
    "full": (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS),
    "travel and body": (*TRAVEL_CHANNELS, *BODY_CHANNELS),
    "hub and body": (*HUB_CHANNELS, *BODY_CHANNELS),
}
ROUGH = 1  # of the healthy ones: a road so rough that it drives hubs to their limit again and again
# rms of frequency [%] and of the middle damping error [%]
LIMITS = {"full": (0.4, 8.0), "travel and body": (1.2, 15.0), "hub and body": (1.0, 12.0)}


def read(log, channels):
    return prepare(log.with_channels(channels).recording(), log.car).recording


@pytest.fixture(scope="module")
def healthy():
    return simulate_fleet("nonlinear", seed=231, count=4, duration_s=40.0)


@pytest.fixture(scope="module")
def tired():
    return simulate_fleet("side", seed=233, count=3, duration_s=40.0)


@pytest.fixture(scope="module", params=list(SETS))
def balanced(request, healthy):
    """Sensor set, and each car's balance, results and log."""
    done = []
    for number, log in enumerate(healthy):
        if request.param == "hub and body" and number == ROUGH:
            continue  # refused: see below
        found = drive_balance(read(log, SETS[request.param]), log.car)
        done.append((found, balance_results(found.fit, log.car), log))
    return request.param, done


def relative_errors(done, quantity):
    return np.array(
        [
            100 * (getattr(results.axles[axle], quantity).value / truth - 1)
            for _, results, log in done
            for axle in AXLES
            for truth in (getattr(log.truth.axles[axle], quantity),)
        ]
    )


def test_errors_stay_within_what_the_bench_finds(balanced):
    label, done = balanced
    frequency, damping = LIMITS[label]
    assert np.sqrt(np.mean(relative_errors(done, "body_frequency_hz") ** 2)) < frequency
    assert np.median(np.abs(relative_errors(done, "damping_ratio"))) < damping


def test_intervals_hold_the_truth(balanced):
    _, done = balanced
    inside = {"body_frequency_hz": [], "damping_ratio": [], "friction_n": [], "force": []}
    for _, results, log in done:
        for axle in AXLES:
            for name in ("body_frequency_hz", "damping_ratio", "friction_n"):
                estimate = getattr(results.axles[axle], name)
                truth = getattr(log.truth.axles[axle], name)
                inside[name].append(estimate.low <= truth <= estimate.high)
        for corner in CORNERS:
            truth = log.truth.corners[corner].force
            for point in results.damper_force[corner]:
                true_n = truth[f"{point.speed_mps:+.3f}"]
                inside["force"].append(point.force_n.low <= true_n <= point.force_n.high)
    # of 8 axles at 95 % more than two misses have odds below 1 in 150, of 6 below 1 in 450
    for name in ("body_frequency_hz", "damping_ratio", "friction_n"):
        assert sum(inside[name]) >= len(inside[name]) - 2, name
    assert np.mean(inside["force"]) > 0.85


def test_hubs_at_their_limit_again_and_again_do_not_stand_in_for_travel(healthy):
    # Pushes they missed spoil speed by 40 mm/s here: damping read 70 % high, and surely so.
    log = healthy[ROUGH]
    recording = read(log, SETS["hub and body"])
    with pytest.raises(SignalError, match="at their limit so often"):
        drive_balance(recording, log.car)
    result = estimate_log(recording, log.car)
    assert any("at their limit so often" in note for note in result.notes)
    for axle in AXLES:
        for name in ("body_frequency_hz", "damping_ratio"):
            found, truth = getattr(result.axles[axle], name), getattr(log.truth.axles[axle], name)
            assert found.low < truth < found.high


def test_healthy_pairs_are_never_called_weak(balanced):
    _, done = balanced
    assert all(not found.weak_corner for found, _, _ in done)


def test_what_widens_an_interval_is_named(balanced):
    label, done = balanced
    for _, results, _ in done:
        damping = results.axles["front"].damping_ratio
        names = {"length of the log", "friction and damper model"}
        if label == "travel and body":
            names |= {"accelerometer gain", "travel sensor gain", "motion ratio"}
        if label == "full":
            names.add("sensor gains")
        assert damping.largest_contributor in names
        width = 0.5 * (np.log(damping.high) - np.log(damping.low)) * damping.value
        parts = np.hypot(damping.random_half_width, damping.systematic_half_width)
        if width < damping.value:
            assert width == pytest.approx(parts, rel=1e-6)


def test_a_tired_damper_is_named_at_its_corner(tired):
    named, asked = 0, 0
    for log in tired:
        found = drive_balance(read(log, SETS["full"]), log.car)
        for axle, (left, right) in zip(AXLES, (("fl", "fr"), ("rl", "rr")), strict=True):
            pair = {corner: log.truth.corners[corner].damping_ratio for corner in (left, right)}
            weak = min(pair, key=lambda corner: pair[corner])
            if min(pair.values()) < 0.75 * max(pair.values()):
                asked += 1
                named += found.weak_corner.get(axle) == weak
                # where one is named it is the right one
                assert found.weak_corner.get(axle) in (None, weak)
            else:
                assert axle not in found.weak_corner
    assert asked == 3
    assert named >= 2


def test_the_stated_spring_is_not_believed(healthy):
    log = healthy[0]
    recording = read(log, SETS["full"])
    wrong = replace(
        log.car,
        front=replace(log.car.front, spring_rate_n_per_m=1.4 * log.car.front.spring_rate_n_per_m),
    )
    first = balance_results(drive_balance(recording, log.car).fit, log.car).axles["front"]
    second = balance_results(drive_balance(recording, wrong).fit, wrong).axles["front"]
    ratio = second.body_frequency_hz.value / first.body_frequency_hz.value
    assert ratio == pytest.approx(1.0, abs=0.002)
    stated = (1 + first.catalogue_spring_error.value) / (1 + second.catalogue_spring_error.value)
    assert stated == pytest.approx(1.4, rel=0.005)


def test_soft_top_mounts_that_delay_the_damper_fool_the_springs_not_and_dampers_less(monkeypatch):
    logs = simulate_fleet("hysteresis", seed=245, count=4, duration_s=40.0)

    def errors():
        """Mean damping error, rms frequency error (logarithms), share of frequency bounds held."""
        ratios, frequencies, inside = [], [], []
        for log in logs:
            drive = drive_balance(read(log, SETS["full"]), log.car)
            results = balance_results(drive.fit, log.car)
            for axle in AXLES:
                found, truth = results.axles[axle], log.truth.axles[axle]
                ratios.append(np.log(found.damping_ratio.value / truth.damping_ratio))
                frequencies.append(np.log(found.body_frequency_hz.value / truth.body_frequency_hz))
                inside.append(found.body_frequency_hz.low <= truth.body_frequency_hz)
                inside.append(found.body_frequency_hz.high >= truth.body_frequency_hz)
        return abs(np.mean(ratios)), np.sqrt(np.mean(np.square(frequencies))), np.mean(inside)

    damping, frequency, held = errors()
    monkeypatch.setitem(fit._OPEN_GROUPS, "travel+body+hub", (BODY_DELAY,))
    damping_without, frequency_without, _ = errors()
    # What a lag is for: 1.5 instead of 4.2 % here, 0.07 instead of 0.19 %.
    assert damping < 0.6 * damping_without
    assert frequency < 0.5 * frequency_without
    assert damping < 0.025
    assert held >= 15 / 16
