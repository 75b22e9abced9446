"""Comfort figures of signals whose figures can be written down."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.estimate.comfort import (
    comfort_reaction,
    ride_comfort,
    running_rms,
    vibration_dose,
)
from ridelog.estimate.weighting import weight

RATE_HZ = 1000.0


def tone(frequency_hz: float, rms: float, duration_s: float = 60.0) -> np.ndarray:
    time = np.arange(int(duration_s * RATE_HZ)) / RATE_HZ
    return np.sqrt(2) * rms * np.sin(2 * np.pi * frequency_hz * time)


def half_sine_pulse(amplitude: float, length_s: float) -> np.ndarray:
    signal = np.zeros(int(4 * RATE_HZ))
    count = int(length_s * RATE_HZ)
    signal[1500 : 1500 + count] = amplitude * np.sin(np.pi * (np.arange(count) + 0.5) / count)
    return signal


def test_two_tones_add_in_squares_after_weighting():
    # |Wk| of the standard's table: 1.3 Hz close to 0.485, 11 Hz close to 0.96
    found = ride_comfort(tone(1.3, 0.5) + tone(11.0, 0.4), RATE_HZ, place="seat")
    assert found.weighted_rms_mps2 == pytest.approx(0.4530, rel=0.005)
    assert found.reaction == "slightly uncomfortable"


def test_a_steady_tone_has_the_crest_of_a_sine_and_a_flat_running_rms():
    found = ride_comfort(tone(8.0, 1.0), RATE_HZ, place="seat")
    assert found.weighted_rms_mps2 == pytest.approx(1.036, rel=0.003)
    assert found.crest_factor == pytest.approx(np.sqrt(2), rel=0.01)
    assert found.mtvv_mps2 == pytest.approx(found.weighted_rms_mps2, rel=0.005)
    assert found.remarks == ()


def test_dose_of_a_sine():
    # fourth power of a sine has mean 3/8 of its amplitude's: 1.5^(1/4) rms T^(1/4)
    assert vibration_dose(tone(5.0, 1.0), RATE_HZ) == pytest.approx(3.0801, rel=1e-4)


def test_pulse_in_the_running_rms_and_the_dose():
    pulse = half_sine_pulse(5.0, 0.1)
    # square of a half sine has mean 1/2, its fourth power 3/8
    assert running_rms(pulse, RATE_HZ).max() == pytest.approx(1.1180, rel=1e-3)
    assert vibration_dose(pulse, RATE_HZ) == pytest.approx(2.2003, rel=1e-3)


def test_gaussian_noise_has_a_dose_of_the_fourth_root_of_three():
    noise = np.random.default_rng(3).normal(size=200_000)
    expected = 3**0.25 * (200_000 / RATE_HZ) ** 0.25
    assert vibration_dose(noise, RATE_HZ) == pytest.approx(expected, rel=0.01)


def test_weighting_agrees_with_a_digital_filter_at_a_very_high_rate():
    # second opinion: scipy's bilinear transform, whose error at 20 kHz is far below 0.1 %
    from scipy.signal import bilinear, lfilter

    rate_hz = 20_000.0
    w1, w2, w3, w4 = (2 * np.pi * f for f in (0.4, 100.0, 2.0, 2.0))
    root2 = np.sqrt(2)
    sections = [
        ([1.0, 0.0, 0.0], [1.0, root2 * w1, w1**2]),
        ([w2**2], [1.0, root2 * w2, w2**2]),
        ([w4**2 / w3, w4**2], [1.0, w4 / 0.63, w4**2]),
    ]
    rng = np.random.default_rng(5)
    signal = np.convolve(rng.normal(size=100_000), np.hanning(200) / 100, mode="same")
    filtered = signal
    for numerator, denominator in sections:
        filtered = lfilter(*bilinear(numerator, denominator, rate_hz), filtered)
    mine = weight(signal, rate_hz, "Wd")
    assert np.std(mine - filtered) < 1e-3 * np.std(filtered)


@pytest.mark.parametrize(
    ("rms", "said"),
    [
        (0.2, "comfortable"),
        (0.4, "slightly uncomfortable"),
        (0.55, "slightly uncomfortable to rather uncomfortable"),
        (0.7, "rather uncomfortable"),
        (0.9, "rather uncomfortable to uncomfortable"),
        (1.1, "uncomfortable"),
        (1.4, "uncomfortable to very uncomfortable"),
        (2.2, "very uncomfortable to extremely uncomfortable"),
        (3.0, "extremely uncomfortable"),
    ],
)
def test_overlapping_bands_are_both_told(rms, said):
    assert comfort_reaction(rms) == said
