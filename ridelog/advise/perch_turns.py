"""How far each perch has to go, and what the car's figures and the readings leave open in that."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.advise.height_result import HeightSettings, ScaleReading
from ridelog.advise.readings import COVERAGE_FACTOR
from ridelog.advise.spring_rates import SpringSettings
from ridelog.car.description import Axle, Car
from ridelog.estimate.stiff_body import perch_response, plane_shapes
from ridelog.recording import AXLES, STANDARD_GRAVITY_M_PER_S2, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PerchRises:
    """Perch rises and their standard deviations [m], shape (4,) each, in the order fl fr rl rr."""

    rise_m: FloatArray
    sd_m: FloatArray


def perch_rises(
    car: Car,
    body_rise_m: FloatArray | None,
    scales: ScaleReading | None,
    tyre_rate_n_per_m: tuple[float, float],
    settings: HeightSettings,
) -> PerchRises:
    """Perch rises for a wanted body plane and a wanted cross weight.

    Parameters
    ----------
    car : Car
        The car.
    body_rise_m : ndarray or None
        Wanted rise of the body over each wheel [m], shape (4,), in one plane; None to keep it.
    scales : ScaleReading or None
        Cross weight now and wanted; None to keep it.
    tyre_rate_n_per_m : tuple of float
        Front and rear [N/m].
    settings : HeightSettings
        How well tapes are read.

    References
    ----------
    `ridelog.estimate.stiff_body`; spread by moving one figure at a time, JCGM 100:2008 (GUM), 5.1.
    """
    height = np.zeros(4) if body_rise_m is None else body_rise_m
    shift_n = 0.0
    parts: list[FloatArray] = []
    response = perch_response(car, tyre_rate_n_per_m)
    if scales is not None:
        weight_n = scales.total_kg * STANDARD_GRAVITY_M_PER_S2
        shift_n = (scales.wanted_cross_weight - scales.cross_weight.value) * weight_n
        half = (scales.cross_weight.high - scales.cross_weight.low) / 2 / COVERAGE_FACTOR
        parts.append(response.perch_for_cross_m_per_n * half * weight_n)
    if body_rise_m is not None:
        per_reading = response.perch_for_plane @ np.linalg.pinv(plane_shapes(car))
        parts += list(settings.height_sd_m * per_reading.T)

    def needed(changed: Car, tyres: tuple[float, float]) -> FloatArray:
        answer = perch_response(changed, tyres)
        shape = np.linalg.lstsq(plane_shapes(changed), height, rcond=None)[0]
        rise = answer.perch_for_plane @ shape + answer.perch_for_cross_m_per_n * shift_n
        return np.asarray(rise)

    rise = needed(car, tyre_rate_n_per_m)
    parts += [needed(*other) - rise for other in _neighbours(car, tyre_rate_n_per_m)]
    return PerchRises(rise_m=rise, sd_m=np.sqrt(np.sum(np.square(parts), axis=0)))


def _neighbours(car: Car, tyres: tuple[float, float]) -> list[tuple[Car, tuple[float, float]]]:
    """The car with one figure at a time moved by its standard deviation."""
    habits, known = SpringSettings(), car.tolerances
    moved: list[tuple[Car, tuple[float, float]]] = []
    for index, name in enumerate(AXLES):
        axle = car.axle(name)
        springs = _scaled(axle, "spring_rate_n_per_m", habits.spring_sd)
        levers = _scaled(axle, "motion_ratio", known.motion_ratio)
        moved += [(_with_axle(car, name, other), tyres) for other in (springs, levers)]
        spread = known.tyre_rate if axle.tyre_rate_n_per_m else habits.default_tyre_sd
        rates = list(tyres)
        rates[index] *= 1 + spread
        moved.append((car, (rates[0], rates[1])))
    return moved


def _with_axle(car: Car, name: str, axle: Axle) -> Car:
    return replace(car, front=axle) if name == "front" else replace(car, rear=axle)


def _scaled(axle: Axle, name: str, share: float) -> Axle:
    changed: Axle = replace(axle, **{name: getattr(axle, name) * (1 + share)})
    return changed
