"""Damper force as a sum of simple curves of damper speed, averaged over each sample interval.

A damper reverses within a sample: the sign of friction read at the sample instants alone is too
coarse. Every curve is therefore averaged along the straight line between neighbouring speeds,
from its exact integral.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray

# Less noise than this blurs no kink that matters.
_LEAST_BLUR_M_PER_S = 0.001


@dataclass(frozen=True, slots=True, kw_only=True)
class BasisSettings:
    """Where the force curve may bend, and how sharply friction may turn.

    Nodes are dense where production dampers have their knee. The friction widths span what seals
    and bushings do.
    """

    node_speeds_m_per_s: tuple[float, ...] = (
        0.0,
        0.015,
        0.03,
        0.05,
        0.07,
        0.09,
        0.11,
        0.13,
        0.15,
        0.175,
        0.2,
        0.25,
        0.3,
        0.4,
        0.55,
    )
    friction_widths_m_per_s: tuple[float, ...] = (0.0013, 0.0022, 0.0037, 0.0062, 0.0105)

    @property
    def segment_count(self) -> int:
        """Straight pieces on either side; the last one goes on without end."""
        return len(self.node_speeds_m_per_s)

    @property
    def column_count(self) -> int:
        """Curves per corner: bump pieces, rebound pieces, friction widths."""
        return 2 * self.segment_count + len(self.friction_widths_m_per_s)


def _ramp_integral(speed: FloatArray, blur: float) -> FloatArray:
    """Integral of max(speed, 0), or of its mean over Gaussian speed noise of sd `blur`."""
    if blur <= 0:
        above = np.maximum(speed, 0.0)
        above *= 0.5 * above
        return above
    from scipy.special import ndtr

    scaled = speed / blur
    density = np.exp(-0.5 * scaled**2) / np.sqrt(2 * np.pi)
    below = ndtr(scaled)
    return np.asarray(0.5 * ((speed**2 + blur**2) * below + speed * blur * density))


def _sign_integral(speed: FloatArray, width: float) -> FloatArray:
    """Integral of the smoothed sign erf(speed / (width sqrt 2))."""
    from scipy.special import erf

    integral = np.abs(speed)
    # Further out erf is 1 to the last digit.
    near = np.flatnonzero(integral < 6 * np.sqrt(2) * width)
    scaled = speed[near] / (width * np.sqrt(2))
    smooth = width * np.sqrt(2 / np.pi) * np.exp(-(scaled**2))
    integral[near] = speed[near] * erf(scaled) + smooth
    return integral


def _interval_mean(integral: FloatArray, step: FloatArray) -> FloatArray:
    """Mean over each interval from the integral at its ends and the speed step."""
    mean = np.empty_like(integral)
    mean[:-1] = np.diff(integral) / step
    mean[-1] = mean[-2]
    return mean


def speed_steps(speed_m_per_s: FloatArray) -> FloatArray:
    """Speed change over each interval, kept away from zero, shape (n - 1,).

    Parameters
    ----------
    speed_m_per_s : ndarray
        Damper speed [m/s], shape (n,).
    """
    step = np.diff(speed_m_per_s)
    tiny = 1e-8
    return np.where(np.abs(step) < tiny, np.where(step < 0, -tiny, tiny), step)


def force_columns(
    speed_m_per_s: FloatArray, settings: BasisSettings, *, speed_noise_m_per_s: float = 0.0
) -> FloatArray:
    """All curves of one corner, averaged over the intervals between samples.

    Parameters
    ----------
    speed_m_per_s : ndarray
        Damper speed [m/s], shape (n,), bump positive.
    settings : BasisSettings
        Nodes and widths.
    speed_noise_m_per_s : float
        Standard deviation of the error of the speed [m/s]; kinks and signs are blurred by it, so
        that a noisy speed does not make the damper look weaker than it is.

    Returns
    -------
    ndarray
        Shape (columns, n): bump pieces [m/s], rebound pieces [m/s, negative], friction signs [-].
    """
    nodes = settings.node_speeds_m_per_s
    step = speed_steps(speed_m_per_s)
    # The interval mean is taken from differences of an integral: guard tiny steps by the midpoint.
    blur = speed_noise_m_per_s if speed_noise_m_per_s > _LEAST_BLUR_M_PER_S else 0.0
    count = settings.segment_count
    columns = np.empty((settings.column_count, speed_m_per_s.shape[0]))
    for side, sign in enumerate((1.0, -1.0)):
        ramps = [
            _interval_mean(sign * _ramp_integral(sign * speed_m_per_s - node, blur), step)
            for node in nodes
        ]
        for piece in range(count):
            upper = ramps[piece + 1] if piece + 1 < count else 0.0
            columns[side * count + piece] = sign * (ramps[piece] - upper)
    for index, width in enumerate(settings.friction_widths_m_per_s):
        wide = float(np.hypot(width, speed_noise_m_per_s))
        columns[2 * count + index] = _interval_mean(_sign_integral(speed_m_per_s, wide), step)
    return columns


def weighted_ramps(
    speed_m_per_s: FloatArray,
    weight: FloatArray,
    settings: BasisSettings,
    *,
    speed_noise_m_per_s: float,
    sample_count: int,
    every: int = 1,
) -> Iterator[tuple[slice, FloatArray]]:
    """Curves of one corner as running sums, weighted: what `force_columns` holds, for a transform.

    Parameters
    ----------
    speed_m_per_s : ndarray
        Damper speed [m/s], shape (n,), bump positive.
    weight : ndarray
        Weight of each interval [-], shape (n - 1,).
    settings : BasisSettings
        Nodes and widths.
    speed_noise_m_per_s : float
        Standard deviation of the error of the speed [m/s].
    sample_count : int
        Length of the record [count], zeros behind the intervals; divisible by `every`.
    every : int
        Intervals averaged into one value [count].

    Yields
    ------
    tuple
        Which columns, and their rows, shape (columns, sample_count / every), good until the next
        step. Columns that no speed reaches are zero and left out. A piece is its ramp less the next
        one's: taken after a transform, that is cheaper.
    """
    blur = speed_noise_m_per_s if speed_noise_m_per_s > _LEAST_BLUR_M_PER_S else 0.0
    count = settings.segment_count
    intervals = len(weight)
    scaled = weight / (every * speed_steps(speed_m_per_s))
    fine = np.zeros(sample_count)
    rows = np.zeros((count, sample_count // every))

    def put(row: FloatArray, integral: FloatArray) -> None:
        np.subtract(integral[1:], integral[:-1], out=fine[:intervals])
        fine[:intervals] *= scaled
        row[:] = fine[::every]
        for later in range(1, every):
            row += fine[later::every]

    for side, sign in enumerate((1.0, -1.0)):
        signed = sign * speed_m_per_s
        nodes = np.array(settings.node_speeds_m_per_s)
        reached = nodes[nodes < signed.max()] if blur == 0.0 else nodes
        for row, node in zip(rows, reached, strict=False):
            put(row, _ramp_integral(signed - node, blur))
        if len(reached):
            yield slice(side * count, side * count + len(reached)), rows[: len(reached)]
    widths = settings.friction_widths_m_per_s
    for row, width in zip(rows[: len(widths)], widths, strict=True):
        put(row, _sign_integral(speed_m_per_s, float(np.hypot(width, speed_noise_m_per_s))))
    yield slice(2 * count, settings.column_count), rows[: len(widths)]


def curve_force_n(
    speed_m_per_s: FloatArray, slopes_n_s_per_m: FloatArray, settings: BasisSettings
) -> FloatArray:
    """Damper force of a fitted curve, friction excluded.

    Parameters
    ----------
    speed_m_per_s : ndarray
        Damper speeds [m/s], any shape.
    slopes_n_s_per_m : ndarray
        Slope of each piece [N s/m], bump pieces then rebound pieces, shape (2 segments,).
    settings : BasisSettings
        Nodes.

    Returns
    -------
    ndarray
        Force [N], bump positive.
    """
    return np.tensordot(slopes_n_s_per_m, piece_values(speed_m_per_s, settings), axes=1)


def piece_values(speed_m_per_s: FloatArray, settings: BasisSettings) -> FloatArray:
    """Value of every piece at given speeds, shape (2 segments, ...).

    Parameters
    ----------
    speed_m_per_s : ndarray
        Damper speeds [m/s], any shape.
    settings : BasisSettings
        Nodes.
    """
    speed = np.asarray(speed_m_per_s, dtype=float)
    nodes = np.array(settings.node_speeds_m_per_s)
    lengths = np.append(np.diff(nodes), np.inf)
    shape = (-1,) + (1,) * speed.ndim
    bump = np.clip(speed[None] - nodes.reshape(shape), 0, lengths.reshape(shape))
    rebound = -np.clip(-speed[None] - nodes.reshape(shape), 0, lengths.reshape(shape))
    return np.concatenate([bump, rebound])
