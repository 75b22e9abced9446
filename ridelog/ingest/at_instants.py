"""Put a channel with a clock of its own on other instants."""

from __future__ import annotations

import numpy as np

from ridelog.recording import FloatArray

# A hole of more than this many of the channel's own usual steps is not bridged: what a satellite
# speed does in five seconds is anybody's guess.
_WIDEST_HOLE_STEPS = 5.0


def at_instants(
    wanted_s: FloatArray, time_s: FloatArray, values: FloatArray, start_s: float
) -> FloatArray:
    """Join a channel's values by straight lines at other instants, not past ends or holes.

    Parameters
    ----------
    wanted_s : ndarray
        Where values are wanted [s], shape (m,).
    time_s : ndarray
        The channel's own clock [s], shape (n,).
    values : ndarray
        Its values, in any unit, shape (n,).
    start_s : float
        From when on they count [s].

    Returns
    -------
    ndarray
        Values, shape (m,); NaN where there are none.
    """
    good = np.isfinite(time_s) & np.isfinite(values) & (time_s >= start_s)
    at, first = np.unique(time_s[good], return_index=True)
    if at.size < 2:
        return np.full(wanted_s.shape, np.nan)
    joined = np.interp(wanted_s, at, values[good][first], left=np.nan, right=np.nan)
    steps = np.diff(at)
    hole = steps > _WIDEST_HOLE_STEPS * float(
        np.median(np.diff(np.unique(time_s[np.isfinite(time_s)])))
    )
    piece = np.clip(np.searchsorted(at, wanted_s) - 1, 0, steps.size - 1)
    joined[hole[piece] & (wanted_s > at[piece]) & (wanted_s < at[piece + 1])] = np.nan
    return joined
