"""What is believed of forces and inertias before the log speaks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.prior import critical_damping_n_s_per_m
from ridelog.estimate.damper_law_prior import SECANT_SPEED_M_PER_S
from ridelog.estimate.road_match.roads import ForceLayout
from ridelog.estimate.road_match.settings import CarPriorSettings, RoadMatchSettings
from ridelog.recording import AXLES, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CarPrior:
    """Precision and precision times mean of forces and inertias together, and inertias' means."""

    precision: FloatArray
    weighted_mean: FloatArray
    inertia_mean: FloatArray

    def cost(self, point: FloatArray) -> float:
        """Minus log prior, up to a constant."""
        return float(0.5 * point @ self.precision @ point - self.weighted_mean @ point)


def car_prior(car: Car, layout: ForceLayout, settings: RoadMatchSettings) -> CarPrior:
    """Gather the priors of a car.

    Parameters
    ----------
    car : Car
        Scales; tyre rates where stated.
    layout : ForceLayout
        Places of the forces.
    settings : RoadMatchSettings
        Beliefs.
    """
    rows: list[FloatArray] = []
    means: list[float] = []
    for number, name in enumerate(AXLES):
        for row, mean in _axle_rows(car.axle(name), number, layout, settings):
            rows.append(row)
            means.append(mean)
    stacked = np.stack(rows)
    inertia_mean, inertia_sd = _inertia_prior(car, settings.prior)
    size = layout.count + len(inertia_mean)
    precision, weighted = np.zeros((size, size)), np.zeros(size)
    precision[: layout.count, : layout.count] = stacked.T @ stacked
    precision[layout.count :, layout.count :] = np.diag(inertia_sd**-2)
    weighted[: layout.count] = stacked.T @ np.array(means)
    weighted[layout.count :] = inertia_mean / inertia_sd**2
    return CarPrior(precision=precision, weighted_mean=weighted, inertia_mean=inertia_mean)


def _axle_rows(
    axle: Axle, number: int, layout: ForceLayout, settings: RoadMatchSettings
) -> list[tuple[FloatArray, float]]:
    """Rows whose product with the forces is normal with unit variance, and their means."""
    beliefs, basis = settings.prior, settings.basis
    unit = np.eye(layout.count)
    critical, stated = critical_damping_n_s_per_m(axle), axle.spring_rate_n_per_m
    rows = [(unit[layout.spring(number)] / (beliefs.spring_ratio * stated), 0.0)]
    forces = unit[layout.forces(number)]
    segments = basis.segment_count
    mean, sd = beliefs.slope_ratio
    nodes = np.array(basis.node_speeds_m_per_s[1:])
    low = nodes < SECANT_SPEED_M_PER_S - 1e-9
    steps = np.where(low, beliefs.low_slope_step_ratio, beliefs.slope_step_ratio) * critical
    for side in (forces[:segments], forces[segments : 2 * segments]):
        rows += [(row, 0.0) for row in np.diff(side, axis=0) / steps[:, None]]
        rows += [(row, mean / sd) for row in side / (sd * critical)]
    mean, sd = beliefs.friction_n
    rows += [(row / sd, mean / sd) for row in forces[2 * segments :]]
    wheel_rate = stated * axle.motion_ratio**2
    mean, sd = beliefs.bar_ratio
    rows.append((unit[layout.bar(number)] / (sd * wheel_rate), mean / sd))
    return rows


def _inertia_prior(car: Car, beliefs: CarPriorSettings) -> tuple[FloatArray, FloatArray]:
    track = (car.front.track_m + car.rear.track_m) / 2
    radius, radius_sd = beliefs.roll_radius_over_track
    roll = float(np.log(car.sprung_mass_kg * track**2) + 2 * radius)
    pairs = [beliefs.dynamic_index, (roll, 2 * radius_sd)]
    for axle in (car.front, car.rear):
        stated = axle.tyre_rate_n_per_m
        if stated is None:
            pairs.append(beliefs.unknown_tyre_rate)
        else:
            pairs.append((float(np.log(stated)), car.tolerances.tyre_rate))
    for axle in (car.front, car.rear):
        solid = axle.layout == "solid"
        pairs.append(beliefs.solid_roll_mass if solid else beliefs.independent_roll_mass)
    mean, sd = np.array(pairs).T
    return mean, sd
