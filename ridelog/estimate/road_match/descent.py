"""One Gauss-Newton pass of the road match: linearize, step, and never go uphill."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ridelog.estimate.balance.transform import ComplexArray
from ridelog.estimate.road_match.likelihood import (
    Blocks,
    choose_blocks,
    mean_and_difference,
    mismatch_cost,
    mismatch_slope,
    whitening,
)
from ridelog.estimate.road_match.mechanics import INERTIA_COUNT, log_determinant
from ridelog.estimate.road_match.problem import MatchProblem, MatchState
from ridelog.estimate.road_match.roads import slopes_of, total_road
from ridelog.recording import FloatArray

_SMALL = 1e-3
_LEAST_CURVATURE = 0.05
_MOST_CUTS = 6


def _design(problem: MatchProblem, state: MatchState) -> tuple[ComplexArray, Blocks]:
    """Roads and their change with every unknown, delay last, (2, modes, 1 + p + 1, blocks, f)."""
    motion, layout = problem.motion, problem.layout
    forces, inertia = state.point[: layout.count], state.point[layout.count :]
    columns = problem.columns(inertia)
    roads = total_road(columns, forces)
    changes = []
    for number in range(INERTIA_COUNT):
        moved = state.point.copy()
        moved[layout.count + number] += _SMALL
        changes.append((problem.roads(moved) - roads) / _SMALL)
    late = -2j * np.pi * motion.frequency_hz * roads
    late[:, 1] = 0.0
    parts = [roads[:, :, None], columns[:, :, 1:], np.stack(changes, axis=2), late[:, :, None]]
    signals = motion.at_low_rate(np.concatenate(parts, axis=2))
    count = signals.shape[-1]
    delay_s = state.path.delay_s(count, motion.rate_hz)
    front = state.path.warp(count, motion.rate_hz).apply(signals[:, 0])
    front[:, -1] *= delay_s
    band = problem.settings.band
    blocks = choose_blocks(signals[0, 1, 0], motion.unusable, float(delay_s.max()), band)
    both = mean_and_difference(blocks.transform(front), blocks.transform(signals[:, 1]))
    return both, blocks


def one_pass(problem: MatchProblem, state: MatchState) -> MatchState:
    """Improve forces, inertias and a common stretch of the delay once.

    Parameters
    ----------
    problem : MatchProblem
        What the match works on.
    state : MatchState
        Where it stands, delay path already followed.

    Notes
    -----
    Blocks are chosen and spectra taken anew in each pass; within it they are held, so that costs
    may be compared.
    """
    design, blocks = _design(problem, state)
    white = whitening(design[:, :, 0], blocks, problem.settings.readings_per_bin)
    step, covariance, settled = _newton(problem, *_slopes(problem, state, design, white, blocks))
    there, gain = _downhill(problem, state, step, white, blocks)
    difference, mean = (np.abs(design[:, :, 0]) ** 2).sum(axis=(1, 2, 3))
    return replace(
        there,
        covariance=covariance[:-1, :-1],
        blocks_used=blocks.count,
        gain=gain,
        settled=settled,
        coherence=float((mean - difference / 4) / (mean + difference / 4)),
    )


def _slopes(
    problem: MatchProblem,
    state: MatchState,
    design: ComplexArray,
    white: FloatArray,
    blocks: Blocks,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Gradient of the whole cost, its curvature, and the curvature with spectra held."""
    layout, readings = problem.layout, problem.settings.readings_per_bin
    slope = mismatch_slope(design, white, blocks, readings)
    gradient, curvature, held = slope.gradient, slope.curvature, slope.held_curvature
    omega = 2 * np.pi * blocks.frequency_hz
    inertia = state.point[layout.count :]
    volume = log_determinant(problem.car, inertia, problem.slopes(state.point), omega)
    size = len(state.point)
    spread = np.zeros((len(volume.gradient), size))
    spread[:-INERTIA_COUNT, : layout.count] = slopes_of(
        np.eye(layout.count), problem.motion, layout
    )
    spread[-INERTIA_COUNT:, layout.count :] = np.eye(INERTIA_COUNT)
    weight = readings * blocks.count
    gradient[:size] -= weight * spread.T @ volume.gradient
    curvature[:size, :size] -= weight * spread.T @ volume.curvature @ spread
    gradient[:size] += problem.prior.precision @ state.point - problem.prior.weighted_mean
    for matrix in (curvature, held):
        matrix[:size, :size] += problem.prior.precision
        matrix[size, size] += 1 / problem.settings.path.shift_sd**2
    return gradient, curvature, held


def _newton(
    problem: MatchProblem, gradient: FloatArray, curvature: FloatArray, held: FloatArray
) -> tuple[FloatArray, FloatArray, bool]:
    """Newton step and covariance; where the cost curves the wrong way, that with spectra held."""
    scale = 1 / np.sqrt(np.diag(problem.prior.precision))
    scale = np.append(scale, problem.settings.path.shift_sd)
    both = np.outer(scale, scale)
    values, vectors = np.linalg.eigh(curvature * both)
    settled = bool(values[0] > 0)
    if not settled:
        values, vectors = np.linalg.eigh(held * both)
    values = np.maximum(values, _LEAST_CURVATURE)
    covariance = both * ((vectors / values) @ vectors.T)
    return -covariance @ gradient, covariance, settled


def _downhill(
    problem: MatchProblem, state: MatchState, step: FloatArray, white: FloatArray, blocks: Blocks
) -> tuple[MatchState, float]:
    """Go along a step as far as the cost falls; also how much it fell."""
    before = _cost(problem, state, white, blocks)
    share = min(1.0, 1 / max(_length(problem, state, step), 1e-9))
    for _ in range(_MOST_CUTS):
        there = replace(
            state,
            point=state.point + share * step[:-1],
            path=state.path.shifted(share * float(step[-1])),
        )
        after = _cost(problem, there, white, blocks)
        if after < before:
            return there, before - after
        share /= 3
    return state, 0.0


def _length(problem: MatchProblem, state: MatchState, step: FloatArray) -> float:
    """Length of a step; 1 is the longest allowed."""
    now = problem.slopes(state.point)[:4]
    change = slopes_of(step[: problem.layout.count], problem.motion, problem.layout)[:4]
    longest = problem.settings.longest_step
    inertia = step[problem.layout.count : -1]
    return float(
        max(
            np.max(np.abs(change / now)) / longest,
            np.max(np.abs(inertia)) / (0.75 * longest),
            abs(step[-1]) / (0.1 * longest),
        )
    )


def _cost(problem: MatchProblem, state: MatchState, white: FloatArray, blocks: Blocks) -> float:
    """Minus log posterior where the spectra are held, up to a constant."""
    motion, readings = problem.motion, problem.settings.readings_per_bin
    signals = motion.at_low_rate(problem.roads(state.point))
    front = state.path.warp(signals.shape[-1], motion.rate_hz).apply(signals[:, 0])
    both = mean_and_difference(blocks.transform(front), blocks.transform(signals[:, 1]))
    volume = log_determinant(
        problem.car,
        state.point[problem.layout.count :],
        problem.slopes(state.point),
        2 * np.pi * blocks.frequency_hz,
    )
    cost = mismatch_cost(both, white, blocks, readings)
    return cost - readings * blocks.count * volume.value + problem.prior.cost(state.point)
