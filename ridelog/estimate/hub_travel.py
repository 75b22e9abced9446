"""Damper travel by hub and body acceleration alone, where there is no travel sensor."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.clipped_hubs import mend_cut_off_hubs
from ridelog.estimate.balance.lever import lever_matrix_of_car
from ridelog.recording import FloatArray

# Slower relative motion is drift of the integration.
_LOWEST_HZ = 0.35
_PADDING_S = 3.0


def travel_of_hubs(
    hub: FloatArray, body: FloatArray, car: Car, sample_rate_hz: float
) -> FloatArray:
    """Damper travel about its slow mean [m], shape (4, n).

    Parameters
    ----------
    hub, body : FloatArray
        Acceleration of the hubs and of the body above them [m/s2], shape (4, n).
    car : Car
        Motion ratios and spacings.
    sample_rate_hz : float
        Sample rate [Hz].

    Notes
    -----
    Hub minus body acceleration, integrated twice above 0.35 Hz. Good to 1 mm on a sound drive; in a
    hit that drives the hub sensor to its limit only to some 10 mm, and slow travel of braking and
    cornering is not in it.

    References
    ----------
    Derived here from the kinematics of hub, body and damper.
    """
    from scipy import fft

    relative = mend_cut_off_hubs(hub, body, None, car, sample_rate_hz) - body
    relative = relative - np.median(relative, axis=1, keepdims=True)
    count = relative.shape[1]
    length = fft.next_fast_len(count + int(_PADDING_S * sample_rate_hz), real=True)
    frequency_hz = fft.rfftfreq(length, 1 / sample_rate_hz)
    rise = 0.5 - 0.5 * np.cos(np.pi * np.clip(frequency_hz / _LOWEST_HZ - 0.5, 0, 1))
    twice = -rise / np.maximum(2 * np.pi * frequency_hz, 0.1) ** 2
    wheel = fft.irfft(fft.rfft(relative, length) * twice, length)[:, :count]
    return np.asarray(lever_matrix_of_car(car) @ wheel)
