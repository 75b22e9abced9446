"""Equations of motion of one car as matrices.

Coordinates (heights up from static ride height): body heave [m], pitch [rad, nose up], roll [rad,
left side up], twist [m at a corner], then the four wheels [m] in the order fl fr rl rr. The state
is the coordinates, their rates, and the four lagged damper forces [N]. What bends (damper curves,
friction, stops, a wheel leaving the road) is fed in as forces; see `forces`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.recording import STANDARD_GRAVITY_M_PER_S2, FloatArray
from ridelog.simulate.dampers import damper_force_n
from ridelog.simulate.true_car import TrueCar

COORDINATES = 8
STATES = 2 * COORDINATES + 4
# Road height (4), road rate (4), forward and sideways acceleration, engine, push (heave force,
# pitch moment, roll moment).
INPUTS = 14
# Damper force beyond its linear part (4), stop and geometry force at the wheel (4), pull that a
# lifted tyre cannot give (4).
FORCES = 12
# Where coordinates, their rates and the lagged forces stand in the state.
_PLACES = slice(0, COORDINATES)
_RATES = slice(COORDINATES, 2 * COORDINATES)
_LAGGED = slice(2 * COORDINATES, STATES)
TWIST_SIGNS = np.array([1.0, -1.0, -1.0, 1.0])
# Speed at which a damper's linear part is taken: any value gives the same motion.
LINEAR_PART_SPEED_M_PER_S = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CarMatrices:
    """Motion: state' = `state` y + `force` f + `input` u; and what is read from the state.

    `travel_of_coordinates` (4, 8): wheel travel at the damper's place, in bump.
    `body_of_coordinates` (4, 8): height of the body over each wheel. `linear_damping` (4,) [N s/m
    at the damper] is the part of each damper already inside `state`. `static_load` (4,) [N].
    """

    state: FloatArray
    force: FloatArray
    input: FloatArray
    travel_of_coordinates: FloatArray
    body_of_coordinates: FloatArray
    linear_damping: FloatArray
    static_load: FloatArray
    tyre_rate: FloatArray
    tyre_damping: FloatArray


def car_matrices(car: TrueCar) -> CarMatrices:
    """Build the equations of motion of a car.

    Parameters
    ----------
    car : TrueCar
        The car.

    References
    ----------
    Lagrange's equations for a rigid (or once twisting) body on four wheels; derived here. Checked
    against published quarter and half cars in the tests.
    """
    body, travel = _body_rows(car), _travel_rows(car)
    inverse: FloatArray = np.linalg.inv(_mass(car)).astype(float)
    tyre_rate = _per_corner(car, "tyre_rate_n_per_m")
    tyre_damping = _per_corner(car, "tyre_damping_n_s_per_m")
    inputs = np.zeros((STATES, INPUTS))
    inputs[_RATES] = inverse @ _input_forces(car, body, tyre_rate, tyre_damping)
    return CarMatrices(
        state=_state_matrix(car, travel, inverse),
        force=_force_matrix(car, travel, inverse),
        input=inputs,
        travel_of_coordinates=travel,
        body_of_coordinates=body,
        linear_damping=_linear_damping(car),
        static_load=_static_load(car),
        tyre_rate=tyre_rate,
        tyre_damping=tyre_damping,
    )


def _state_matrix(car: TrueCar, travel: FloatArray, inverse: FloatArray) -> FloatArray:
    ratio, linear_damping = _per_corner(car, "motion_ratio"), _linear_damping(car)
    lagged, follow = _lags(car)
    stiffness = _stiffness(car, travel) + _at_wheels(_per_corner(car, "tyre_rate_n_per_m"))
    damping = travel.T @ np.diag(linear_damping * ratio**2 * ~lagged) @ travel
    damping = damping + _at_wheels(_per_corner(car, "tyre_damping_n_s_per_m"))
    damping = damping + _twist_damping(car)
    state = np.zeros((STATES, STATES))
    state[_PLACES, _RATES] = np.eye(COORDINATES)
    state[_RATES, _PLACES] = -inverse @ stiffness
    state[_RATES, _RATES] = -inverse @ damping
    state[_RATES, _LAGGED] = -inverse @ travel.T @ np.diag(ratio * lagged)
    state[_LAGGED, _RATES] = np.diag(follow * linear_damping * ratio * lagged) @ travel
    state[_LAGGED, _LAGGED] = -np.diag(follow)
    return state


def _force_matrix(car: TrueCar, travel: FloatArray, inverse: FloatArray) -> FloatArray:
    lagged, follow = _lags(car)
    force = np.zeros((STATES, FORCES))
    force[_RATES, :4] = -inverse @ travel.T @ np.diag(_per_corner(car, "motion_ratio") * ~lagged)
    force[_LAGGED, :4] = np.diag(follow * lagged)
    force[_RATES, 4:8] = -inverse @ travel.T
    force[_RATES, 8:] = inverse[:, 4:]
    return force


def _lags(car: TrueCar) -> tuple[npt.NDArray[np.bool_], FloatArray]:
    """Which dampers lag, and how fast their felt force follows [1/s] (spare ones: quickly)."""
    lag = np.array([d.mount_lag_s for axle in (car.front, car.rear) for d in axle.dampers])
    lagged = lag > 0
    return lagged, np.where(lagged, 1 / np.where(lagged, lag, 1.0), 1e3)


def gravity_place_m(car: TrueCar) -> tuple[float, float]:
    """Distances of the sprung mass's centre from front and rear axle [m]."""
    total = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    to_front = car.wheelbase_m * car.rear.sprung_mass_kg / total
    return to_front, car.wheelbase_m - to_front


def _per_corner(car: TrueCar, name: str) -> FloatArray:
    return np.repeat([getattr(car.front, name), getattr(car.rear, name)], 2).astype(float)


