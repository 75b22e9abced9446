"""Put what a bounce test tells into results, with the decays it rests on and reasons for gaps."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.estimate.curves import DecayCurve
from ridelog.estimate.decay_fit import DecayFit, Prior
from ridelog.estimate.decay_numbers import IntervalSettings, axle_result
from ridelog.estimate.decay_prior import AxleNumbers
from ridelog.estimate.decay_release import Blocks, Push
from ridelog.estimate.decay_search import Decays
from ridelog.estimate.result import AxleResult
from ridelog.recording import AXLES


@dataclass(frozen=True, slots=True, kw_only=True)
class DecayUse:
    """A stretch of log that the result rests on; `axle` is the one that was pushed."""

    start_s: float
    end_s: float
    axle: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FreeDecayResult:
    """Both axles, the decays they rest on and how well the fit explains them.

    `misfit` is the mean square of what the fit leaves over that of the resting sensors: 1 when the
    model explains everything. `fit` and `prior` are what the numbers are read off.
    """

    front: AxleResult
    rear: AxleResult
    decays: tuple[DecayUse, ...]
    curves: tuple[DecayCurve, ...]
    remarks: tuple[str, ...]
    misfit: float
    fit: DecayFit
    prior: Prior

    def axle(self, name: str) -> AxleResult:
        """Return the result of ``front`` or ``rear``."""
        return {"front": self.front, "rear": self.rear}[name]


def collect_results(
    decays: Decays,
    blocks: Blocks,
    prior: Prior,
    axles: tuple[AxleNumbers, AxleNumbers],
    settings: IntervalSettings,
) -> FreeDecayResult:
    """Put both axles' numbers, the decays they rest on and the reasons for gaps together.

    Parameters
    ----------
    decays : Decays
        The decays used and the fit to them, accelerations in m/s2.
    blocks : Blocks
        Block means of body acceleration [m/s2].
    prior : Prior
        The prior of the fit.
    axles : tuple of AxleNumbers
        The owner's figures [SI].
    settings : IntervalSettings
        Allowances and limits.

    References
    ----------
    Derived here.
    """
    fit, pushes, starts = decays.fit, decays.pushes, decays.starts
    results, remarks = [], []
    for index, name in enumerate(AXLES):
        result, missing = axle_result(fit, prior, index, axles[index].wheel_rate_n_per_m, settings)
        results.append(result)
        remarks += _remarks(name, missing, sum(push.axle == index for push in pushes))
    return FreeDecayResult(
        front=results[0],
        rear=results[1],
        decays=tuple(
            DecayUse(
                start_s=start * blocks.block_s,
                end_s=push.end * blocks.block_s,
                axle=AXLES[push.axle],
            )
            for push, start in zip(pushes, starts, strict=True)
        ),
        curves=_curves(fit, pushes, starts, blocks),
        remarks=tuple(remarks),
        misfit=fit.misfit,
        fit=fit,
        prior=prior,
    )


def _remarks(axle: str, missing: tuple[str, ...], decays: int) -> list[str]:
    if not missing:
        return []
    words = ", ".join(name.rsplit("_", 1)[0] if name.endswith("_hz") else name for name in missing)
    words = words.replace("_n_per_m", "").replace("_n", "").replace("_", " ")
    why = (
        f"no decay after a push at the {axle} was found: push down there and let go"
        if decays == 0
        else f"its {decays} decay(s) are too small or too short against friction and sensor noise, "
        "or differ too much: push harder, let go quickly, and repeat"
    )
    return [f"{axle} axle: cannot tell {words}; {why}"]


def _curves(
    fit: DecayFit, pushes: tuple[Push, ...], starts: tuple[int, ...], blocks: Blocks
) -> tuple[DecayCurve, ...]:
    curves = []
    for index, (push, start) in enumerate(zip(pushes, starts, strict=True)):
        length = push.end - start
        curves.append(
            DecayCurve(
                place=AXLES[push.axle],
                time_s=np.asarray((start + np.arange(length) + 0.5) * blocks.block_s),
                measured_m_per_s2=blocks.mean[push.axle, start : push.end],
                fitted_m_per_s2=fit.fitted_m_per_s2[push.axle, index, :length],
            )
        )
    return tuple(curves)
