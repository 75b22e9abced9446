"""What dampers' knobs do before any drive is known: a mixture of laws, drawn quasi-randomly.

Every particle is one whole law: how many times stiffer full stiff is than full soft, and along
which curve the clicks get there, and how far its soft end lies from the usual. The usual scatter of
levels and small wiggles are not drawn; `knob_belief` handles them in closed form.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.advise.dyno_law import LEAK_MEAN, LEAK_SD, SheetLaw
from ridelog.recording import FloatArray

STEP_SHARE = 0.6
"""Part of its log range that a stepped knob makes in its step."""

STEP_WIDTH = 0.2
"""Width of that step, of the full travel."""

LEVEL_TAIL_FREEDOM = 3.0
"""Degrees of freedom of the t-distribution of soft ends: long tails, finite spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobPrior:
    """Broad belief about a damper knob; logarithms are natural, clicks run from 0 to 1.

    The figures describe simulated road-car dampers with one knob (soft end near a damping ratio of
    0.17, stiff end near 0.65) and are common practice, no source. A family's weight is the chance
    that a knob follows that kind of curve.
    """

    particle_count: int = 256  # 1024 chose no better clicks
    range_mean: float = 1.2  # log of stiff over soft: 3.3 times; bump moves less than rebound
    range_sd: float = 0.61
    range_low: float = 0.262  # 1.3 times: less is no knob
    range_high: float = 2.708  # 15 times
    soft_damping_ratio: float = 0.17
    level_slope: float = -0.55  # wide-range knobs start softer
    level_sd: float = 0.2  # scatter of the soft end, besides its long tails
    level_tail: float = 0.5  # cars far from the usual must not pass for knobs of unusual range
    exponent_log_sd: float = 0.3
    dead_share_max: float = 0.3  # clicks without effect at either end
    wiggle_sd: float = 0.09  # smooth departure from every family
    wiggle_length: float = 0.2  # of the full travel
    click_sd: float = 0.03  # detents differ from one another
    cross_mean: float = LEAK_MEAN  # the other knob of a two-knob damper, per full travel
    cross_sd: float = LEAK_SD
    weight_power: float = 0.35
    weight_linear: float = 0.20
    weight_inverse: float = 0.10
    weight_dead: float = 0.10
    weight_saturating: float = 0.15
    # The rest are stepped: a few clicks in the middle make most of the range.
    sheet: tuple[tuple[float, float], ...] = ()  # of a dyno: knob position, log damping ratio
    sheet_share: float = 0.9  # of the laws; the rest allow for other valving than the sheet's
    sheet_stretch_sd: float = 0.08  # of the sheet's log range


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LawParticles:
    """Draws from `KnobPrior`, each of shape (n,).

    `family` indexes the six kinds of curve, `level` is the soft end's departure from the usual.
    `stretch` multiplies the sheet's logs about its soft end, 0 for laws of their own.
    """

    family: FloatArray
    log_range: FloatArray
    exponent: FloatArray
    dead_soft: FloatArray
    dead_stiff: FloatArray
    level: FloatArray
    stretch: FloatArray


def draw_particles(prior: KnobPrior) -> LawParticles:
    """Draw whole knob laws from the prior, the same ones every time.

    Parameters
    ----------
    prior : KnobPrior
        Weights, means and spreads of the laws.

    Returns
    -------
    LawParticles
        `prior.particle_count` laws.

    Notes
    -----
    An additive-recurrence low-discrepancy sequence in six dimensions instead of random numbers:
    the same log gives the same advice, and 256 points suffice.

    References
    ----------
    Niederreiter, Random Number Generation and Quasi-Monte Carlo Methods, SIAM 1992, ch. 3
    (Kronecker sequences), from memory.
    """
    from scipy.special import ndtr, ndtri, stdtrit

    dimensions = 6
    # The root of x^(d+1) = x + 1 gives steps whose multiples fill the unit cube evenly.
    root = 1.0
    for _ in range(60):
        root = (1 + root) ** (1 / (dimensions + 1))
    steps = root ** -np.arange(1, dimensions + 1)
    unit = (0.5 + np.outer(np.arange(1, prior.particle_count + 1), steps)) % 1.0
    low = ndtr((prior.range_low - prior.range_mean) / prior.range_sd)
    high = ndtr((prior.range_high - prior.range_mean) / prior.range_sd)
    on_sheet = (unit[:, 3] < prior.sheet_share) & bool(prior.sheet)
    weights = (
        prior.weight_power,
        prior.weight_linear,
        prior.weight_inverse,
        prior.weight_dead,
        prior.weight_saturating,
    )
    return LawParticles(
        family=np.searchsorted(np.cumsum(weights), unit[:, 0]).astype(float),
        log_range=prior.range_mean + prior.range_sd * ndtri(low + unit[:, 1] * (high - low)),
        exponent=np.exp(prior.exponent_log_sd * ndtri(unit[:, 2])),
        dead_soft=prior.dead_share_max * unit[:, 3],
        dead_stiff=prior.dead_share_max * unit[:, 4],
        level=np.where(on_sheet, 0.0, prior.level_tail * stdtrit(LEVEL_TAIL_FREEDOM, unit[:, 5])),
        stretch=np.where(on_sheet, 1 + prior.sheet_stretch_sd * ndtri(unit[:, 2]), 0.0),
    )


