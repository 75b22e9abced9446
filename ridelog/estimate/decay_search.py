"""Settle which decays to use and where each begins, fitting the car on the way."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ridelog.estimate.decay_fit import DecayFit, Prior, fit_decays, with_everything
from ridelog.estimate.decay_model import HAND
from ridelog.estimate.decay_reach import ReachSettings, cut_decays, earliest_starts
from ridelog.estimate.decay_release import Blocks, Push
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchSettings:
    """How often to fit; tried on simulated cars."""

    reach: ReachSettings = field(default_factory=ReachSettings)
    longest_step_s: float = 0.0045  # of the simulation: 0.2 % of a decay's acceleration
    cautious_evaluations: int = 10
    evaluations: int = 25
    rounds: int = 2  # of stepping back towards the releases
    bad_misfit: float = 1.25  # of one decay: hands are still on, or something else moved the car
    retreat_s: float = 0.08  # by which such a decay starts later
    retreats: int = 2  # at most, before the first round; one in every later round
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How hard one fit tries."""

    evaluations: int
    robust: bool


def search_decays(
    blocks: Blocks,
    noise: FloatArray,
    pushes: tuple[Push, ...],
    prior: Prior,
    settings: SearchSettings,
) -> Decays:
    """Fit from cautious starts, then step back towards the releases and fit again.

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
    A decay that the common fit does not explain starts later, or is left out once too short.

    References
    ----------
    Derived here.
    """
    steps = int(np.ceil(blocks.block_s / settings.longest_step_s))
    evidence = Evidence(blocks=blocks, noise=noise, prior=prior, steps_per_block=steps)
    no_hands = np.append(prior.state_width[:HAND], [settings.no_hands_n] * 2)
    looking = replace(prior, state_width=no_hands)
    starts = tuple(push.safe_start for push in pushes)
    cautious = Effort(evaluations=settings.cautious_evaluations, robust=True)
    decays = _fitted(evidence, pushes, starts, None, cautious)
    for _ in range(settings.retreats):
        decays = _retreated(evidence, decays, settings, cautious)
    for round_number in range(settings.rounds):
        last = round_number == settings.rounds - 1
        effort = Effort(evaluations=settings.evaluations, robust=False) if last else cautious
        found = earliest_starts(
            blocks, noise, decays.pushes, decays.fit, looking, settings.reach, steps
        )
        moved = [
            (push, old if new is None else new)
            for push, old, new in zip(decays.pushes, decays.starts, found, strict=True)
        ]
        decays = _fitted_again(evidence, decays, moved, settings, effort)
        decays = _retreated(evidence, decays, settings, effort)
    decays = _checked_against_prior(evidence, decays, settings)
    data = cut_decays(blocks, noise, decays.starts, decays.pushes, steps)
    return replace(decays, fit=with_everything(decays.fit, data, prior))


def _fitted(
    evidence: Evidence,
    pushes: tuple[Push, ...],
    starts: tuple[int, ...],
    shared: FloatArray | None,
    effort: Effort,
) -> Decays:
    data = cut_decays(evidence.blocks, evidence.noise, starts, pushes, evidence.steps_per_block)
    fit = fit_decays(
        data, evidence.prior, start=shared, evaluations=effort.evaluations, robust=effort.robust
    )
    return Decays(fit=fit, pushes=pushes, starts=starts)


def _retreated(
    evidence: Evidence, decays: Decays, settings: SearchSettings, effort: Effort
) -> Decays:
    """Start unexplained decays later, leave out what gets too short, and fit afresh."""
    bad = decays.fit.decay_misfit > settings.bad_misfit
    if not bad.any():
        return decays
    step = evidence.blocks.count(settings.retreat_s)
    moved = [
        (push, start + step * int(late))
        for push, start, late in zip(decays.pushes, decays.starts, bad, strict=True)
    ]
    return _fitted_again(evidence, decays, moved, settings, effort)


def _fitted_again(
    evidence: Evidence,
    decays: Decays,
    moved: list[tuple[Push, int]],
    settings: SearchSettings,
    effort: Effort,
) -> Decays:
    """Fit with other starts, without the decays that got too short."""
    shortest = evidence.blocks.count(settings.reach.shortest_s)
    kept = [(push, start) for push, start in moved if push.end - start >= shortest]
    if not kept:
        return decays
    pushes, starts = tuple(push for push, _ in kept), tuple(start for _, start in kept)
    return _fitted(evidence, pushes, starts, decays.fit.shared, effort)


def _checked_against_prior(evidence: Evidence, decays: Decays, settings: SearchSettings) -> Decays:
    """Fit again from the prior where the fit lies far from it; keep the better of the two."""
    prior = evidence.prior
    distance = np.abs(decays.fit.shared - prior.shared_centre) / prior.shared_width
    if distance.max() < settings.far_from_prior:
        return decays
    thorough = Effort(evaluations=settings.evaluations, robust=False)
    again = _fitted(evidence, decays.pushes, decays.starts, None, thorough)
    return again if again.fit.cost < decays.fit.cost else decays
