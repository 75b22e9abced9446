"""What springs and dampers do to the body, as sums of channels with unknown factors that vanish.

Where travel or hubs are missing, no kinematic identity binds the rest. But the body's acceleration
is what springs and dampers make of travel, whatever the road: at every frequency a corner's force
is travel times (rate + i omega damping + i friction), and heave, pitch and roll of the body answer
to the forces' sums. A gain error shows as a spring unlike its partner on the axle, a delay as a
rate that changes with the frequency squared. Without travel sensors, travel is what the levers make
of hub less body.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.car.geometry import damper_lever_matrix
from ridelog.condition.spectra import ComplexArray
from ridelog.recording import AXLES, BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS, FloatArray

BY_TRAVEL = (*TRAVEL_CHANNELS, *BODY_CHANNELS)
BY_HUB = (*HUB_CHANNELS, *BODY_CHANNELS)
_HEAVE, _PITCH, _ROLL, _TWIST = range(4)
_ROWS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class ForcePriors:
    """What is known of a car before its log is looked at; standard deviations.

    `spring_rate` of an axle against the car file, `partner` of springs and levers of an axle
    against each other, both relative. A damper may be worn out, so that `damping` is free within
    its own size about `damping_ratio`; `friction` and `bar` are relative to the spring's rate at
    the damper and at the wheel. `dynamic_index` is pitch inertia over sprung mass times distances
    to both axles, `roll_radius` the radius of gyration over track; common practice, no source.
    Neither damping beyond `most_damping_ratio` nor friction beyond `most_friction` is believed:
    where friction holds an axle, hub and body move alike, and a force without bounds on a hub made
    late would leave everything else small beside itself.
    """

    spring_rate: float = 0.06
    partner: float = 0.02
    damping_ratio: float = 0.3
    damping: float = 1.0
    most_damping_ratio: float = 1.5
    most_friction: float = 2.0
    friction: float = 0.3
    bar: float = 0.4
    dynamic_index: float = 0.95
    dynamic_index_sd: float = 0.12
    roll_radius: float = 0.39
    roll_inertia_sd: float = 0.25


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForceModel:
    """Rows (heave, pitch, roll, twist) of sums that vanish, linear in unknown factors.

    `parts` has shape (frequencies, rows, 1 + factors, channels): the first part is known, each
    other one is multiplied by its factor. Channels are `names`, travel as its second derivative.
    `start` are the factors' expected values, `most` the largest believed, shape (factors,), and
    `precision`, shape (factors, factors), tells how well these are known.
    """

    names: tuple[str, ...]
    parts: ComplexArray
    start: FloatArray
    most: FloatArray
    precision: FloatArray


def force_model(
    car: Car, omega: FloatArray, names: tuple[str, ...], priors: ForcePriors | None = None
) -> ForceModel:
    """Build the rows for a car.

    Parameters
    ----------
    car : Car
        Masses, springs, levers, tracks.
    omega : ndarray
        Angular frequencies [rad/s], shape (f,).
    names : tuple of str
        `BY_TRAVEL` or `BY_HUB`.

    References
    ----------
    Newton and Euler for a rigid body; derived here.
    """
    priors = priors or ForcePriors()
    parts = _body_parts(car, len(omega), priors)
    start = [priors.dynamic_index, 1.0]
    most = [np.inf, np.inf]
    blocks = [np.diag([priors.dynamic_index_sd**2, priors.roll_inertia_sd**2])]
    same, own = np.ones((2, 2)), np.eye(2)
    for end, name in enumerate(AXLES):
        rate, damping = _sizes(car.axle(name), priors.damping_ratio)
        for size, answer in (
            (rate, -1 / omega**2 + 0j),
            (damping, 1 / (1j * omega)),
            (rate, -1j / omega**2),
        ):
            by_travel = np.asarray(size * answer, dtype=np.complex128)
            parts += [_force_part(car, end, side, by_travel) for side in range(2)]
        parts.append(_bar_part(car, end, omega))
        start += [1.0, 1.0, 1.0, 1.0, 0.1, 0.1, 0.3]
        hardest, stickiest = priors.most_damping_ratio / priors.damping_ratio, priors.most_friction
        most += [np.inf, np.inf, hardest, hardest, stickiest, stickiest, np.inf]
        blocks += [
            priors.spring_rate**2 * same + priors.partner**2 * own,
            priors.damping**2 * own,
            priors.friction**2 * own,
            np.array([[priors.bar**2]]),
        ]
    made = np.stack(parts, axis=2)
    if names == BY_HUB:
        made = _travel_from_hubs(car, made)
    return ForceModel(
        names=names,
        parts=made,
        start=np.array(start),
        most=np.array(most),
        precision=_inverse(blocks),
    )


def _travel_from_hubs(car: Car, parts: ComplexArray) -> ComplexArray:
    """Put levers times (hub less body) for travel."""
    levers = np.zeros((4, 4))
    for end, name in enumerate(AXLES):
        own = slice(2 * end, 2 * end + 2)
        levers[own, own] = damper_lever_matrix(car.axle(name))
    by_hub = parts[..., :4] @ levers
    return np.concatenate([by_hub, parts[..., 4:] - by_hub], axis=-1)


def _body_parts(car: Car, count: int, priors: ForcePriors) -> list[ComplexArray]:
    """Body accelerations in the rows: known ones, those with the pitch and with the roll inertia.

    All rows are divided by the sprung mass, roll and twist also by the mean track.
    """
    masses = np.array([car.axle(name).sprung_mass_kg for name in AXLES])
    tracks = np.array([car.axle(name).track_m for name in AXLES])
    roll = np.array([0.5, -0.5, 0.5, -0.5]) * tracks.mean() / np.repeat(tracks, 2)
    known, pitching, rolling = (np.zeros((count, _ROWS, 8), dtype=np.complex128) for _ in range(3))
    known[:, _HEAVE, 4:] = np.repeat(masses / 2, 2) / masses.sum()
    known[:, _TWIST, 4:] = roll * np.array([1.0, 1.0, -1.0, -1.0])
    share = masses.prod() / masses.sum() ** 2
    pitching[:, _PITCH, 4:] = share * np.array([0.5, 0.5, -0.5, -0.5])
    rolling[:, _ROLL, 4:] = priors.roll_radius**2 * roll
    return [known, pitching, rolling]


def _force_part(car: Car, end: int, side: int, answer: ComplexArray) -> ComplexArray:
    """What the force of one corner's damper or spring does to the body's rows, negative.

    `answer` [N per m/s2], shape (f,), is the force by the second derivative of travel.
    """
    axle, total = car.axle(AXLES[end]), _sprung_mass_kg(car)
    made = np.zeros((len(answer), _ROWS, 8), dtype=np.complex128)
    index = 2 * end + side
    force = -answer * axle.motion_ratio / total
    other = car.axle(AXLES[1 - end]).sprung_mass_kg
    made[:, _HEAVE, index] = force
    made[:, _PITCH, index] = force * (other if end == 0 else -other) / total
    made[:, _ROLL, index] = force * _roll_arm(car, end, side) * axle.roll_lever_ratio
    return made


def _bar_part(car: Car, end: int, omega: FloatArray) -> ComplexArray:
    """What an anti-roll bar as stiff as the springs does to the body's roll, negative."""
    axle = car.axle(AXLES[end])
    made = np.zeros((len(omega), _ROWS, 8), dtype=np.complex128)
    rate = axle.spring_rate_n_per_m * axle.motion_ratio / axle.roll_lever_ratio
    for side in range(2):
        arm = _roll_arm(car, end, side)
        made[:, _ROLL, 2 * end + side] = rate * arm / omega**2 / _sprung_mass_kg(car)
    return made


def _roll_arm(car: Car, end: int, side: int) -> float:
    """Arm of a wheel's force in roll over the mean track, left positive."""
    tracks = [car.axle(name).track_m for name in AXLES]
    return (0.5 if side == 0 else -0.5) * tracks[end] / float(np.mean(tracks))


def _sprung_mass_kg(car: Car) -> float:
    return sum(car.axle(name).sprung_mass_kg for name in AXLES)


def _sizes(axle: Axle, damping_ratio: float) -> tuple[float, float]:
    """Spring rate [N/m] and damping [N s/m] to expect at the damper."""
    critical = 2 * np.sqrt(axle.spring_rate_n_per_m * axle.sprung_mass_kg / 2)
    return axle.spring_rate_n_per_m, float(damping_ratio * critical / axle.motion_ratio)


def _inverse(blocks: list[FloatArray]) -> FloatArray:
    """Precision of factors whose covariance has these blocks on its diagonal."""
    size = sum(len(block) for block in blocks)
    precision = np.zeros((size, size))
    at = 0
    for block in blocks:
        end = at + len(block)
        precision[at:end, at:end] = np.linalg.inv(block)
        at = end
    return precision
