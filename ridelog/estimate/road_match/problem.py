"""What one road match works on: the drive, the car, beliefs, and where it stands."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.prior import critical_damping_n_s_per_m
from ridelog.estimate.balance.transform import ComplexArray
from ridelog.estimate.road_match.delay import DelayPath
from ridelog.estimate.road_match.motion import AxleMotion
from ridelog.estimate.road_match.prior import CarPrior
from ridelog.estimate.road_match.roads import ForceLayout, road_columns, slopes_of, total_road
from ridelog.estimate.road_match.settings import RoadMatchGuess, RoadMatchSettings
from ridelog.recording import AXLES, FloatArray

_USUAL_DAMPING = 0.3
_USUAL_BAR = 0.3
_FIRST_FRICTION_N = 5.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchProblem:
    """What stays the same over all passes."""

    motion: AxleMotion
    car: Car
    layout: ForceLayout
    prior: CarPrior
    settings: RoadMatchSettings

    def columns(self, inertia: FloatArray) -> ComplexArray:
        """Road per unit of each force, see `road_columns`."""
        return road_columns(self.motion, self.car, inertia, self.layout)

    def roads(self, point: FloatArray) -> ComplexArray:
        """Road velocities at a point (forces, then inertias), see `total_road`."""
        forces, inertia = point[: self.layout.count], point[self.layout.count :]
        return total_road(self.columns(inertia), forces)

    def slopes(self, point: FloatArray) -> FloatArray:
        """Straight-line stand-ins of the forces at a point, see `slopes_of`."""
        return slopes_of(point[: self.layout.count], self.motion, self.layout)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MatchState:
    """Where the fit stands after a pass."""

    point: FloatArray
    path: DelayPath
    covariance: FloatArray = field(default_factory=lambda: np.zeros((0, 0)))
    blocks_used: int = 0
    gain: float = np.inf
    settled: bool = False
    coherence: float = 0.0


def start_point(problem: MatchProblem, guess: RoadMatchGuess | None) -> FloatArray:
    """Forces and inertias where the match starts.

    Parameters
    ----------
    problem : MatchProblem
        Car and beliefs.
    guess : RoadMatchGuess or None
        What a rougher fit has found; the stated springs and usual damping where None.
    """
    forces = np.zeros(problem.layout.count)
    segments = problem.settings.basis.segment_count
    for axle, name in enumerate(AXLES):
        described = problem.car.axle(name)
        spring = described.spring_rate_n_per_m
        damping = _USUAL_DAMPING * critical_damping_n_s_per_m(described)
        if guess is not None:
            spring, damping = guess.spring_n_per_m[axle], guess.damping_n_s_per_m[axle]
        sizes = np.full(problem.layout.curves, damping)
        sizes[2 * segments :] = _FIRST_FRICTION_N
        forces[problem.layout.spring(axle)] = spring
        forces[problem.layout.forces(axle)] = sizes
        forces[problem.layout.bar(axle)] = _USUAL_BAR * spring * described.motion_ratio**2
    return np.concatenate([forces, problem.prior.inertia_mean])
