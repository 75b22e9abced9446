"""What the force balance works out the short way, against the long way."""

import numpy as np
import pytest

from ridelog.estimate.balance.basis import BasisSettings, force_columns, weighted_ramps
from ridelog.estimate.balance.signals import smooth_gate
from ridelog.estimate.balance.slow_forces import real_pairs, slow_force_columns, taken_by_slow
from ridelog.estimate.balance.transform import make_transform

RATE_HZ = 500.0
COUNT = 20_000


def damper_speed() -> np.ndarray:
    time_s = np.arange(COUNT) / RATE_HZ
    return 0.2 * np.sin(2 * np.pi * 1.4 * time_s) + 0.15 * np.sin(2 * np.pi * 12.3 * time_s + 1)


def holed_gate() -> np.ndarray:
    use = np.ones(COUNT, dtype=bool)
    use[:800] = use[-800:] = use[7000:7100] = use[12_000:12_900] = False
    return smooth_gate(use, RATE_HZ, clearance_s=0.1, ramp_s=0.12)


@pytest.mark.parametrize("speed_noise", [0.0, 0.004])
def test_ramps_less_the_next_are_the_curves(speed_noise):
    settings, speed = BasisSettings(), damper_speed()
    weight = np.linspace(0.2, 1.0, COUNT - 1)
    found = np.zeros((settings.column_count, COUNT - 1))
    for places, rows in weighted_ramps(
        speed, weight, settings, speed_noise_m_per_s=speed_noise, sample_count=COUNT + 7
    ):
        found[places] = rows[:, : COUNT - 1]
    pieces = settings.segment_count
    for side in (found[:pieces], found[pieces : 2 * pieces]):
        side[:-1] -= side[1:]
    curves = force_columns(speed, settings, speed_noise_m_per_s=speed_noise)[:, :-1]
    np.testing.assert_allclose(found, weight * curves, atol=1e-9)


def test_slow_cosines_thinned_are_those_of_every_sample():
    gate, transform = holed_gate(), make_transform(COUNT, RATE_HZ)
    band = transform.band(0.6, 22.0)
    found = slow_force_columns(gate, slice(1000, -1000), transform, band, 0.45)
    phase = np.pi * (np.arange(COUNT) + 0.5) / COUNT
    whole = np.array(
        [
            np.fft.rfft(gate * np.cos(k * phase), transform.padded_count)[band]
            for k in range(len(found))
        ]
    )
    assert len(found) == 37  # twice 0.45 Hz times 40 s, and the constant
    low, largest = found.shape[1], np.abs(whole).max()
    np.testing.assert_allclose(found, whole[:, :low], atol=1e-4 * largest)
    # and what is left out above is nothing beside it
    assert np.abs(whole[:, low:]).max() < 0.01 * largest


def test_thinned_ramps_have_the_spectrum_of_every_sample():
    transform = make_transform(COUNT, RATE_HZ)
    band = transform.band(0.6, 22.0)
    settings, speed, weight = BasisSettings(), damper_speed(), holed_gate()[1:]

    def spectra(every):
        omega = transform.angular_rad_per_s[band]
        half = 0.5 * every / RATE_HZ
        undo = every * np.exp(-1j * omega * half) / np.sinc(omega * half / np.pi)
        ramps = weighted_ramps(
            speed,
            weight,
            settings,
            speed_noise_m_per_s=0.0,
            sample_count=transform.padded_count,
            every=every,
        )
        return np.concatenate([transform.forward(rows, every)[:, band] * undo for _, rows in ramps])

    plain, thinned = spectra(1), spectra(2)
    for row, other in zip(plain, thinned, strict=True):
        assert np.linalg.norm(row - other) < 5e-3 * np.linalg.norm(row) + 1e-12


def test_slow_forces_integrated_out_as_a_covariance_would():
    random = np.random.default_rng(5)
    columns, slow = random.normal(size=(60, 4)), 3 * random.normal(size=(6, 60))
    taken = taken_by_slow(slow, columns)
    direct = columns.T @ np.linalg.inv(np.eye(60) + slow.T @ slow) @ columns
    np.testing.assert_allclose(columns.T @ columns - taken.T @ taken, direct, rtol=1e-9)


def test_real_pairs_keep_products():
    random = np.random.default_rng(6)
    one, other = random.normal(size=(2, 9)) + 1j * random.normal(size=(2, 9))
    product = float(real_pairs(one) @ real_pairs(other))
    assert product == pytest.approx(float((one.conj() @ other).real))
