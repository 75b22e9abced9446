"""Simulated roads against ISO 8608 and against the spectral estimators of a general library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import coherence, welch

from ridelog.simulate.road import Bump, Road, draw_road, iso8608_class

STEP_M = 0.05


def drawn(road: Road, *, length_m: float = 12_000.0, seed: int = 1, step_m: float = STEP_M):
    rng = np.random.default_rng(seed)
    return draw_road(road, length_m=length_m, track_m=1.5, rng=rng, step_m=step_m)


# ISO 8608:2016: geometric means Gd(n0) of the classes, 1e-6 m3 (five public sources agree).
@pytest.mark.parametrize(
    ("letter", "mean_gd"), [("A", 16e-6), ("B", 64e-6), ("C", 256e-6), ("D", 1024e-6)]
)
def test_spectrum_of_a_drawn_road_is_its_class(letter, mean_gd):
    tracks = drawn(Road(gd_n0_m3=mean_gd, patch_m=0.0))
    per_m, psd = welch(tracks.height_m[0], fs=1 / STEP_M, nperseg=8192)
    band = (per_m > 0.05) & (per_m < 2.0)
    slope, level = np.polyfit(np.log(per_m[band] / 0.1), np.log(psd[band]), 1)
    assert -slope == pytest.approx(2.0, abs=0.05)
    assert np.exp(level) == pytest.approx(mean_gd, rel=0.1)
    assert iso8608_class(float(np.exp(level))) == letter


def test_rms_height_of_a_class_a_road():
    # Class A, geometric mean, 0.011 to 2.83 cycle/m: 3.81 mm rms, by integrating ISO 8608's
    # spectrum; the same figure is printed in textbooks (from memory).
    tracks = drawn(Road(gd_n0_m3=16e-6, patch_m=0.0, flat_below_per_m=1e-4), length_m=40_000.0)
    height = tracks.height_m[0]
    spectrum = np.fft.rfft(height)
    per_m = np.fft.rfftfreq(len(height), STEP_M)
    spectrum[(per_m < 0.011) | (per_m > 2.83)] = 0.0
    assert np.std(np.fft.irfft(spectrum)) * 1000 == pytest.approx(3.81, rel=0.05)


@pytest.mark.parametrize("exponent", [1.8, 2.3])
def test_waviness_is_the_one_asked_for(exponent):
    tracks = drawn(Road(gd_n0_m3=64e-6, exponent=exponent, patch_m=0.0))
    per_m, psd = welch(tracks.height_m[3], fs=1 / STEP_M, nperseg=8192)
    band = (per_m > 0.05) & (per_m < 2.0)
    slope = np.polyfit(np.log(per_m[band]), np.log(psd[band]), 1)[0]
    assert -slope == pytest.approx(exponent, abs=0.06)


def test_wheel_tracks_agree_in_long_waves_and_not_in_short_ones():
    tracks = drawn(Road(gd_n0_m3=64e-6, coherence_ratio=0.2, patch_m=0.0))
    per_m, agreement = coherence(
        tracks.height_m[0], tracks.height_m[1], fs=1 / STEP_M, nperseg=1024
    )
    assert agreement[(per_m > 0.015) & (per_m < 0.03)].mean() > 0.85
    assert agreement[per_m > 1.5].mean() < 0.05
    # At coherence_ratio / track the mean of both tracks and their difference carry 3 : 1, which is
    # a cross-spectrum of one half of either: magnitude squared 0.25.
    crossing = np.argmin(np.abs(per_m - 0.2 / 1.5))
    assert agreement[crossing - 2 : crossing + 3].mean() == pytest.approx(0.25, abs=0.1)


def test_rear_wheels_follow_the_front_tracks_unless_they_wander():
    same = drawn(Road(gd_n0_m3=64e-6), length_m=500.0)
    np.testing.assert_array_equal(same.height_m[:2], same.height_m[2:])
    apart = drawn(Road(gd_n0_m3=64e-6, wander_m=0.2, patch_m=0.0))
    per_m, agreement = coherence(apart.height_m[0], apart.height_m[2], fs=1 / STEP_M, nperseg=1024)
    assert agreement[(per_m > 0.02) & (per_m < 0.5)].mean() > 0.9
    assert agreement[per_m > 5.0].mean() < 0.2


def test_tyre_averages_over_its_patch():
    # A running mean over p has the response sinc(n p): none at all at one wave per patch.
    rough = drawn(Road(gd_n0_m3=64e-6, patch_m=0.0), length_m=2000.0, step_m=0.02)
    smooth = drawn(Road(gd_n0_m3=64e-6, patch_m=0.14), length_m=2000.0, step_m=0.02)
    mean = np.convolve(rough.height_m[0], np.full(7, 1 / 7), mode="same")
    inner = slice(4000, -4000)
    error = np.std(mean[inner] - smooth.height_m[0][inner])
    assert error < 0.2 * np.std(rough.height_m[0][inner] - smooth.height_m[0][inner])


def test_car_stands_on_level_ground():
    tracks = drawn(Road(gd_n0_m3=1e-3, level_m=6.0), length_m=200.0)
    assert np.abs(tracks.height_m[:, : int(6.0 / STEP_M)]).max() == 0.0


def test_bump_stands_where_it_was_put():
    ridge = Bump(place_m=50.0, length_m=1.0, height_m=0.08, right=False)
    tracks = drawn(Road(gd_n0_m3=1e-12, bumps=(ridge,)), length_m=200.0, step_m=0.02)
    left, right = tracks.height_m[0], tracks.height_m[1]
    assert left.max() == pytest.approx(0.08, rel=1e-3)
    assert np.argmax(left) * 0.02 == pytest.approx(50.5, abs=0.03)
    assert np.abs(right).max() < 1e-3


# ISO 8608:2016 class limits; 100e-6 m3 lies between 32 and 128.
@pytest.mark.parametrize(
    ("gd", "letter"), [(20e-6, "A"), (33e-6, "B"), (100e-6, "B"), (500e-6, "C"), (2e-3, "D")]
)
def test_class_letters(gd, letter):
    assert iso8608_class(gd) == letter
