"""The linear car behind the spectral fits, against published cars and other roads to the answer."""

import numpy as np
import pytest
from scipy import signal

from ridelog.estimate.half_car_model import AxleModel, heave_pitch_responses, roll_responses
from ridelog.estimate.spectra import (
    BLOCK_WEIGHT,
    block_spectra,
    cross_spectra,
    spectral_grid,
)


def axle(sprung, unsprung, wheel, tyre, damping=0.0):
    """One axle from corner figures; masses are doubled."""
    one = np.array([[1.0]])
    return AxleModel(
        sprung_mass_kg=2 * sprung * one,
        unsprung_mass_kg=2 * unsprung * one,
        wheel_rate_n_per_m=wheel * one,
        wheel_damping_n_s_per_m=damping * one,
        tyre_rate_n_per_m=tyre * one,
        track_m=1.5,
        roll_lever_ratio=1.0,
        bar_rate_n_per_m=0.0 * one,
        roll_mass_ratio=one,
    )


def quarter_gain(frequency_hz, corner, *, travel):
    """Front output over front road with decoupled axles: a quarter car."""
    responses = heave_pitch_responses(
        frequency_hz, corner, corner, wheelbase_m=2.6, pitch_index=np.array([[1.0]]), travel=travel
    )
    return np.abs(responses.road_front[0][0])


# World Bank Technical Paper 45 (Sayers et al. 1986): golden car, c 6, k1 653, k2 63.3, mu 0.15.
# Expected values from an eigen-solver and a transfer-function scan by others, not from this code.
GOLDEN = axle(1.0, 0.15, 63.3, 653.0, 6.0)


@pytest.mark.parametrize(
    ("frequency_hz", "gain"), [(1.0, 1.8295), (2.0, 0.8232), (4.0, 0.2988), (10.0, 0.1617)]
)
def test_golden_car_body_over_road(frequency_hz, gain):
    assert quarter_gain(np.array([frequency_hz]), GOLDEN, travel=False)[0] == pytest.approx(
        gain, rel=1e-3
    )


def test_golden_car_body_peak():
    frequency_hz = np.arange(0.8, 1.6, 0.0005)
    gain = quarter_gain(frequency_hz, GOLDEN, travel=False)
    assert gain.max() == pytest.approx(1.9276, rel=1e-4)
    assert frequency_hz[gain.argmax()] == pytest.approx(1.1441, abs=1e-3)


# Barton & Fieldhouse, Automotive Chassis Engineering, p. 209: rear corner of a saloon,
# 317.5 / 45.4 kg, 22 / 192 kN/m: 1.25 and 10.9 Hz (exact 1.2539 and 10.935 Hz).
# Rajamani-style control-toolbox car: 300 / 60 kg, 16 / 190 kN/m: 1.11557 and 9.33133 Hz.
@pytest.mark.parametrize(
    ("corner", "body_hz", "hop_hz"),
    [
        (axle(317.5, 45.4, 22e3, 192e3), 1.2539, 10.935),
        (axle(300.0, 60.0, 16e3, 190e3), 1.11557, 9.33133),
    ],
)
def test_undamped_poles_stand_at_published_frequencies(corner, body_hz, hop_hz):
    for low_hz, high_hz, expected_hz in ((0.8, 1.8, body_hz), (7.0, 13.0, hop_hz)):
        frequency_hz = np.arange(low_hz, high_hz, 0.00025)
        peak_hz = frequency_hz[quarter_gain(frequency_hz, corner, travel=False).argmax()]
        assert peak_hz == pytest.approx(expected_hz, rel=4e-4)


@pytest.mark.parametrize("damping", [200.0, 1500.0, 4000.0])
@pytest.mark.parametrize("wheel", [12e3, 40e3])
def test_invariant_points(damping, wheel):
    # Hedrick & Butsuen, Invariant properties of automotive suspensions, 1990: at sqrt(kt/mu) body
    # over road is mu/ms, at sqrt(kt/(ms+mu)) travel over road is 1 + mu/ms, whatever the
    # suspension. 300/60 kg, 190 kN/m: 0.2 at 8.9562 Hz and 1.2 at 3.6563 Hz.
    corner = axle(300.0, 60.0, wheel, 190e3, damping)
    body = quarter_gain(np.array([np.sqrt(190e3 / 60) / 2 / np.pi]), corner, travel=False)
    travel = quarter_gain(np.array([np.sqrt(190e3 / 360) / 2 / np.pi]), corner, travel=True)
    assert body[0] == pytest.approx(0.2, rel=1e-9)
    assert travel[0] == pytest.approx(1.2, rel=1e-9)


