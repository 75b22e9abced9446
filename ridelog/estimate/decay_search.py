"""Settle which decays to use and where each begins, fitting the car on the way."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ridelog.estimate.decay_fit import DecayFit, Prior, fit_decays, with_everything
from ridelog.estimate.decay_model import HAND
from ridelog.estimate.decay_reach import ReachSettings, cut_decays, earliest_starts
from ridelog.estimate.decay_release import Blocks, Push
from ridelog.estimate.decay_states import settled_states
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard one fit tries; a robust one counts large misfits less."""

    evaluations: int
    tolerance: float
    robust: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchSettings:
    """How often to fit; tried on simulated cars."""

    reach: ReachSettings = field(default_factory=ReachSettings)
    longest_step_s: float = 0.0045  # of the simulation: 0.5 % of a decay's acceleration
    looking: Effort = Effort(evaluations=8, tolerance=1e-3, robust=True)
    thorough: Effort = Effort(evaluations=25, tolerance=1e-4, robust=False)
    bad_misfit: float = 1.25  # of one decay: hands are still on, or something else moved the car
    usual_most: float = 1.3  # most that the other decays' misfit may raise this
    unexplained_misfit: float = 1.7  # of a decay that is left out in the end, likewise raised
    retreat_s: float = 0.08  # by which a bad decay starts later
    retreats: int = 3  # at most, before looking for the releases
    looks_back: int = 4  # for the releases, each time `reach.earliest_s` far at most
    far_back_s: float = 0.2  # of start gained, from which it is worth another look
    far_from_prior: float = 2.0  # prior widths: beyond, a fit may sit in the wrong valley
    no_hands_n: float = 1.0  # while looking for the release, hands may not explain anything


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Decays:
    """The decays in use, where they start [block number], and the fit to them."""

    fit: DecayFit
    pushes: tuple[Push, ...]
    starts: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Evidence:
    """What the search works on; `noise` (2,) of the block means [m/s2]."""

    blocks: Blocks
    noise: FloatArray
    prior: Prior
    steps_per_block: int


def search_decays(
    blocks: Blocks,
    noise: FloatArray,
    pushes: tuple[Push, ...],
    prior: Prior,
    settings: SearchSettings,
) -> Decays:
    """Fit from the first starts, look how early each decay may begin, and fit again.

    Parameters
    ----------
    blocks : Blocks
        Block means of body acceleration [m/s2], front and rear.
    noise : FloatArray
        Their noise [m/s2], shape (2,), infinite where there is no sensor.
    pushes : tuple of Push
        The pushes found.
    prior : Prior
        What is known of the car.
    settings : SearchSettings
        How often to fit.

    Notes
    -----
    A decay that the common fit does not explain starts later; one that it never explains, or that
    gets too short, is left out.

    References
    ----------
    Derived here.
    """
    steps = int(np.ceil(blocks.block_s / settings.longest_step_s))
    evidence = Evidence(blocks=blocks, noise=noise, prior=prior, steps_per_block=steps)
    starts = tuple(push.safe_start for push in pushes)
    decays = _fitted(evidence, pushes, starts, prior.shared_centre, settings.looking)
    for _ in range(settings.retreats):
        decays = _retreated(evidence, decays, settings)
    decays = _stepped_back(evidence, decays, settings)
    decays = _retreated(evidence, decays, settings)
    decays = _without_unexplained(evidence, decays, settings)
    decays = _fitted(evidence, decays.pushes, decays.starts, decays.fit, settings.thorough)
    decays = _checked_against_prior(evidence, decays, settings)
    data = cut_decays(blocks, noise, decays.starts, decays.pushes, steps)
    return replace(decays, fit=with_everything(decays.fit, data, prior))


