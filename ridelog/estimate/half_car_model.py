"""Transfer functions of a car on its tyres: heave with pitch, and roll, axle by axle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.estimate.spectra import ComplexArray
from ridelog.recording import FloatArray

Drive = ComplexArray | float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AxleModel:
    """One axle as the linear model needs it; every entry broadcasts against frequency.

    Masses are of the whole axle; wheel and tyre rate and wheel damping are per corner, at the
    wheel. `roll_lever_ratio` is damper spacing over track (1 on an independent axle),
    `bar_rate_n_per_m` the extra rate per wheel in roll, `roll_mass_ratio` the axle's inertia in
    roll over that of two separate wheels.
    """

    sprung_mass_kg: FloatArray
    unsprung_mass_kg: FloatArray
    wheel_rate_n_per_m: FloatArray
    wheel_damping_n_s_per_m: FloatArray
    tyre_rate_n_per_m: FloatArray
    track_m: float
    roll_lever_ratio: float
    bar_rate_n_per_m: FloatArray
    roll_mass_ratio: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Responses:
    """Complex gains of one motion (heave and pitch, or roll), front and rear output by source.

    Sources: road under the front axle, road under the rear axle, and a moment on the body. Each
    tuple is (front output, rear output); outputs are metres of body motion or of wheel travel.
    """

    road_front: tuple[ComplexArray, ComplexArray]
    road_rear: tuple[ComplexArray, ComplexArray]
    moment: tuple[ComplexArray, ComplexArray]

    def rows(self, row_of: npt.NDArray[np.intp]) -> Responses:
        """Spread the rows of distinct cars over the rows of a batch."""
        if len(row_of) == 1:
            return self
        return Responses(
            road_front=(self.road_front[0][row_of], self.road_front[1][row_of]),
            road_rear=(self.road_rear[0][row_of], self.road_rear[1][row_of]),
            moment=(self.moment[0][row_of], self.moment[1][row_of]),
        )


def _hub_eliminated(
    omega: FloatArray, axle: AxleModel, *, roll: bool
) -> tuple[ComplexArray, ComplexArray, ComplexArray]:
    """Drive, hold and stiffness: force on the body = drive x road - hold x body displacement."""
    lever = axle.roll_lever_ratio**2 if roll else 1.0
    bar = axle.bar_rate_n_per_m if roll else 0.0
    mass = axle.unsprung_mass_kg * (axle.roll_mass_ratio if roll else 1.0)
    suspension = 2 * (
        lever * axle.wheel_rate_n_per_m + bar + 1j * omega * lever * axle.wheel_damping_n_s_per_m
    )
    tyre = 2 * axle.tyre_rate_n_per_m
    hub = tyre - omega**2 * mass + suspension
    held = (hub - suspension) / hub
    drive = np.asarray(suspension * tyre / hub)
    return drive, np.asarray(suspension * held), np.asarray(suspension)


def heave_pitch_responses(
    frequency_hz: FloatArray,
    front: AxleModel,
    rear: AxleModel,
    *,
    wheelbase_m: float,
    pitch_index: FloatArray,
    travel: bool,
) -> Responses:
    """Motion over both axles with left and right wheels together.

    Parameters
    ----------
    frequency_hz : FloatArray
        [Hz], shape (f,).
    front, rear : AxleModel
        The axles.
    wheelbase_m : float
        [m]
    pitch_index : FloatArray
        Squared pitch radius of gyration over the product of the two arms (1: axles decouple).
    travel : bool
        True for wheel travel (hub minus body), False for body displacement over the axles [m/m].

    References
    ----------
    Thomson, Theory of Vibration with Applications, sec. 5.3 (bounce and pitch); hub elimination
    derived here: (tyre + suspension - w^2 m) u = tyre r + suspension z.
    """
    omega = 2 * np.pi * frequency_hz
    drive_f, hold_f, spring_f = _hub_eliminated(omega, front, roll=False)
    drive_r, hold_r, spring_r = _hub_eliminated(omega, rear, roll=False)
    mass = front.sprung_mass_kg + rear.sprung_mass_kg
    arm_f = wheelbase_m * rear.sprung_mass_kg / mass
    arm_r = wheelbase_m - arm_f
    inertia = pitch_index * mass * arm_f * arm_r
    own_f = 1 / mass + arm_f**2 / inertia
    own_r = 1 / mass + arm_r**2 / inertia
    cross = 1 / mass - arm_f * arm_r / inertia
    a = own_f * hold_f - omega**2
    b = cross * hold_r
    c = cross * hold_f
    d = own_r * hold_r - omega**2
    determinant = a * d - b * c

    def body(push_f: ComplexArray, push_r: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        return (
            np.asarray((d * push_f - b * push_r) / determinant),
            np.asarray((a * push_r - c * push_f) / determinant),
        )

    sources = (
        (body(own_f * drive_f, cross * drive_f), (drive_f, 0.0)),
        (body(cross * drive_r, own_r * drive_r), (0.0, drive_r)),
        (body(arm_f / inertia + 0j * omega, -arm_r / inertia + 0j * omega), (0.0, 0.0)),
    )
    return _responses(sources, (hold_f, hold_r), (spring_f, spring_r), travel=travel)


def roll_responses(
    frequency_hz: FloatArray,
    front: AxleModel,
    rear: AxleModel,
    *,
    roll_inertia_kg_m2: FloatArray,
    travel: bool,
) -> Responses:
    """Half the left minus right motion over both axles, road given as half the difference.

    Parameters
    ----------
    frequency_hz : FloatArray
        [Hz], shape (f,).
    front, rear : AxleModel
        The axles.
    roll_inertia_kg_m2 : FloatArray
        Of the body [kg m2].
    travel : bool
        True for wheel travel, False for body displacement over the wheels [m/m].

    References
    ----------
    Derived here: roll moment of an axle = force of each wheel pair x half track.
    """
    omega = 2 * np.pi * frequency_hz
    drive_f, hold_f, spring_f = _hub_eliminated(omega, front, roll=True)
    drive_r, hold_r, spring_r = _hub_eliminated(omega, rear, roll=True)
    half_f, half_r = front.track_m / 2, rear.track_m / 2
    dynamic = half_f**2 * hold_f + half_r**2 * hold_r - omega**2 * roll_inertia_kg_m2

    def body(moment: ComplexArray) -> tuple[ComplexArray, ComplexArray]:
        angle = moment / dynamic
        return np.asarray(half_f * angle), np.asarray(half_r * angle)

    sources = (
        (body(half_f * drive_f), (drive_f, 0.0)),
        (body(half_r * drive_r), (0.0, drive_r)),
        (body(np.ones_like(dynamic)), (0.0, 0.0)),
    )
    # A solid axle's dampers stand inboard: what they see of roll is less than the wheels do.
    spring_f = spring_f / front.roll_lever_ratio
    spring_r = spring_r / rear.roll_lever_ratio
    return _responses(sources, (hold_f, hold_r), (spring_f, spring_r), travel=travel)


def _responses(
    sources: tuple[tuple[tuple[ComplexArray, ComplexArray], tuple[Drive, Drive]], ...],
    hold: tuple[ComplexArray, ComplexArray],
    spring: tuple[ComplexArray, ComplexArray],
    *,
    travel: bool,
) -> Responses:
    """Body motion as it is, or wheel travel = force on the body / suspension stiffness."""
    if not travel:
        bodies = [body for body, _ in sources]
        return Responses(road_front=bodies[0], road_rear=bodies[1], moment=bodies[2])
    outputs = []
    for body, drive in sources:
        front, rear = (
            np.asarray((drive[axle] - hold[axle] * body[axle]) / spring[axle]) for axle in (0, 1)
        )
        outputs.append((front, rear))
    return Responses(road_front=outputs[0], road_rear=outputs[1], moment=outputs[2])
