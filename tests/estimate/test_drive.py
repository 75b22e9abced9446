"""Which estimator for which log: every set of sensors gets an answer or a reason, never a crash."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.estimate.drive import estimate_log
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    Gap,
    Step,
)
from ridelog.simulate.fleet import simulate_fleet
from ridelog.simulate.log import simulate_logs

LEFT = ("travel_fl", "travel_rl", "body_fl", "body_rl", "hub_fl", "hub_rl")
FRONT = ("travel_fl", "travel_fr", "body_fl", "body_fr", "hub_fl", "hub_fr")
OTHER_RATES_HZ = (1000.0, 200.0, 100.0)
# channels, and the method that must be chosen for them
SETS = {
    "all": ((*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS), "force balance (travel+body+hub)"),
    "travel and body": ((*TRAVEL_CHANNELS, *BODY_CHANNELS), "force balance (travel+body)"),
    "hub and body": ((*HUB_CHANNELS, *BODY_CHANNELS), "force balance (body+hub)"),
    "three hubs beside": (
        (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS[:3]),
        "force balance (travel+body)",
    ),
    "three travels beside": (
        (*TRAVEL_CHANNELS[:3], *BODY_CHANNELS, *HUB_CHANNELS),
        "force balance (body+hub)",
    ),
}
PARTIAL = {
    "only hubs": HUB_CHANNELS,
    "three travels": TRAVEL_CHANNELS[:3],
    "front axle only": FRONT,
    "left side only": LEFT,
    "body left only": ("body_fl", "body_rl"),
    "body one diagonal": ("body_fl", "body_rr"),
    "body front only": ("body_fl", "body_fr"),
    "travel rear only": ("travel_rl", "travel_rr"),
    "travel one diagonal": ("travel_fr", "travel_rl"),
    "travel and hub, no body": (*TRAVEL_CHANNELS, *HUB_CHANNELS),
    "three body and travels": (*TRAVEL_CHANNELS, *BODY_CHANNELS[:3]),
    "three body and hubs": (*BODY_CHANNELS[:3], *HUB_CHANNELS),
    "one travel one body": ("travel_fl", "body_rr"),
    "one body": ("body_rr",),
    "one hub": ("hub_fl",),
    "one travel": ("travel_rl",),
    "speed only": ("speed",),
}


@pytest.fixture(scope="module")
def drive():
    """Raw readings of one drive with every kind of sensor, and its car."""
    (log,) = simulate_fleet("nonlinear", seed=221, count=1, duration_s=28.0)
    return log


def only(log, names):
    prepared = prepare(log.with_channels(names).recording(), log.car)
    return prepared.recording, prepared


def assert_complete(result):
    """Every axle and corner is there; whatever is null has at least one note beside it."""
    assert set(result.axles) == set(AXLES)
    assert set(result.corners) == set(CORNERS)
    told_nothing = [a for a in AXLES if result.axles[a].body_frequency_hz is None]
    if told_nothing:
        assert result.notes, told_nothing
    for axle in AXLES:
        for name in ("body_frequency_hz", "damping_ratio", "friction_n", "wheel_hop_hz"):
            estimate = getattr(result.axles[axle], name)
            if estimate is not None:
                assert np.isfinite([estimate.value, estimate.low, estimate.high]).all()
                assert estimate.low <= estimate.value <= estimate.high


@pytest.mark.slow
@pytest.mark.parametrize("label", SETS)
def test_full_sets_get_the_force_balance(drive, label):
    names, method = SETS[label]
    recording, prepared = only(drive, names)
    result = estimate_log(recording, drive.car, prepared.problems, prepared.notes)
    assert_complete(result)
    for axle in AXLES:
        assert result.axles[axle].method == method
        truth = drive.truth.axles[axle].body_frequency_hz
        assert result.axles[axle].body_frequency_hz.value == pytest.approx(truth, rel=0.03)
    for corner in CORNERS:
        assert result.corners[corner].damping_ratio is not None
        assert result.corners[corner].damper_force


@pytest.mark.slow
@pytest.mark.parametrize("label", PARTIAL)
def test_partial_sets_say_what_they_cannot(drive, label):
    recording, prepared = only(drive, PARTIAL[label])
    result = estimate_log(recording, drive.car, prepared.problems, prepared.notes)
    assert_complete(result)
    for axle in AXLES:
        assert "force balance" not in result.axles[axle].method
    for corner in CORNERS:
        # a damper's force needs the body's and the wheel's motion at all four corners
        assert result.corners[corner].damping_ratio is None
        assert result.corners[corner].damper_force == ()
        has_travel = f"travel_{corner}" in PARTIAL[label]
        assert (result.corners[corner].travel_mm is not None) == has_travel


def test_only_hubs_tell_nothing_of_the_axles_and_say_why(drive):
    recording, _ = only(drive, HUB_CHANNELS)
    result = estimate_log(recording, drive.car)
    for axle in AXLES:
        assert result.axles[axle].body_frequency_hz is None
        assert result.axles[axle].method == "none"
    assert any("body accelerometer over each axle" in note for note in result.notes)
    assert result.comfort is None
    assert any(note.startswith("comfort: the log has no") for note in result.notes)


@pytest.mark.slow
@pytest.mark.parametrize("duration_s", [5.0, 1.0])
@pytest.mark.parametrize("label", ["all", "hub and body"])
def test_short_logs_are_refused_with_the_length_needed(drive, duration_s, label):
    window = (drive.time_s > 15.0) & (drive.time_s < 15.0 + duration_s)
    short = replace(
        drive,
        time_s=drive.time_s[window] - 15.0,
        channels={name: values[window] for name, values in drive.channels.items()},
    )
    recording, prepared = only(short, SETS[label][0])
    result = estimate_log(recording, drive.car, prepared.problems, prepared.notes)
    assert_complete(result)
    assert all(result.axles[axle].damping_ratio is None for axle in AXLES)
    assert any("12" in note and "s of log" in note for note in result.notes), result.notes


@pytest.mark.parametrize("label", ["all", "hub and body", "travel and body"])
def test_a_car_that_only_stands_tells_nothing_and_says_so(drive, label):
    rng = np.random.default_rng(5)
    recording, _ = only(drive, SETS[label][0])
    level = {"travel": 0.1e-3, "body": 0.05, "hub": 0.05}
    channels = {
        name: level[name.split("_")[0]] * rng.standard_normal(recording.sample_count)
        for name in recording.channels
    }
    still = recording.with_channels(channels, Step(name="stands"))
    result = estimate_log(still, drive.car)
    assert_complete(result)
    for axle in AXLES:
        assert result.axles[axle].body_frequency_hz is None
        assert result.axles[axle].damping_ratio is None
    assert any("do not explain how the body moves" in note for note in result.notes)


@pytest.fixture(scope="module")
def rates(drive):
    """The same drive logged at other rates."""
    kit = drive.scene.kit
    scenes = [
        replace(drive.scene, kit=replace(kit, sample_rate_hz=rate)) for rate in OTHER_RATES_HZ
    ]
    return dict(zip(OTHER_RATES_HZ, simulate_logs(scenes), strict=True))


@pytest.mark.slow
@pytest.mark.parametrize("sample_rate_hz", OTHER_RATES_HZ)
def test_other_sample_rates(rates, sample_rate_hz):
    log = rates[sample_rate_hz]
    # hubs without travel at 100 Hz have their own test
    labels = {1000.0: ("all",), 100.0: ("all", "travel and body")}
    for label in labels.get(sample_rate_hz, ("all", "travel and body", "hub and body")):
        recording, prepared = only(log, SETS[label][0])
        assert recording.sample_rate_hz == pytest.approx(sample_rate_hz)
        result = estimate_log(recording, log.car, prepared.problems, prepared.notes)
        assert_complete(result)
        for axle in AXLES:
            frequency = result.axles[axle].body_frequency_hz
            truth = log.truth.axles[axle].body_frequency_hz
            assert frequency.value == pytest.approx(truth, rel=0.03), (label, axle)


@pytest.mark.slow
def test_hubs_sampled_too_slowly_leave_the_body_sensors_to_tell(rates):
    recording, prepared = only(rates[100.0], SETS["hub and body"][0])
    result = estimate_log(recording, rates[100.0].car, prepared.problems, prepared.notes)
    assert_complete(result)
    assert all("force balance" not in result.axles[axle].method for axle in AXLES)
    assert all(result.corners[corner].damper_force == () for corner in CORNERS)
    assert any("150 samples a second, the log has 100" in note for note in result.notes)


def test_an_empty_valid_mask_is_refused_with_a_reason(drive):
    recording, _ = only(drive, SETS["all"][0])
    nothing = replace(
        recording,
        valid=np.zeros(recording.sample_count, dtype=bool),
        gaps=(Gap(start_s=0.0, end_s=recording.duration_s),),
    )
    result = estimate_log(nothing, drive.car)
    assert_complete(result)
    assert all(result.axles[axle].body_frequency_hz is None for axle in AXLES)