def _body_rows(car: TrueCar) -> FloatArray:
    to_front, to_rear = gravity_place_m(car)
    half = np.array([car.front.track_m, car.front.track_m, car.rear.track_m, car.rear.track_m]) / 2
    rows = np.zeros((4, COORDINATES))
    rows[:, 0] = 1.0
    rows[:, 1] = [to_front, to_front, -to_rear, -to_rear]
    rows[:, 2] = half * np.array([1, -1, 1, -1])
    rows[:, 3] = TWIST_SIGNS if car.torsion else 0.0
    return rows


def _travel_rows(car: TrueCar) -> FloatArray:
    compression = -_body_rows(car)
    compression[:, 4:] += np.eye(4)
    rows = np.zeros_like(compression)
    for start, axle in ((0, car.front), (2, car.rear)):
        heave = compression[start : start + 2].mean(axis=0)
        roll = (compression[start] - compression[start + 1]) / 2 * axle.roll_lever_ratio
        rows[start], rows[start + 1] = heave + roll, heave - roll
    return rows


def _mass(car: TrueCar) -> FloatArray:
    to_front, to_rear = gravity_place_m(car)
    total = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    radius = car.roll_radius_ratio * (car.front.track_m + car.rear.track_m) / 2
    mass = np.zeros((COORDINATES, COORDINATES))
    mass[0, 0] = total
    mass[1, 1] = car.pitch_index_ratio * total * to_front * to_rear
    mass[2, 2] = total * radius**2
    mass[3, 3] = _twist(car)[0]
    for start, axle in ((4, car.front), (6, car.rear)):
        roll = axle.axle_inertia_ratio if axle.layout == "solid" else 1.0
        quarter = axle.unsprung_mass_kg / 4
        block = quarter * np.array([[1 + roll, 1 - roll], [1 - roll, 1 + roll]])
        mass[start : start + 2, start : start + 2] = block
    return mass


def _twist(car: TrueCar) -> tuple[float, float]:
    """Mass and stiffness of the twist, per corner height; a spare oscillator when rigid."""
    if car.torsion is None:
        return 1.0, 1e3
    track = (car.front.track_m + car.rear.track_m) / 2
    # Corner heights +-q at both ends twist the body by 4 q / track.
    stiffness = car.torsion.stiffness_n_m_per_rad * (4 / track) ** 2
    return stiffness / (2 * np.pi * car.torsion.frequency_hz) ** 2, stiffness


def _twist_damping(car: TrueCar) -> FloatArray:
    damping = np.zeros((COORDINATES, COORDINATES))
    mass, stiffness = _twist(car)
    ratio = car.torsion.damping_ratio if car.torsion else 0.03
    damping[3, 3] = 2 * ratio * np.sqrt(mass * stiffness)
    return damping


def _stiffness(car: TrueCar, travel: FloatArray) -> FloatArray:
    stiffness = travel.T @ np.diag(_per_corner(car, "wheel_rate_n_per_m")) @ travel
    stiffness[3, 3] += _twist(car)[1]
    compression = -_body_rows(car)
    compression[:, 4:] += np.eye(4)
    for start, axle in ((0, car.front), (2, car.rear)):
        difference = compression[start] - compression[start + 1]
        stiffness += axle.bar_rate_n_per_m * np.outer(difference, difference)
    return stiffness


def _at_wheels(values: FloatArray) -> FloatArray:
    matrix = np.zeros((COORDINATES, COORDINATES))
    matrix[4:, 4:] = np.diag(values)
    return matrix


def _linear_damping(car: TrueCar) -> FloatArray:
    speed = np.array([LINEAR_PART_SPEED_M_PER_S, -LINEAR_PART_SPEED_M_PER_S])
    values = []
    for axle in (car.front, car.rear):
        for side in (0, 1):
            force = damper_force_n(*axle.curves(side), speed)
            values.append((force[0] - force[1]) / (2 * LINEAR_PART_SPEED_M_PER_S))
    return np.array(values)


def _static_load(car: TrueCar) -> FloatArray:
    mass = _per_corner(car, "sprung_mass_kg") + _per_corner(car, "unsprung_mass_kg")
    return mass / 2 * STANDARD_GRAVITY_M_PER_S2


def _input_forces(
    car: TrueCar, body: FloatArray, tyre_rate: FloatArray, tyre_damping: FloatArray
) -> FloatArray:
    """Generalised forces per unit of each input, shape (8, 14)."""
    forces = np.zeros((COORDINATES, INPUTS))
    forces[4:, :4] = np.diag(tyre_rate)
    forces[4:, 4:8] = np.diag(tyre_damping)
    total = car.front.sprung_mass_kg + car.rear.sprung_mass_kg
    moment = total * car.gravity_height_m
    forces[1, 8] = moment
    # The links carry their share straight from body to wheel; speeding up lifts the nose.
    link = car.anti_ratio * moment / car.wheelbase_m / 2 * np.array([-1, -1, 1, 1])
    forces[:, 8] += body.T @ link
    forces[4:, 8] -= link
    # Sideways acceleration to the left leans the body to the right: left side up.
    forces[2, 9] = total * car.roll_arm_m
    for start, axle, arm in ((4, car.front, car.link_arm_m[0]), (6, car.rear, car.link_arm_m[1])):
        couple = (axle.sprung_mass_kg + axle.unsprung_mass_kg) * arm
        forces[start : start + 2, 9] += couple / axle.track_m * np.array([1.0, -1.0])
    along, across = car.engine_place_m
    to_front, _ = gravity_place_m(car)
    forces[:3, 10] = [1.0, to_front + along, across]
    forces[0, 11] = forces[1, 12] = forces[2, 13] = 1.0
    return forces
