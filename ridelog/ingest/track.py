"""Positions of a satellite receiver turned into speed."""

from __future__ import annotations

import numpy as np

from ridelog.recording import FloatArray

# Mean radius of the earth by the International Union of Geodesy and Geophysics, (2 a + b) / 3 of
# the WGS 84 ellipsoid. Against the ellipsoid a short distance is wrong by at most 0.6 %.
_EARTH_RADIUS_M = 6_371_008.8


def distances_m(latitude_deg: FloatArray, longitude_deg: FloatArray) -> FloatArray:
    """Distance from each position to the next, on a sphere.

    Parameters
    ----------
    latitude_deg, longitude_deg : ndarray
        Positions [deg], shape (n,).

    Returns
    -------
    ndarray
        Distances [m], shape (n - 1,).

    References
    ----------
    R. W. Sinnott, Virtues of the Haversine, Sky and Telescope 68 (1984), p. 159 (from memory).
    """
    north, east = np.radians(latitude_deg), np.radians(longitude_deg)
    chord = (
        np.sin(np.diff(north) / 2) ** 2
        + np.cos(north[:-1]) * np.cos(north[1:]) * np.sin(np.diff(east) / 2) ** 2
    )
    return np.asarray(2 * _EARTH_RADIUS_M * np.arcsin(np.sqrt(np.clip(chord, 0, 1))))


def speed_from_positions(
    time_s: FloatArray, latitude_deg: FloatArray, longitude_deg: FloatArray
) -> FloatArray:
    """Speed at each position, from the positions before and after it.

    Parameters
    ----------
    time_s : ndarray
        Times [s], shape (n,).
    latitude_deg, longitude_deg : ndarray
        Positions [deg], shape (n,).

    Returns
    -------
    ndarray
        Speed [m/s], shape (n,); NaN where the clock does not advance or there is but one position.
    """
    if len(time_s) < 2:
        return np.full(len(time_s), np.nan)
    way_m = np.concatenate(([0.0], np.cumsum(distances_m(latitude_deg, longitude_deg))))
    before = np.maximum(np.arange(len(time_s)) - 1, 0)
    after = np.minimum(np.arange(len(time_s)) + 1, len(time_s) - 1)
    lasted_s = time_s[after] - time_s[before]
    lasted_s = np.where(lasted_s > 0, lasted_s, np.nan)
    return np.asarray((way_m[after] - way_m[before]) / lasted_s)