def test_thomson_bounce_and_pitch():
    # Thomson, Theory of Vibration with Applications, sec. 5.3: 6.90 and 9.06 rad/s. W 3220 lb,
    # r 4 ft, arms 4.5 and 5.5 ft, 2400 and 2600 lb/ft; 32.2 ft/s2 makes 100 slug. Rigid tyres.
    front, rear = (
        axle(100 * share / 2, 1e-6, rate / 2, 1e12) for share, rate in ((0.55, 2400), (0.45, 2600))
    )
    frequency_hz = np.arange(0.9, 1.7, 0.0001)
    responses = heave_pitch_responses(
        frequency_hz,
        front,
        rear,
        wheelbase_m=10.0,
        pitch_index=np.array([[16 / (4.5 * 5.5)]]),
        travel=False,
    )
    gain = np.abs(responses.road_front[0][0])
    peaks = frequency_hz[signal.find_peaks(gain)[0]] * 2 * np.pi
    np.testing.assert_allclose(peaks, [6.90, 9.06], rtol=1.5e-3)


def test_very_long_waves_lift_and_roll_the_car_as_one():
    # A road that rises slowly carries hubs and body along: travel nothing, body as the road.
    slow_hz = np.array([1e-3])
    car = {"wheelbase_m": 2.6, "pitch_index": np.array([[0.9]])}
    body = heave_pitch_responses(slow_hz, GOLDEN, GOLDEN, **car, travel=False)
    assert abs(body.road_front[0][0, 0] + body.road_rear[0][0, 0]) == pytest.approx(1, rel=1e-4)
    roll = roll_responses(
        slow_hz, GOLDEN, GOLDEN, roll_inertia_kg_m2=np.array([[1.0]]), travel=False
    )
    assert abs(roll.road_front[0][0, 0] + roll.road_rear[0][0, 0]) == pytest.approx(1, rel=1e-4)


def test_cross_spectra_agree_with_welch():
    # Second opinion: scipy.signal.csd with the same window length.
    rng = np.random.default_rng(3)
    white = rng.standard_normal(60_000)
    signals = np.stack([signal.lfilter([1], [1, -0.9], white), np.roll(white, 7)])
    blocks = block_spectra(
        signals, np.ones(60_000, bool), sample_rate_hz=100, block_s=8, band_hz=(0.5, 20)
    )
    ours = cross_spectra(blocks.transforms)
    frequency_hz, theirs = signal.csd(signals[1], signals[0], fs=100, nperseg=800, detrend="linear")
    kept = (frequency_hz >= 0.5) & (frequency_hz <= 20)
    np.testing.assert_allclose(ours[:, 0, 1], theirs[kept], rtol=2e-2, atol=2e-4)


def test_blocks_avoid_missing_samples():
    valid = np.ones(8000, bool)
    valid[3000:3010] = False
    blocks = block_spectra(
        np.random.default_rng(1).standard_normal((1, 8000)),
        valid,
        sample_rate_hz=100,
        block_s=8,
        band_hz=(0.5, 20),
    )
    ends = blocks.start_s + 8
    assert len(ends) > 5
    assert not np.any((blocks.start_s < 30.1) & (ends > 30.0))


def test_model_seen_through_the_window_matches_measured_resonance():
    # A sharp resonance of a long simulated record, measured in blocks, against its exact spectrum.
    rng = np.random.default_rng(5)
    pole = 0.995 * np.exp(2j * np.pi * 1.3 / 50)
    denominator = np.real(np.poly([pole, pole.conj()]))
    record = signal.lfilter([1], denominator, rng.standard_normal(1_500_000))[1000:]
    blocks = block_spectra(
        record[None], np.ones(len(record), bool), sample_rate_hz=50, block_s=8, band_hz=(0.6, 20)
    )
    grid = spectral_grid(blocks.frequency_hz, block_s=8.0)
    measured = grid.pooled(np.mean(np.abs(blocks.transforms[:, 0]) ** 2, axis=0))
    _, response = signal.freqz([1], denominator, worN=grid.fine_hz, fs=50)
    seen = grid.seen(np.abs(response) ** 2 * 2 / 50)
    near = np.abs(grid.frequency_hz - 1.3) < 0.4
    scatter = 4 / np.sqrt(BLOCK_WEIGHT * len(blocks.start_s))
    np.testing.assert_allclose(measured[near] / seen[near], 1.0, atol=scatter)


def test_coherence_lost_by_pooling_and_window():
    # Delayed white noise: measured coherent share above the split against the formula.
    rng = np.random.default_rng(6)
    white = rng.standard_normal(600_000)
    delay = 60
    signals = np.stack([white[delay:], white[:-delay]])
    blocks = block_spectra(
        signals, np.ones(signals.shape[1], bool), sample_rate_hz=100, block_s=8, band_hz=(3, 20)
    )
    grid = spectral_grid(blocks.frequency_hz, block_s=8.0)
    cross = grid.pooled(cross_spectra(blocks.transforms)[:, 0, 1])
    high = grid.frequency_hz > 4.2
    turned = cross * np.exp(-2j * np.pi * grid.frequency_hz * delay / 100)
    share = np.real(turned[high]).mean() / 0.02
    expected = grid.pooled_coherence(np.array(delay / 100))[-1]
    assert expected < 0.97
    assert share == pytest.approx(expected, abs=0.01)