def _fitted(
    evidence: Evidence,
    pushes: tuple[Push, ...],
    starts: tuple[int, ...],
    begin: DecayFit | FloatArray,
    effort: Effort,
) -> Decays:
    """Fit from shared unknowns, or from a fit with the same starts."""
    data = cut_decays(evidence.blocks, evidence.noise, starts, pushes, evidence.steps_per_block)
    if isinstance(begin, DecayFit):
        shared, states = begin.shared, begin.states
    else:
        shared, states = begin, settled_states(begin, data, evidence.prior)
    fit = fit_decays(
        data,
        evidence.prior,
        shared=shared,
        states=states,
        evaluations=effort.evaluations,
        tolerance=effort.tolerance,
        robust=effort.robust,
    )
    return Decays(fit=fit, pushes=pushes, starts=starts)


def _stepped_back(evidence: Evidence, decays: Decays, settings: SearchSettings) -> Decays:
    """Begin every decay as early as a free car explains it, and fit afresh.

    A decay that may begin at the earliest start tried is looked at again from there.
    """
    no_hands = np.append(evidence.prior.state_width[:HAND], [settings.no_hands_n] * 2)
    prior = replace(evidence.prior, state_width=no_hands)
    starts = np.array(decays.starts)
    asked = np.arange(len(starts))
    for _ in range(settings.looks_back):
        found = earliest_starts(
            evidence.blocks,
            evidence.noise,
            tuple(decays.pushes[i] for i in asked),
            tuple(int(start) for start in starts[asked]),
            decays.fit,
            prior,
            settings.reach,
            evidence.steps_per_block,
        )
        asked, earliest = asked[[f is not None for f in found]], [f for f in found if f is not None]
        gained = starts[asked] - earliest
        starts[asked] = earliest
        asked = asked[gained >= evidence.blocks.count(settings.far_back_s)]
        if not asked.size:
            break
    moved = list(zip(decays.pushes, starts.tolist(), strict=True))
    return _fitted_again(evidence, decays, moved, settings)


def _too_high(misfit: FloatArray, limit: float, settings: SearchSettings) -> FloatArray:
    """Whether each decay's misfit is beyond the limit, raised where all of them are high."""
    usual = float(np.clip(np.median(misfit), 1.0, settings.usual_most))
    return np.asarray(misfit > limit * usual)


def _retreated(evidence: Evidence, decays: Decays, settings: SearchSettings) -> Decays:
    """Start unexplained decays later, leave out what gets too short, and fit afresh."""
    bad = _too_high(decays.fit.decay_misfit, settings.bad_misfit, settings)
    if not bad.any():
        return decays
    step = evidence.blocks.count(settings.retreat_s)
    moved = [
        (push, start + step * int(late))
        for push, start, late in zip(decays.pushes, decays.starts, bad, strict=True)
    ]
    return _fitted_again(evidence, decays, moved, settings)


def _without_unexplained(evidence: Evidence, decays: Decays, settings: SearchSettings) -> Decays:
    """Leave out what a free car does not explain, as long as something is left."""
    bad = _too_high(decays.fit.decay_misfit, settings.unexplained_misfit, settings)
    if not bad.any() or bad.all():
        return decays
    kept = [
        pair
        for pair, drop in zip(zip(decays.pushes, decays.starts, strict=True), bad, strict=True)
        if not drop
    ]
    return _fitted_again(evidence, decays, kept, settings)


def _fitted_again(
    evidence: Evidence,
    decays: Decays,
    moved: list[tuple[Push, int]],
    settings: SearchSettings,
) -> Decays:
    """Fit with other starts, without the decays that got too short."""
    shortest = evidence.blocks.count(settings.reach.shortest_s)
    kept = [(push, start) for push, start in moved if push.end - start >= shortest]
    if not kept:
        return decays
    pushes, starts = tuple(push for push, _ in kept), tuple(start for _, start in kept)
    return _fitted(evidence, pushes, starts, decays.fit.shared, settings.looking)


def _checked_against_prior(evidence: Evidence, decays: Decays, settings: SearchSettings) -> Decays:
    """Fit again from the prior where the fit lies far from it; keep the better of the two."""
    prior = evidence.prior
    distance = np.abs(decays.fit.shared - prior.shared_centre) / prior.shared_width
    if distance.max() < settings.far_from_prior:
        return decays
    again = _fitted(evidence, decays.pushes, decays.starts, prior.shared_centre, settings.thorough)
    return again if again.fit.cost < decays.fit.cost else decays
