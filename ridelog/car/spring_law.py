"""Springs whose rate changes with travel: progressive coils, a helper on top, one inside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray

_HALVINGS = 80
"""Halvings of a bracket until nothing of it is left in double precision."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringLaw:
    """Force of a spring, or of a stack of springs, against its squash from free length.

    The rate of the main spring (with whatever is coiled inside it) runs in straight lines through
    (`squash_m`, `rate_n_per_m`), both of one length, squash rising from 0; a squash that stands
    twice is a jump. It stays as it is beyond the last. A helper or tender spring on top of it in
    series has `helper_rate_n_per_m` until it is squashed by `helper_travel_m`, where its coils
    touch or its coupler stops it. `scale` multiplies all forces: a stack that strays from its
    sheets.
    """

    squash_m: tuple[float, ...]
    rate_n_per_m: tuple[float, ...]
    helper_rate_n_per_m: float | None = None
    helper_travel_m: float = 0.0
    scale: float = 1.0


def linear_law(rate_n_per_m: float) -> SpringLaw:
    """Law of one plain spring.

    Parameters
    ----------
    rate_n_per_m : float
        Rate [N/m].
    """
    return SpringLaw(squash_m=(0.0,), rate_n_per_m=(rate_n_per_m,))


def rate_points_law(points: tuple[tuple[float, float], ...]) -> SpringLaw:
    """Law of a progressive spring from its rate at some squashes.

    Parameters
    ----------
    points : tuple of (float, float)
        Squash from free length [m], rising, and rate there [N/m].
    """
    squash, rate = zip(*points, strict=True)
    if squash[0] > 0:
        squash, rate = (0.0, *squash), (rate[0], *rate)
    return SpringLaw(squash_m=tuple(squash), rate_n_per_m=tuple(rate))


def load_points_law(points: tuple[tuple[float, float], ...], pieces: int = 16) -> SpringLaw:
    """Law of a progressive spring from its load at some squashes, as on a maker's sheet.

    Parameters
    ----------
    points : tuple of (float, float)
        Squash from free length [m] and load [N], both rising; free length itself is implied.
    pieces : int
        Straight pieces of rate between two points.

    References
    ----------
    F. N. Fritsch & R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238: monotone cubic interpolation
    (as scipy has it), so that the rate never turns negative between points.
    """
    from scipy.interpolate import PchipInterpolator

    given = points if points[0][0] <= 0 else ((0.0, 0.0), *points)
    squash, load = np.array(given).T
    steps = np.linspace(0.0, 1.0, pieces + 1)[:-1]
    fine = np.append((squash[:-1, None] + np.diff(squash)[:, None] * steps).ravel(), squash[-1])
    rate = PchipInterpolator(squash, load).derivative()(fine)
    # The end slopes of the interpolation may be nought; a spring's are not.
    rate = np.maximum(rate, 0.05 * load[-1] / squash[-1])
    return SpringLaw(squash_m=tuple(map(float, fine)), rate_n_per_m=tuple(map(float, rate)))


def with_inner(law: SpringLaw, rate_n_per_m: float, gap_m: float) -> SpringLaw:
    """Put a shorter spring inside, which begins to carry once the outer is squashed by a gap.

    Parameters
    ----------
    law : SpringLaw
        The outer spring.
    rate_n_per_m : float
        Rate of the inner spring [N/m].
    gap_m : float
        Squash of the outer one at which the inner one begins to carry [m].

    References
    ----------
    V. B. Bhandari, Design of Machine Elements, ch. 10: springs side by side, rates add.
    """
    squash, rate = np.array(law.squash_m), np.array(law.rate_n_per_m)
    at_gap = float(np.interp(gap_m, squash, rate))
    before, after = squash < gap_m, squash > gap_m
    return SpringLaw(
        squash_m=(*squash[before], gap_m, gap_m, *squash[after]),
        rate_n_per_m=(*rate[before], at_gap, at_gap + rate_n_per_m, *(rate[after] + rate_n_per_m)),
        helper_rate_n_per_m=law.helper_rate_n_per_m,
        helper_travel_m=law.helper_travel_m,
        scale=law.scale,
    )


