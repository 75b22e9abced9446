"""What turning the spring perches does to heights and corner loads of a stiff body."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.car.geometry import damper_lever_matrix
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PerchResponse:
    """Answers of the standing car to its four perches, corners in the order fl fr rl rr.

    `height_m_per_m` (4, 4): rise of the body over each wheel (row) per rise of each perch
    (column), perches measured along the spring. `load_n_per_m` (4, 4): change of each wheel's load
    [N/m]. `perch_for_plane` (4, 3): perch rises that lift front, lift rear and lean the body to the
    right by one metre (at the axles; lean: left side over right side at the front wheels) without
    changing any load. `perch_for_cross_m_per_n` (4,): perch rises that carry one newton onto right
    front and left rear together without changing any height.
    """

    height_m_per_m: FloatArray
    load_n_per_m: FloatArray
    perch_for_plane: FloatArray
    perch_for_cross_m_per_n: FloatArray


def perch_response(car: Car, tyre_rate_n_per_m: tuple[float, float]) -> PerchResponse:
    """Work out how the standing car answers to its perches.

    Parameters
    ----------
    car : Car
        Springs, motion ratios, tracks, wheelbase; bars where stated.
    tyre_rate_n_per_m : tuple of float
        Tyre rates front and rear [N/m].

    Returns
    -------
    PerchResponse

    Notes
    -----
    A stiff body on four springs that stand on four tyres: seven unknowns, linear. Small changes:
    the motion ratio stays; no friction, so a real car gets there only after it has been rolled and
    rocked. On a solid axle the springs are taken to stand where the dampers do. A bar that is
    stated takes part; disconnected it does not.

    References
    ----------
    Statics of a rigid body on springs, derived here; four-legged table, one redundant support.
    """
    body = body_rows(car)
    axles = (car.front, car.rear)
    suspension, pull = (
        _two_axles([part(axle) for axle in axles]) for part in (_suspension, _perch_pull)
    )
    tyre = np.repeat(np.array(tyre_rate_n_per_m), 2)
    # Suspension force F = suspension (w - B z) + pull p, and the tyre's answer w = - F / T.
    series = np.linalg.inv(np.eye(4) + suspension / tyre)
    felt = series @ suspension @ body
    plane = np.linalg.solve(body.T @ felt, body.T @ series @ pull)
    cross = cross_load_pattern(car)
    return PerchResponse(
        height_m_per_m=body @ plane,
        load_n_per_m=series @ pull - felt @ plane,
        perch_for_plane=np.asarray(np.linalg.solve(pull, suspension @ plane_shapes(car))),
        perch_for_cross_m_per_n=np.linalg.solve(pull, cross + suspension @ (cross / tyre)),
    )


def body_rows(car: Car) -> FloatArray:
    """Height of the body over each wheel per height of the middle, nose-up slope and lean, (4, 3).

    Parameters
    ----------
    car : Car
        Wheelbase and tracks.

    References
    ----------
    A plane over four points, derived here.
    """
    along = car.wheelbase_m / 2 * np.array([1.0, 1.0, -1.0, -1.0])
    across = np.repeat([car.front.track_m, car.rear.track_m], 2) / 2 * np.array([1, -1, 1, -1])
    return np.stack([np.ones(4), along, across], axis=1)


def plane_shapes(car: Car) -> FloatArray:
    """Heights over the wheels for front up, rear up and left up by a metre, shape (4, 3).

    Parameters
    ----------
    car : Car
        Tracks: a lean shows at each axle in proportion to its track.

    References
    ----------
    Derived here.
    """
    rear = car.rear.track_m / car.front.track_m / 2
    return np.array([[1.0, 0.0, 0.5], [1.0, 0.0, -0.5], [0.0, 1.0, rear], [0.0, 1.0, -rear]])


def cross_load_pattern(car: Car) -> FloatArray:
    """Change of the four loads that moves one newton onto right front and left rear together, (4,).

    Parameters
    ----------
    car : Car
        Tracks.

    Notes
    -----
    The one pattern with no force, no pitching and no rolling moment: three supports fix a stiff
    body, the fourth only shifts load along the diagonals.

    References
    ----------
    Equilibrium of a rigid body, derived here.
    """
    front, rear = 1 / car.front.track_m, 1 / car.rear.track_m
    return np.array([-front, front, rear, -rear]) / (front + rear)


def _suspension(axle: Axle) -> FloatArray:
    """Wheel forces per wheel travel of (left, right), springs and bar [N/m]."""
    lever = damper_lever_matrix(axle)
    bar = (axle.bar_rate_n_per_m or 0.0) * np.array([[1.0, -1.0], [-1.0, 1.0]])
    return axle.spring_rate_n_per_m * lever.T @ lever + bar


def _perch_pull(axle: Axle) -> FloatArray:
    """Wheel forces per rise of the perches (left, right) [N/m]."""
    return axle.spring_rate_n_per_m * damper_lever_matrix(axle).T


def _two_axles(parts: list[FloatArray]) -> FloatArray:
    whole = np.zeros((4, 4))
    whole[:2, :2], whole[2:, 2:] = parts
    return whole
