"""How early a decay may begin: step back towards the release while a free car explains the log."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridelog.estimate.decay_fit import (
    DecayData,
    DecayFit,
    Prior,
    linearise,
)
from ridelog.estimate.decay_model import STATE_COUNT
from ridelog.estimate.decay_release import Blocks, Push
from ridelog.estimate.decay_states import by_decay, settled_states
from ridelog.recording import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ReachSettings:
    """How far to look back and when to stop; tried on simulated cars."""

    earliest_s: float = 0.3  # before the start so far
    latest_s: float = 0.2  # behind it
    step_s: float = 0.024
    window_s: float = 0.4  # long enough for hands to show in the swing they leave behind
    front_s: float = 0.16  # the part just behind the start, where hands show first
    near_limit: float = 1.75  # mean square over noise there; by chance once in a hundred
    far_limit: float = 1.5  # the same over the whole window
    shortest_s: float = 0.3  # a decay from an earlier start must leave this much
    usual_most: float = 1.5  # most that the misfit long after the release may raise the limit
    margin_s: float = 0.08  # kept from the first start that fits
    passes: int = 2
    covariance_growth: float = 2.0  # the cautious fit has seen part of the same data


def cut_decays(
    blocks: Blocks,
    noise: FloatArray,
    starts: Sequence[int] | IntArray,
    pushes: Sequence[Push],
    steps_per_block: int,
) -> DecayData:
    """Cut each push's decay out of the log, from its start [block number] to its end."""
    length = max(push.end - start for start, push in zip(starts, pushes, strict=True))
    acceleration = np.zeros((2, len(starts), length))
    weight = np.zeros_like(acceleration)
    sway, share = None, (np.arange(steps_per_block) + 0.5) / steps_per_block
    if blocks.sway_m_per_s is not None:
        sway = np.zeros((2, len(starts), length, steps_per_block))
    for decay, (start, push) in enumerate(zip(starts, pushes, strict=True)):
        acceleration[:, decay, : push.end - start] = blocks.mean[:, start : push.end]
        weight[:, decay, : push.end - start] = blocks.valid[start : push.end] / noise[:, None]
        if sway is not None and blocks.sway_m_per_s is not None:
            edges = blocks.sway_m_per_s[:, start : push.end + 1, None]
            sway[:, decay, : push.end - start] = edges[:, :-1] * (1 - share) + edges[:, 1:] * share
    return DecayData(
        acceleration_m_per_s2=acceleration,
        weight=weight,
        pushed=np.array([push.axle for push in pushes]),
        block_s=blocks.block_s,
        steps_per_block=steps_per_block,
        sway_m_per_s=None if sway is None else sway.reshape(2, len(starts), -1),
    )


def leftover(data: DecayData, fit: DecayFit, prior: Prior, settings: ReachSettings) -> FloatArray:
    """Misfit over noise behind every start, (d, 2, n), the car free within its doubt.

    Each candidate start has its own states; the shared unknowns may move as far as the cautious
    fit leaves them open, linearly.
    """
    count = len(fit.varied)
    precision = np.eye(count + STATE_COUNT)
    precision[:count, :count] = fit.normal / settings.covariance_growth
    states = settled_states(fit.shared, data, prior)
    weight = by_decay(data.weight)
    residual = weight
    for _ in range(settings.passes):
        at = linearise(fit.shared, states, data, prior, fit.varied)
        change = by_decay(at.change) * weight[:, None]
        misfit = by_decay(data.acceleration_m_per_s2 - at.read_m_per_s2) * weight
        scaled = (states / prior.state_width[:, None]).T
        right = np.einsum("dpn,dn->dp", change, misfit)
        right[:, count:] -= scaled
        left = np.einsum("dpn,dqn->dpq", change, change) + precision
        move = np.linalg.solve(left, right[:, :, None])[:, :, 0]
        states = states + move[:, count:].T * prior.state_width[:, None]
        residual = misfit - np.einsum("dpn,dp->dn", change, move)
    return residual.reshape(data.decay_count, 2, -1)


def first_of_last_run(passes: BoolArray, forgiven: int = 2) -> int | None:
    """First of the run of passing starts that reaches the end, None without one.

    Up to `forgiven` misses in a row do not end it: hands fail more starts than that.
    """
    run = None
    misses = 0
    for index in range(len(passes) - 1, -1, -1):
        misses = 0 if passes[index] else misses + 1
        if misses > forgiven:
            break
        if passes[index]:
            run = index
    return run


def earliest_starts(
    blocks: Blocks,
    noise: FloatArray,
    pushes: tuple[Push, ...],
    starts: tuple[int, ...],
    fit: DecayFit,
    prior: Prior,
    settings: ReachSettings,
    steps_per_block: int,
) -> list[int | None]:
    """Block number at which each decay may begin; None where a free car never explains it.

    Notes
    -----
    From every candidate start on, a free car with its own state there must explain the next
    stretch within the noise. While hands still push, it does not.
    """
    offsets = np.arange(
        -blocks.count(settings.earliest_s),
        blocks.count(settings.latest_s) + 1,
        blocks.count(settings.step_s),
    )
    window, front = blocks.count(settings.window_s), blocks.count(settings.front_s)
    trials = np.maximum(0, np.array(starts)[:, None] + offsets)
    owners = [push for push in pushes for _ in offsets]
    stretches = [
        replace(push, end=max(min(start + window, push.end), start + 1))
        for start, push in zip(trials.ravel(), owners, strict=True)
    ]
    data = cut_decays(blocks, noise, trials.ravel(), stretches, steps_per_block)
    rest = leftover(data, fit, prior, settings)
    found: list[int | None] = []
    for index, trial in enumerate(trials):
        mine = rest[index * len(offsets) : (index + 1) * len(offsets)] ** 2
        # Hands between the axles show on both; a sensor that is missing leaves nothing.
        near = mine[:, :, :front].mean(axis=2).max(axis=1)
        far = mine.mean(axis=2).max(axis=1)
        usual = float(np.clip(np.median(near[-(len(near) // 3) :]), 1.0, settings.usual_most))
        clear = (near < settings.near_limit * usual) & (far < settings.far_limit * usual)
        run = first_of_last_run(clear)
        margin = blocks.count(settings.margin_s)
        found.append(None if run is None else int(trial[run]) + margin)
    return found