def main_squash_m(law: SpringLaw, load_n: FloatArray | float) -> FloatArray:
    """Squash of the main spring alone under a load [m].

    Parameters
    ----------
    law : SpringLaw
        The law.
    load_n : FloatArray or float
        Load [N]; below 0 counts as 0.
    """
    squash, rate, slope, load = _pieces(law)
    wanted = np.maximum(np.asarray(load_n, dtype=float) / law.scale, 0.0)
    piece = np.maximum(np.searchsorted(load, wanted, side="right") - 1, 0)
    more, k = wanted - load[piece], rate[piece]
    root = np.sqrt(np.maximum(k**2 + 2 * slope[piece] * more, 0.0))
    result: FloatArray = squash[piece] + 2 * more / (k + root)
    return result


def squash_at_load_m(law: SpringLaw, load_n: FloatArray | float) -> FloatArray:
    """Squash of the whole stack under a load [m].

    Parameters
    ----------
    law : SpringLaw
        The law.
    load_n : FloatArray or float
        Load [N]; below 0 counts as 0.

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, table on p. 36: springs in series carry
    one load and their squashes add.
    """
    main = main_squash_m(law, load_n)
    if law.helper_rate_n_per_m is None:
        return main
    own = np.maximum(np.asarray(load_n, dtype=float), 0.0) / (law.scale * law.helper_rate_n_per_m)
    result: FloatArray = main + np.minimum(own, law.helper_travel_m)
    return result


def rate_at_load_n_per_m(law: SpringLaw, load_n: FloatArray | float) -> FloatArray:
    """Rate of the whole stack under a load [N/m]; at a jump the rate beyond it.

    Parameters
    ----------
    law : SpringLaw
        The law.
    load_n : FloatArray or float
        Load [N].

    References
    ----------
    W. T. Thomson, Theory of Vibration with Applications, table on p. 36: 1/k = 1/k1 + 1/k2.
    """
    squash, rate, slope, load = _pieces(law)
    wanted = np.maximum(np.asarray(load_n, dtype=float) / law.scale, 0.0)
    piece = np.maximum(np.searchsorted(load, wanted, side="right") - 1, 0)
    main = rate[piece] + slope[piece] * (main_squash_m(law, load_n) - squash[piece])
    if law.helper_rate_n_per_m is not None:
        helper = law.helper_rate_n_per_m
        is_open = wanted < helper * law.helper_travel_m
        main = np.where(is_open, main * helper / (main + helper), main)
    result: FloatArray = law.scale * main
    return result


def load_at_squash_n(law: SpringLaw, squash_m: FloatArray | float) -> FloatArray:
    """Load on a stack at a squash [N]; 0 where it is loose.

    Parameters
    ----------
    law : SpringLaw
        The law.
    squash_m : FloatArray or float
        Squash from free length [m].
    """
    wanted = np.maximum(np.asarray(squash_m, dtype=float), 0.0)
    if law.helper_rate_n_per_m is None:
        return law.scale * _main_load(law, wanted)
    low = np.zeros_like(wanted)
    high = law.scale * _main_load(law, wanted)  # the stack is softer than its main spring
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        short = squash_at_load_m(law, middle) < wanted
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    result: FloatArray = (low + high) / 2
    return result


def helper_closing_load_n(law: SpringLaw) -> float | None:
    """Load at which the helper closes [N]; None without one.

    Parameters
    ----------
    law : SpringLaw
        The law.
    """
    if law.helper_rate_n_per_m is None:
        return None
    return law.scale * law.helper_rate_n_per_m * law.helper_travel_m


def _main_load(law: SpringLaw, squash_m: FloatArray) -> FloatArray:
    """Load of the main spring before scaling [N]: the integral of its rate."""
    squash, rate, slope, load = _pieces(law)
    piece = np.maximum(np.searchsorted(squash, squash_m, side="right") - 1, 0)
    more = squash_m - squash[piece]
    result: FloatArray = load[piece] + rate[piece] * more + slope[piece] * more**2 / 2
    return result


def _pieces(law: SpringLaw) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Squash, rate, slope of rate and load where each piece begins."""
    squash, rate = np.array(law.squash_m), np.array(law.rate_n_per_m)
    width = np.diff(squash)
    steps = np.where(width > 0, np.diff(rate) / np.where(width > 0, width, 1.0), 0.0)
    load = np.append(0.0, np.cumsum(width * (rate[:-1] + rate[1:]) / 2))
    return squash, rate, np.append(steps, 0.0), load
