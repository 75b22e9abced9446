"""One hump in the plan: how fast, so that the dampers move well and the stops stay clear."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.advise.plan_result import HumpPlan
from ridelog.advise.spring_rates import SpringSettings
from ridelog.car.description import Axle, Car
from ridelog.estimate.hump import HumpAnswer, hump_answer
from ridelog.recording import AXLES
from ridelog.runs.collect import Run

# Share of a gap that one hump may use, and what is taken for a gap nobody stated [m].
SHARE_OF_GAP = 0.6
CAREFUL_GAP_M = 0.03
SLOWEST_KPH, FASTEST_KPH = 8, 30
USUAL_DAMPING_RATIO = 0.25


def plan_hump(car: Car, runs: Sequence[Run]) -> HumpPlan:
    """Find the highest speed over a usual traffic hump that keeps both axles off their stops.

    Parameters
    ----------
    car : Car
        The car, with its gaps where stated.
    runs : sequence of Run
        Earlier runs tell the damping; else the target is taken, or a usual figure.

    References
    ----------
    `ridelog.estimate.hump`; the share of the gap is common practice, no source.
    """
    chosen = SLOWEST_KPH
    for kph in range(SLOWEST_KPH, FASTEST_KPH + 1):
        answers = [_answer(car, name, runs, kph / 3.6) for name in AXLES]
        clear = (_clear(car.axle(n), a) for n, a in zip(AXLES, answers, strict=True))
        if not all(clear):
            break
        chosen = kph
    speed = chosen / 3.6
    found = {name: _answer(car, name, runs, speed) for name in AXLES}
    return HumpPlan(
        speed_m_per_s=speed,
        travel_m={name: answer.bump_m for name, answer in found.items()},
        damper_speed_m_per_s={name: answer.speed_m_per_s for name, answer in found.items()},
        gap_known=all(car.axle(name).bump_gap_m is not None for name in AXLES),
    )


def _answer(car: Car, name: str, runs: Sequence[Run], speed_m_per_s: float) -> HumpAnswer:
    axle = car.axle(name)
    tyre = axle.tyre_rate_n_per_m or SpringSettings().default_tyre_rate_n_per_m
    return hump_answer(axle, _damping(axle, name, runs), tyre, speed_m_per_s)


def _damping(axle: Axle, name: str, runs: Sequence[Run]) -> float:
    for run in reversed(runs):
        result = run.analysis.axles.get(name)
        if result is not None and result.damping_ratio is not None:
            return max(result.damping_ratio.low, 0.05)
    return axle.target_damping_ratio or USUAL_DAMPING_RATIO


def _clear(axle: Axle, answer: HumpAnswer) -> bool:
    bump = axle.bump_gap_m or CAREFUL_GAP_M
    droop = axle.droop_gap_m or CAREFUL_GAP_M
    return answer.bump_m <= SHARE_OF_GAP * bump and answer.droop_m <= SHARE_OF_GAP * droop
