"""Cross-spectra against scipy.signal, and the identity on motions made by hand."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import signal

from ridelog.condition.signals import Signals
from ridelog.condition.spectra import cross_spectra

RATE_HZ = 250.0


def signals_of(**channels: np.ndarray) -> Signals:
    count = len(next(iter(channels.values())))
    return Signals(
        sample_rate_hz=RATE_HZ, channels=channels, doubtful={}, missing=np.zeros(count, dtype=bool)
    )


def test_cross_spectra_agree_with_scipy():
    rng = np.random.default_rng(8)
    shared = rng.standard_normal(10_000)
    first = np.convolve(shared, [0.2, 0.5, 0.3], mode="same")
    second = -0.5 * np.roll(shared, 3) + 0.1 * rng.standard_normal(10_000)
    found = cross_spectra(signals_of(body_fl=first, body_fr=second), ("body_fl", "body_fr"))
    assert found is not None
    # our first window starts one sample in, for the second difference of travel
    frequency, density = signal.csd(
        first[1:-1], second[1:-1], fs=RATE_HZ, window="hann", nperseg=1000, noverlap=500
    )
    band = np.isin(np.round(frequency, 6), np.round(found.frequency_hz, 6))
    assert np.allclose(found.density[:, 0, 1], density[band], rtol=0.0, atol=1e-12)


def test_travel_comes_as_its_second_derivative():
    time_s = np.arange(10_000) / RATE_HZ
    omega = 2 * np.pi * 12.0
    travel = 0.01 * np.sin(omega * time_s)
    body = -0.01 * omega**2 * np.sin(omega * time_s)
    found = cross_spectra(signals_of(travel_fl=travel, body_fl=body), ("travel_fl", "body_fl"))
    assert found is not None
    at_wave = int(np.argmin(np.abs(found.frequency_hz - 12.0)))
    ratio = found.density[at_wave, 0, 1] / found.density[at_wave, 1, 1]
    assert ratio == pytest.approx(1.0, abs=1e-4)


def test_doubtful_stretches_take_no_part():
    values = np.random.default_rng(9).standard_normal(20_000)
    spoilt = values.copy()
    spoilt[5000:6000] += 1e3
    doubt = np.zeros(20_000, dtype=bool)
    doubt[5000:6000] = True
    signals = signals_of(body_fl=spoilt).with_doubt("body_fl", doubt)
    found = cross_spectra(signals, ("body_fl",))
    assert found is not None
    assert np.max(found.density.real) < 0.1


def test_too_short_a_log_has_none():
    assert cross_spectra(signals_of(body_fl=np.zeros(1500)), ("body_fl",)) is None
