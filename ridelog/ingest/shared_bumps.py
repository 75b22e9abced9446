"""The offset between the clocks of two loggers that felt the same knocks or kerbs."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ridelog.car.measured import Measured, around
from ridelog.errors import CalibrationError
from ridelog.ingest.two_clocks import ClockMatch
from ridelog.recording import FloatArray

_REMEDY = "knock three times on the body above the sensors, standing still, a few seconds apart"


@dataclass(frozen=True, slots=True, kw_only=True)
class BumpSettings:
    """How bumps are found and matched.

    A bump stands out from the mean over `slow_s`; the strongest count, down to `weakest` of the
    strongest, `apart_s` from each other, `most` of them. `onsets` are the shares of its own height
    at which a bump's beginning is read. Two bumps are the same if the others put them within
    `reach_s`. A lone bump must be `lone_lead` times as high as anything else in both recordings.
    """

    slow_s: float = 0.5
    weakest: float = 0.25
    apart_s: float = 0.7
    most: int = 12
    onsets: tuple[float, ...] = (0.25, 0.35, 0.5)
    reach_s: float = 0.06
    lone_lead: float = 2.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Bumps:
    """Bumps of one recording: beginnings [s], shape (bumps, onsets), and heights, shape (bumps,).

    `step_s` is the usual sample step, `lead` the strongest over the next strongest.
    """

    onsets_s: FloatArray
    heights: FloatArray
    step_s: float
    lead: float


def match_bumps(
    first_s: FloatArray,
    first: FloatArray,
    second_s: FloatArray,
    second: FloatArray,
    settings: BumpSettings | None = None,
) -> ClockMatch:
    """Find the offset between two clocks by bumps that both loggers felt.

    Parameters
    ----------
    first_s, second_s : ndarray
        The two clocks [s], rising, shapes (n,) and (m,).
    first, second : ndarray
        What felt the bumps on each, in any units, shapes (n,) and (m,).
    settings : BumpSettings, optional
        Limits.

    Returns
    -------
    ClockMatch
        Offset, without drift. Its interval is the bumps' scatter by Student's t where there are
        three and more, and no less than what the sample steps and the choice of the beginning
        leave open.

    Raises
    ------
    CalibrationError
        When no bump, or more than one set of bumps, could be the same.

    Notes
    -----
    A bump's beginning is read where it first rises to some share of its height; the sensors need
    not have the same shape of response, so the beginning is all that is compared.

    References
    ----------
    Derived here.
    """
    settings = settings or BumpSettings()
    ours, theirs = (_bumps(*pair, settings) for pair in ((first_s, first), (second_s, second)))
    pairs = _same(ours, theirs, settings)
    each = np.array([ours.onsets_s[i] - theirs.onsets_s[j] for i, j in pairs])
    open_s = 0.5 * math.hypot(ours.step_s, theirs.step_s)
    open_s += float(np.ptp(each.mean(axis=0)))
    if len(pairs) > 2:
        open_s = max(open_s, _student_half_s(each.mean(axis=1)))
    else:
        open_s += float(np.ptp(each.mean(axis=1)))
    middle_s = float(np.mean([theirs.onsets_s[j].mean() for _, j in pairs]))
    offset: Measured = around(float(each.mean()), open_s)
    return ClockMatch(
        offset_s=offset,
        drift=None,
        middle_s=middle_s,
        correlation=math.nan,
        overlap_s=float(np.ptp([ours.onsets_s[i].mean() for i, _ in pairs])),
        bumps=len(pairs),
    )


def _student_half_s(offsets_s: FloatArray) -> float:
    from scipy.special import stdtrit

    count = len(offsets_s)
    return float(stdtrit(count - 1, 0.975) * np.std(offsets_s, ddof=1) / math.sqrt(count))


def _bumps(time_s: FloatArray, values: FloatArray, settings: BumpSettings) -> _Bumps:
    """Find what stands out of a recording."""
    known = np.isfinite(time_s) & np.isfinite(values)
    at, order = np.unique(time_s[known], return_index=True)
    if at.size < 16:
        raise CalibrationError("a recording to be matched has hardly any readings")
    step_s = float(np.median(np.diff(at)))
    height = np.abs(_less_slow(values[known][order], round(settings.slow_s / step_s)))
    heights, places = _peaks(at, height, settings)
    strong = heights > settings.weakest * heights[0]
    onsets = [_onsets(at, height, place, settings) for place in places[strong]]
    lead = float(heights[0] / heights[1]) if len(heights) > 1 and heights[1] > 0 else math.inf
    return _Bumps(onsets_s=np.array(onsets), heights=heights[strong], step_s=step_s, lead=lead)


def _less_slow(values: FloatArray, width: int) -> FloatArray:
    """Take off the mean over some samples around each."""
    width = min(2 * (width // 2) + 1, 2 * ((len(values) - 1) // 2) - 1)
    if width < 3:
        return np.asarray(values - values.mean())
    wide = np.pad(values - values[0], width // 2, mode="reflect")
    below = np.concatenate(([0.0], np.cumsum(wide)))
    return np.asarray(values - values[0] - (below[width:] - below[:-width]) / width)


def _peaks(
    at: FloatArray, height: FloatArray, settings: BumpSettings
) -> tuple[FloatArray, np.ndarray[tuple[int], np.dtype[np.intp]]]:
    """Highest samples, each apart from all higher ones, highest first."""
    left = height.copy()
    heights, places = [], []
    for _ in range(settings.most):
        place = int(np.argmax(left))
        if left[place] <= 0:
            break
        heights.append(float(left[place]))
        places.append(place)
        left[np.abs(at - at[place]) < settings.apart_s] = 0.0
    if not places:
        raise CalibrationError(f"a recording to be matched does not move at all; {_REMEDY}")
    return np.array(heights), np.array(places, dtype=np.intp)


def _onsets(at: FloatArray, height: FloatArray, place: int, settings: BumpSettings) -> list[float]:
    """When a bump first rises to shares of its height [s], by straight lines between samples."""
    begin = int(np.searchsorted(at, at[place] - settings.apart_s / 2))
    found = []
    for share in settings.onsets:
        level = share * height[place]
        above = begin + int(np.argmax(height[begin : place + 1] >= level))
        if above == begin:
            found.append(float(at[above]))
            continue
        part = (level - height[above - 1]) / (height[above] - height[above - 1])
        found.append(float(at[above - 1] + part * (at[above] - at[above - 1])))
    return found


def _same(ours: _Bumps, theirs: _Bumps, settings: BumpSettings) -> list[tuple[int, int]]:
    """Pair the bumps that fall together at the one offset at which most do."""
    a, b = ours.onsets_s.mean(axis=1), theirs.onsets_s.mean(axis=1)
    sets = []
    for first in range(len(a)):
        for second in range(len(b)):
            offset = a[first] - b[second]
            near = np.abs(a[:, None] - b - offset)
            best = near.argmin(axis=1)
            pairs = [(i, int(j)) for i, j in enumerate(best) if near[i, j] < settings.reach_s]
            sets.append((len(pairs), offset, pairs))
    most, offset, pairs = max(sets, key=lambda entry: entry[0])
    rivals = [n for n, other, _ in sets if abs(other - offset) > 2 * settings.reach_s]
    if most == 1:
        if min(ours.lead, theirs.lead) < settings.lone_lead:
            raise CalibrationError(
                f"no bump stands out in both recordings that could be the same; {_REMEDY}"
            )
        return [(0, 0)]
    if max(rivals, default=0) >= most:
        raise CalibrationError(
            f"the bumps of the two recordings fit together at more than one offset; {_REMEDY}"
        )
    return pairs
