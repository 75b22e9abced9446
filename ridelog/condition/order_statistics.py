"""Median and quantile of long signals by one partition each, a fraction of the general ones' cost.

`numpy.median` and `numpy.quantile` partition at several places at once to mind missing values,
which takes five times as long. Signals on the even base have none missing.
"""

from __future__ import annotations

import numpy as np

from ridelog.recording import FloatArray


def median(values: FloatArray) -> FloatArray:
    """Median along the last axis, as `numpy.median` has it.

    Parameters
    ----------
    values : float array, shape (..., n)
        At least one value in any unit, none of them NaN.

    Returns
    -------
    float array, shape (...)
        In the unit of the values.
    """
    count = values.shape[-1]
    split = np.partition(values, count // 2, axis=-1)
    upper = split[..., count // 2]
    if count % 2:
        return np.asarray(upper)
    return np.asarray(0.5 * (split[..., : count // 2].max(axis=-1) + upper))


def quantile(values: FloatArray, share: float) -> float:
    """Value below which a share of the values lies, between neighbours on a straight line.

    Parameters
    ----------
    values : float array, shape (n,)
        At least one value in any unit, none of them NaN.
    share : float
        0 to 1.

    Returns
    -------
    float
        In the unit of the values.
    """
    position = share * (len(values) - 1)
    place = int(position)
    split = np.partition(values, place)
    if place == len(values) - 1:
        return float(split[place])
    above = split[place + 1 :].min()
    return float(split[place] + (position - place) * (above - split[place]))
