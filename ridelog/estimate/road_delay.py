"""When the rear wheels meet the front wheels' road: a delay for each stretch of a drive."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.estimate.few_sensor_model import FewSensorModel
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class DelaySettings:
    """How the delay may run.

    Delays between `shortest_s` and `longest_s` cover 4 to 60 m/s for usual wheelbases. Blocks
    half a block apart differ little: a change of `change_scale` costs `change_cost`. Blocks within
    `group_width` share a group; at most `most_groups`, each of `fewest_blocks` or more.
    """

    shortest_s: float = 0.045
    longest_s: float = 0.75
    step: float = 0.012
    change_scale: float = 0.03
    change_cost: float = 2.0
    group_width: float = 0.03
    most_groups: int = 3
    fewest_blocks: int = 4


def delay_grid_s(settings: DelaySettings, around_s: float | None = None) -> FloatArray:
    """Candidate delays [s], evenly spaced in ratio, within 25 % of `around_s` when it is given."""
    low, high = settings.shortest_s, settings.longest_s
    if around_s is not None:
        low, high = around_s / 1.25, around_s * 1.25
    return np.asarray(np.exp(np.arange(np.log(low), np.log(high), settings.step)))


def block_costs(
    model: FewSensorModel,
    theta: FloatArray,
    blocks: FloatArray,
    delays_s: FloatArray,
    *,
    weight: FloatArray,
    distortion: float,
) -> FloatArray:
    """Whittle cost of each block under each delay, shape (blocks, delays).

    Parameters
    ----------
    model : FewSensorModel
        A model with one group.
    theta : FloatArray
        Its parameters, shape (p,).
    blocks : FloatArray
        Packed products of each block, shape (blocks, modes, 4, bins).
    delays_s : FloatArray
        Candidate delays [s], shape (delays,).
    weight : FloatArray
        Independent readings of one block behind each bin [1], shape (bins,).
    distortion : float
        Share of power taken as unexplained [1]; large keeps the cost smooth in the delay.
    """
    batch = np.repeat(theta[None], len(delays_s), axis=0)
    batch[:, model.index["delay_0"]] = np.log(delays_s)
    batch[:, model.index["distortion"]] = np.log(distortion)
    spectra = model.spectra(batch)
    m11, m22, real, imag = np.moveaxis(spectra, -2, 0)
    determinant = m11 * m22 - real**2 - imag**2
    inverse = np.stack([m22, m11, -2 * real, -2 * imag], axis=-2) / determinant[..., None, :]
    inverse = inverse * weight
    traces = blocks.reshape(len(blocks), -1) @ inverse.reshape(len(delays_s), -1).T
    return np.asarray(traces + (weight * np.log(determinant)).sum(axis=(-2, -1)))


def smoothest_path(
    costs: FloatArray, delays_s: FloatArray, start_s: FloatArray, settings: DelaySettings
) -> tuple[FloatArray, float]:
    """Delay of each block that costs least, changes of speed included, and that cost.

    Parameters
    ----------
    costs : FloatArray
        From `block_costs`, shape (blocks, delays).
    delays_s : FloatArray
        [s], shape (delays,).
    start_s : FloatArray
        Start of each block [s]; blocks with a hole between them may differ freely.
    settings : DelaySettings
        Price of changes.

    References
    ----------
    Viterbi, Error bounds for convolutional codes, IEEE Trans. Inf. Theory 13, 1967.
    """
    logs = np.log(delays_s)
    apart = np.abs(logs[:, None] - logs[None, :]) / settings.change_scale
    price = settings.change_cost * np.minimum(apart, 6.0)
    step_s = np.median(np.diff(start_s)) if len(start_s) > 1 else 1.0
    total = costs[0]
    back = []
    for block in range(1, len(costs)):
        near = start_s[block] - start_s[block - 1] < 1.5 * step_s
        reach = total[:, None] + (price if near else price / 3)
        best = reach.argmin(axis=0)
        back.append(best)
        total = reach[best, np.arange(len(best))] + costs[block]
    state = int(total.argmin())
    cost = float(total[state])
    path = [state]
    for best in reversed(back):
        state = int(best[state])
        path.append(state)
    return delays_s[path[::-1]], cost


def group_blocks(path_s: FloatArray, settings: DelaySettings) -> tuple[FloatArray, FloatArray]:
    """Sort blocks into few groups of like delay.

    Parameters
    ----------
    path_s : FloatArray
        Delay of each block [s], shape (blocks,).
    settings : DelaySettings
        Width and number of groups.

    Returns
    -------
    tuple of FloatArray
        Group of each block (-1: in none, shape (blocks,)) and delay of each group [s].
    """
    logs = np.log(path_s)
    group = np.full(len(logs), -1)
    centres: list[float] = []
    for number in range(settings.most_groups):
        free = group < 0
        if free.sum() < settings.fewest_blocks:
            break
        inside = np.abs(logs[:, None] - logs[free]) <= settings.group_width
        counts = (inside & free[:, None]).sum(axis=0)
        best = int(counts.argmax())
        if counts[best] < settings.fewest_blocks:
            break
        member = inside[:, best] & free
        group[member] = number
        centres.append(float(np.exp(logs[member].mean())))
    return group, np.array(centres)
