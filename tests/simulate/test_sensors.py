"""The cheap logger: each fault of it, alone, against what its data sheet would say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.signal import freqs, welch

from ridelog.simulate.sensors import SensorKit, TrueSignals, read_sensors

G = 9.80665
STEP_S = 0.0005
PERFECT = SensorKit(
    travel_bits=30,
    travel_gain=0.0,
    travel_noise_m=0.0,
    travel_offset_m=0.0,
    acceleration_noise_g_per_rthz=0.0,
    acceleration_gain=0.0,
    acceleration_offset_g=0.0,
    acceleration_step_g=1e-9,
    tilt_rad=0.0,
    low_pass_hz=1e6,
    delay_half_range_s=0.0,
    speed_noise_m_per_s=0.0,
)


def signals(motion: np.ndarray | None = None, count: int = 20000, lean: float = 0.0) -> TrueSignals:
    motion = np.zeros(count) if motion is None else motion
    four = np.repeat(motion[:, None], 4, axis=1)
    none = np.zeros_like(motion)
    return TrueSignals(
        step_s=STEP_S,
        travel=four,
        body=four,
        hub=four,
        forward=none,
        sideways=none,
        speed=none,
        lean=none + lean,
    )


def read(motion=None, seed=1, **changes):
    return read_sensors(signals(motion), replace(PERFECT, **changes), np.random.default_rng(seed))


def sine(frequency_hz: float, amplitude: float = 1.0, count: int = 20000) -> np.ndarray:
    return amplitude * np.sin(2 * np.pi * frequency_hz * np.arange(count) * STEP_S)


def phasor(readings, channel: str, frequency_hz: float) -> complex:
    """Amplitude and phase of one channel against a sine from zero."""
    time, values = readings.time_s, readings.channels[channel]
    middle = (time > 1) & (time < time[-1] - 1)
    waves = np.stack([np.sin(2 * np.pi * frequency_hz * time), np.ones_like(time)], axis=1)
    waves = np.column_stack([waves, np.cos(2 * np.pi * frequency_hz * time)])[middle]
    fit = np.linalg.lstsq(waves, values[middle])[0]
    return complex(fit[0], fit[2])


def test_perfect_logger_says_what_was():
    readings = read(sine(3.0, 0.02))
    expected = 0.02 * np.sin(2 * np.pi * 3 * readings.time_s)
    np.testing.assert_allclose(readings.channels["travel_rl"][5:-5], expected[5:-5], atol=1e-6)
    np.testing.assert_allclose(readings.channels["hub_fr"][5:-5], expected[5:-5] + G, atol=1e-6)


@pytest.mark.parametrize("frequency_hz", [20.0, 75.0, 150.0])
def test_low_pass_is_the_second_order_one_of_the_textbooks(frequency_hz):
    # scipy.signal.freqs of w0^2 / (s^2 + w0 s / Q + w0^2) with Q = 1 / sqrt(2).
    w0 = 2 * np.pi * 150
    _, response = freqs([w0**2], [1, w0 * np.sqrt(2), w0**2], [2 * np.pi * frequency_hz])
    found = phasor(read(sine(frequency_hz), low_pass_hz=150.0), "body_fl", frequency_hz)
    assert found == pytest.approx(response[0], rel=2e-3)


def test_delay_shifts_each_channel_by_its_own_time():
    readings = read(sine(10.0), delay_half_range_s=0.001)
    delays = [
        -np.angle(phasor(readings, name, 10.0)) / (2 * np.pi * 10)
        for name in readings.channels
        if name.startswith(("travel", "body_f", "body_r", "hub"))
    ]
    assert np.max(np.abs(delays)) <= 0.001
    assert np.ptp(delays) > 0.001
    assert len({round(d, 6) for d in delays}) == 12


def test_travel_comes_in_steps_of_a_ten_bit_converter():
    readings = read(sine(1.0, 0.03), travel_bits=10)
    steps = readings.channels["travel_fl"] / (0.2 / 1024)
    np.testing.assert_allclose(steps, np.round(steps), atol=1e-6)
    assert len(np.unique(np.round(steps))) > 200


def test_accelerometer_noise_has_the_stated_density():
    # 300 ug/rtHz by scipy.signal.welch.
    readings = read(acceleration_noise_g_per_rthz=300e-6)
    frequency, psd = welch(readings.channels["body_rr"], fs=500, nperseg=512)
    density = np.sqrt(psd[(frequency > 5) & (frequency < 245)].mean()) / G
    assert density == pytest.approx(300e-6, rel=0.03)


def test_accelerometer_stops_at_its_limit():
    readings = read(sine(2.0, 300.0), acceleration_limit_g=16.0)
    assert readings.channels["hub_fl"].max() == pytest.approx(16 * G)
    assert readings.channels["hub_fl"].min() == pytest.approx(-16 * G)


def test_tilted_accelerometer_loses_gravity_and_feels_braking():
    braking = replace(signals(), forward=np.full(20000, -5.0))
    kit = replace(PERFECT, tilt_rad=np.deg2rad(3.0))
    level, braked = (
        read_sensors(s, kit, np.random.default_rng(4)).channels["body_fl"].mean()
        for s in (signals(), braking)
    )
    assert level < G
    # At most the whole deceleration times the sine of the same tilt, which gravity tells.
    assert 0.001 < abs(braked - level) <= 5.0 * np.sin(np.arccos(level / G)) * (1 + 1e-6)


def test_gains_and_offsets_spread_as_stated():
    ratios, zeros = [], []
    for seed in range(40):
        readings = read(sine(5.0), seed, acceleration_gain=0.01, acceleration_offset_g=0.03)
        for name in ("body_fl", "hub_fl", "body_rr", "hub_rr"):
            ratios.append(abs(phasor(readings, name, 5.0)))
            zeros.append((readings.channels[name].mean() - G) / G)
    assert np.std(ratios) == pytest.approx(0.01, rel=0.25)
    assert np.std(zeros) == pytest.approx(np.hypot(0.03, 0.01), rel=0.25)


def test_clock_can_run_wrong_and_jitter():
    readings = read(clock_rate=0.003, stamp_jitter_s=2e-4)
    steps = np.diff(readings.time_s)
    assert readings.clock_rate != 1.0
    assert np.mean(steps) == pytest.approx(0.002 * readings.clock_rate, rel=1e-4)
    # A difference of two independent stamps.
    assert np.std(steps) == pytest.approx(2e-4 * np.sqrt(2), rel=0.05)


def test_blocks_and_cells_get_lost():
    readings = read(lost_blocks=3, lost_cell_ratio=0.01)
    assert np.sum(np.diff(readings.time_s) > 0.02) in (1, 2, 3)
    missing = np.mean([np.isnan(v).mean() for v in readings.channels.values()])
    assert missing == pytest.approx(0.01, rel=0.2)


@pytest.mark.parametrize(
    ("corners", "expected"),
    [((1, 1, 1, 1), 1.0), ((1, -1, 1, -1), 0.46), ((1, 1, -1, -1), 0.1)],
    ids=["heave", "roll", "pitch"],
)
def test_cabin_sensor_lies_left_of_the_middle_and_a_little_ahead(corners, expected):
    # On a plane: 0.35 m left of the middle of a 1.5 m track, 5 % of the wheelbase ahead of it.
    plane = replace(signals(), body=sine(5.0)[:, None] * np.array(corners))
    readings = read_sensors(plane, PERFECT, np.random.default_rng(1))
    assert phasor(readings, "cabin", 5.0).real == pytest.approx(expected, abs=1e-3)


def test_a_leaning_body_shows_its_sideways_sensor_a_part_of_gravity():
    """Left side up by 2 degrees: the sensor that points left reads g sin 2 deg."""
    lean = np.deg2rad(2.0)
    readings = read_sensors(signals(lean=lean), PERFECT, np.random.default_rng(1))
    assert np.median(readings.channels["body_lat"]) == pytest.approx(
        9.80665 * np.sin(lean), abs=1e-3
    )
