"""Single bumps: found in noise, and kept out of the spectral fit."""

import numpy as np

from ridelog.estimate.single_bumps import single_bumps

RATE_HZ = 200.0


def road_noise(seed, seconds=120.0):
    rng = np.random.default_rng(seed)
    return rng.normal(size=(2, round(seconds * RATE_HZ)))


def test_gaussian_noise_holds_no_bump():
    # A Gaussian process in this band reaches 5.5 times its spread less than once in a year
    # (Rice's formula: upcrossings a second = about 12 exp(-5.5^2 / 2)); its median errs by a tenth.
    noise = road_noise(1)
    valid = np.ones(noise.shape[1], bool)
    assert not single_bumps(noise, valid, sample_rate_hz=RATE_HZ).any()


def test_rough_road_after_smooth_is_no_bump():
    noise = road_noise(2)
    noise[:, noise.shape[1] // 2 :] *= 4.0
    valid = np.ones(noise.shape[1], bool)
    assert single_bumps(noise, valid, sample_rate_hz=RATE_HZ).mean() < 0.05


def test_a_bump_in_one_channel_marks_its_surroundings():
    noise = road_noise(3)
    at = round(50 * RATE_HZ)
    time_s = np.arange(round(0.1 * RATE_HZ)) / RATE_HZ
    noise[1, at : at + len(time_s)] += 12 * np.sin(2 * np.pi * 5 * time_s)
    valid = np.ones(noise.shape[1], bool)
    marked = np.flatnonzero(single_bumps(noise, valid, sample_rate_hz=RATE_HZ)) / RATE_HZ
    assert 49.4 < marked[0] < 50.0
    assert 51.0 < marked[-1] < 51.5


def test_missing_samples_are_no_bump():
    noise = road_noise(4)
    valid = np.ones(noise.shape[1], bool)
    hole = slice(4000, 4400)
    noise[:, hole], valid[hole] = np.nan, False
    assert not single_bumps(noise, valid, sample_rate_hz=RATE_HZ).any()
