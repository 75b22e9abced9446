"""From effective to secant damping, and the delay's path."""

import numpy as np
import pytest

from ridelog.estimate.damper_law_prior import DamperLawPrior, effective_over_secant
from ridelog.estimate.hop_peaks import HopSettings, hop_peaks_hz
from ridelog.estimate.road_delay import DelaySettings, group_blocks, smoothest_path


def test_straight_frictionless_damper_needs_no_correction():
    straight = DamperLawPrior(late_slope=(1.0, 1.0), friction_median_n=1e-9)
    ratio = effective_over_secant(2000.0, 0.2, straight)
    assert ratio.mean == pytest.approx(0.0, abs=1e-6)
    assert ratio.sd == pytest.approx(0.0, abs=1e-6)


def test_friction_counts_sqrt_two_over_pi():
    # Roberts & Spanos, Random Vibration and Statistical Linearization, ch. 5: sqrt(2/pi) F / rms.
    # 100 N at 1 m/s rms is worth 79.79 N s/m beside 1000 N s/m in all.
    rubbing = DamperLawPrior(late_slope=(1.0, 1.0), friction_median_n=100.0, friction_log_sd=1e-9)
    ratio = effective_over_secant(1000.0, 1.0, rubbing)
    assert np.exp(ratio.mean) == pytest.approx(1000.0 / (1000.0 - 79.79), rel=1e-4)


def test_curved_dampers_look_softer_the_rougher_the_road():
    means = [effective_over_secant(2500.0, rms, DamperLawPrior()).mean for rms in (0.1, 0.2, 0.4)]
    assert means[0] > means[1] > means[2]
    gauss = np.random.default_rng(2).normal(0.0, 0.4, 400_000)
    # One law of the family by Monte Carlo: knee 0.1 m/s, late slope 0.5, sharp or rounded.
    one = DamperLawPrior(
        knee_m_per_s=(0.1, 0.1000001), late_slope=(0.5, 0.5), friction_median_n=1e-9
    )
    sharp = np.minimum(np.abs(gauss), 0.1) + 0.5 * np.maximum(np.abs(gauss) - 0.1, 0)
    rounded = 0.5 * np.abs(gauss) + 0.05 * np.arctan(np.abs(gauss) / 0.1)
    rounded_secant = (0.025 + 0.05 * np.arctan(0.5)) / 0.05
    slopes = [
        np.mean(sharp * np.abs(gauss)) / 0.16,
        np.mean(rounded * np.abs(gauss)) / 0.16 / rounded_secant,
    ]
    ratio = effective_over_secant(2500.0, 0.4, one)
    assert ratio.mean == pytest.approx(np.mean(np.log(slopes)), abs=0.01)


def test_path_follows_a_change_of_speed_and_groups_it():
    delays_s = np.exp(np.arange(np.log(0.1), np.log(0.4), 0.012))
    true_s = np.repeat([0.15, 0.25], 10)
    noise = np.random.default_rng(4).normal(0, 3.0, (20, len(delays_s)))
    costs = 4000 * np.log(delays_s / true_s[:, None]) ** 2 + noise
    path, _ = smoothest_path(costs, delays_s, np.arange(20) * 4.0, DelaySettings())
    np.testing.assert_allclose(path, true_s, rtol=0.05)
    group, centres = group_blocks(path, DelaySettings())
    assert sorted(np.round(centres, 2)) == [0.15, 0.25]
    early, late = group[:10], group[10:]
    assert max(np.sum(early == 0), np.sum(early == 1)) >= 9
    assert max(np.sum(late == 0), np.sum(late == 1)) >= 9
    assert np.median(early) != np.median(late)


def test_hop_humps_are_named_and_a_plain_slope_is_not():
    frequency_hz = np.arange(0.6, 20, 0.25)
    plain = frequency_hz**-1.0
    humps = plain * (1 + 3 * np.exp(-(((frequency_hz - 11.5) / 0.8) ** 2)))
    assert hop_peaks_hz(frequency_hz, plain, HopSettings()) == ()
    assert hop_peaks_hz(frequency_hz, humps, HopSettings()) == pytest.approx((11.5,), abs=0.3)


def test_the_two_humps_that_stand_out_most_are_named():
    frequency_hz = np.arange(0.6, 20, 0.25)
    density = np.ones_like(frequency_hz)
    for centre_hz, rise in ((8.8, 0.6), (11.6, 2.0), (15.4, 3.0)):
        density += rise * np.exp(-(((frequency_hz - centre_hz) / 0.8) ** 2))
    assert hop_peaks_hz(frequency_hz, density, HopSettings()) == pytest.approx(
        (11.6, 15.4), abs=0.3
    )


@pytest.mark.parametrize("readings", [6.0, 44.0])  # half a minute, three minutes
def test_a_plain_spectrum_seldom_shows_a_hump_by_chance(readings):
    frequency_hz = np.arange(0.6, 20, 0.25)
    rng = np.random.default_rng(7)
    plain = rng.gamma(readings, 1 / readings, (300, len(frequency_hz)))
    found = [
        hop_peaks_hz(frequency_hz, density, HopSettings(), readings_per_bin=readings)
        for density in plain
    ]
    assert sum(map(bool, found)) < 12
