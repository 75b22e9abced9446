"""Lever of the dampers of a whole car."""

from __future__ import annotations

import numpy as np

from ridelog.car.description import Car
from ridelog.car.geometry import damper_lever_matrix
from ridelog.recording import FloatArray


def lever_matrix_of_car(car: Car) -> FloatArray:
    """Damper travel per wheel travel of all corners, shape (4, 4).

    Parameters
    ----------
    car : Car
        Motion ratios and spacings.

    References
    ----------
    See `damper_lever_matrix`.
    """
    lever = np.zeros((4, 4))
    lever[:2, :2] = damper_lever_matrix(car.front)
    lever[2:, 2:] = damper_lever_matrix(car.rear)
    return lever
