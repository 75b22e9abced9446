"""Damper travel and speed through hits, where a hub sensor is at its limit and travel is not.

The rate of a travel sensor's readings is noisy; hub and body acceleration tell speed ten times
better, but not while a hub sensor is at its limit. Both together tell it throughout.
"""

from __future__ import annotations

import numpy as np

from ridelog.estimate.balance.kinematics import Calibration
from ridelog.estimate.balance.motion import correct
from ridelog.estimate.balance.signals import CornerSignals
from ridelog.estimate.balance.transform import ComplexArray, Transform, end_taper
from ridelog.recording import BoolArray, FloatArray

# Error of a travel reading, noise and steps of ten bits over 200 mm.
_TRAVEL_ERROR_M = 0.16e-3
# Error of an acceleration that is whole (noise, tilt, gain), and of one at the sensor's limit:
# what a wheel may do in a hit. Found on simulated cars.
_WHOLE_ERROR_M_PER_S2 = 1.0
_CUT_OFF_ERROR_M_PER_S2 = 200.0
# A reading at the limit spoils its neighbours by the sensor's own filter.
_BESIDE_LIMIT_S = 0.01


def damper_acceleration(
    part: CornerSignals,
    body: ComplexArray,
    calibration: Calibration,
    lever: FloatArray,
    transform: Transform,
    taper_s: float,
) -> tuple[FloatArray, BoolArray]:
    """Acceleration of the dampers by hub and body sensors, and where it cannot be trusted.

    Parameters
    ----------
    part : CornerSignals
        A stretch with hubs.
    body : ndarray
        Spectra of body acceleration [m/s2], calibrated, shape (4, f).
    calibration : Calibration
        Gains and delays of the hubs.
    lever : ndarray
        Damper travel per wheel travel [-], shape (4, 4).
    transform : Transform
        Of the stretch.
    taper_s : float
        Length of either tapered end, as of `body` [s].

    Returns
    -------
    tuple of ndarray
        Acceleration [m/s2], bump positive, and a mask, shape (4, n) each.

    References
    ----------
    Kinematics of hub, body and damper.
    """
    hub = part.hub_m_per_s2
    if hub is None or part.hub_cut_off is None:
        raise ValueError("damper acceleration takes hub sensors")
    window = end_taper(transform.sample_count, transform.sample_rate_hz, taper_s)
    spectra = transform.forward((hub - np.median(hub, axis=1, keepdims=True)) * window)
    spectra = correct(spectra, calibration.hub_log_gain, calibration.hub_delay_s, transform)
    near = np.ones(2 * round(_BESIDE_LIMIT_S * part.sample_rate_hz) + 1)
    spoilt = [np.convolve(each | ~part.use, near, mode="same") > 0.5 for each in part.hub_cut_off]
    return lever @ transform.inverse(spectra - body), np.abs(lever) @ spoilt > 0


def smoothed_motion(
    travel_m: FloatArray,
    acceleration_m_per_s2: FloatArray,
    cut_off: BoolArray,
    sample_rate_hz: float,
) -> tuple[FloatArray, FloatArray]:
    """Travel and speed of one damper that fit readings of travel and acceleration best.

    Parameters
    ----------
    travel_m : ndarray
        Damper travel as read [m], shape (n,).
    acceleration_m_per_s2 : ndarray
        Its acceleration as read [m/s2], shape (n,).
    cut_off : ndarray of bool
        Where the acceleration is not to be trusted, shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].

    Returns
    -------
    tuple of ndarray
        Travel [m] and speed [m/s], shape (n,) each.

    References
    ----------
    Least squares over travel and its second differences; E. T. Whittaker, Proc. Edinburgh Math.
    Soc. 41 (1923) 63 (from memory), with a measured instead of no second difference.
    """
    from scipy.linalg import solveh_banded

    error = np.where(cut_off, _CUT_OFF_ERROR_M_PER_S2, _WHOLE_ERROR_M_PER_S2)[1:-1]
    weight = (_TRAVEL_ERROR_M * sample_rate_hz**2 / error) ** 2
    bands = np.zeros((3, len(travel_m)))  # diagonals of 1 + D' W D, the main one last
    bands[2] = 1.0
    target = travel_m.copy()
    wanted = weight * acceleration_m_per_s2[1:-1] / sample_rate_hz**2
    for shift, factor in ((0, 1.0), (1, -2.0), (2, 1.0)):
        place = slice(shift, len(travel_m) - 2 + shift)
        bands[2, place] += factor**2 * weight
        target[place] += factor * wanted
    bands[1, 1:-1] -= 2 * weight
    bands[1, 2:] -= 2 * weight
    bands[0, 2:] = weight
    travel = np.asarray(solveh_banded(bands, target))
    return travel, np.gradient(travel, 1 / sample_rate_hz)