def with_sheet(prior: KnobPrior, law: SheetLaw) -> KnobPrior:
    """Let a dyno sheet shape the belief: its level stays unsure, its slope hardly.

    Parameters
    ----------
    prior : KnobPrior
        The belief without the sheet.
    law : SheetLaw
        What the sheet promises; without points for none.

    References
    ----------
    Common practice, no source: dampers of one make differ by a tenth or two in level, by friction,
    gas and oil temperature on the machine, and far less in what a click does.
    """
    if not law.points:
        return prior
    return replace(
        prior,
        sheet=law.points,
        wiggle_sd=0.04,
        click_sd=0.02,
        cross_mean=law.leak_mean,
        cross_sd=law.leak_sd,
    )


def law_log_gain(
    particles: LawParticles, knob: FloatArray, sheet: tuple[tuple[float, float], ...] = ()
) -> FloatArray:
    """Log of damping over damping at full soft, for each law and knob position.

    Parameters
    ----------
    particles : LawParticles
        n laws.
    knob : ndarray, shape (m,)
        Knob position [1], 0 full soft to 1 full stiff.
    sheet : tuple of (float, float), optional
        The dyno sheet that some of the laws follow; level beyond its ends.

    Returns
    -------
    ndarray, shape (n, m)
        0 at full soft, the law's log range at full stiff, never falling in between.

    References
    ----------
    Derived here: log c, c or 1/c proportional to a power of the knob; log c linear between dead
    clicks; c approaching its stiff end exponentially; log c rising faster in a step.
    """
    u = np.clip(knob, 0.0, 1.0)[None, :]
    log_range = particles.log_range[:, None]
    exponent = particles.exponent[:, None]
    power = u**exponent
    gain = np.exp(log_range)
    live = 1 - particles.dead_soft[:, None] - particles.dead_stiff[:, None]
    saturating = (1 - np.exp(-3 * exponent * u)) / (1 - np.exp(-3 * exponent))
    middle = 0.5 + (particles.dead_soft - particles.dead_stiff)[:, None]
    step = np.clip(0.5 + (u - middle) / STEP_WIDTH, 0.0, 1.0)
    families = np.stack(
        [
            log_range * power,
            np.log1p((gain - 1) * power),
            -np.log1p(-(1 - 1 / gain) * power),
            log_range * np.clip((u - particles.dead_soft[:, None]) / live, 0.0, 1.0),
            np.log1p((gain - 1) * saturating),
            log_range * (STEP_SHARE * step + (1 - STEP_SHARE) * u),
        ]
    )
    chosen: FloatArray = families[particles.family.astype(int), np.arange(len(gain))]
    if not sheet:
        return chosen
    places, logs = zip(*sheet, strict=True)
    rise = np.interp(u[0], places, logs) - logs[0]
    stretch = particles.stretch[:, None]
    return np.where(stretch > 0, stretch * rise, chosen)


def level_mean(prior: KnobPrior, particles: LawParticles, offset: float = 0.0) -> FloatArray:
    """Tell the log damping ratio to expect at full soft for each law, shape (n,).

    Parameters
    ----------
    prior : KnobPrior
        The belief before any drive.
    particles : LawParticles
        n laws.
    offset : float, optional
        What the strokes asked about lie above the mean of both, in logs [1]; a sheet knows that.

    References
    ----------
    Derived here: on simulated dampers a wider range goes with a softer soft end; the tails are
    Student's, so that a reading far from the usual says little about the range.
    """
    rise = particles.log_range - prior.range_mean
    usual = np.log(prior.soft_damping_ratio) + prior.level_slope * rise + particles.level
    usual = usual + offset
    if not prior.sheet:
        return np.asarray(usual)
    return np.where(particles.stretch > 0, prior.sheet[0][1], usual)
