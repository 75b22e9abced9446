"""What must hold between sensors whatever the road does: the car's kinematics as rows of zeros.

Second derivative of travel = levers x (hub - body acceleration), corner by corner; and a rigid
body's left-right differences over its two axles agree.
"""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from ridelog.car.description import Car
from ridelog.car.geometry import damper_lever_matrix
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS_OF_AXLE,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    FloatArray,
)

COLUMNS = (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS)


def identity_rows(car: Car, kept: Collection[str]) -> FloatArray:
    """Return the combinations of channels that vanish on a car with sound sensors.

    Parameters
    ----------
    car : Car
        The car; uses lever matrices and tracks.
    kept : collection of str
        Channels that may take part. Rows are combined so that no other channel is needed.

    Returns
    -------
    float array, shape (rows, 12)
        Columns in the order of `COLUMNS`; travel columns multiply its second derivative [1],
        acceleration columns multiply accelerations [1]. Possibly no row.

    References
    ----------
    Derived here: travel is hub minus body motion through the axle's levers; the roll acceleration
    of a rigid body is (left - right) / track at both axles, with the sensors above the wheels.
    """
    column = {name: index for index, name in enumerate(COLUMNS)}
    rows = np.zeros((5, len(COLUMNS)))
    row = 0
    for axle_name in AXLES:
        axle = car.axle(axle_name)
        corners = CORNERS_OF_AXLE[axle_name]
        for corner, levers in zip(corners, damper_lever_matrix(axle), strict=True):
            rows[row, column[f"travel_{corner}"]] = 1.0
            for side, lever in zip(corners, levers, strict=True):
                rows[row, column[f"body_{side}"]] = lever
                rows[row, column[f"hub_{side}"]] = -lever
            row += 1
        weight = (1.0 if axle_name == "front" else -1.0) * car.front.track_m / axle.track_m
        rows[4, column[f"body_{corners[0]}"]] = weight
        rows[4, column[f"body_{corners[1]}"]] = -weight
    gone = [index for name, index in column.items() if name not in kept]
    return _eliminate(rows, gone)


def _eliminate(rows: FloatArray, gone: list[int]) -> FloatArray:
    """Combine rows so that the columns `gone` are zero, keeping untouched rows as they are."""
    needs = np.any(np.abs(rows[:, gone]) > 1e-12, axis=1)
    if not needs.any():
        return rows
    left, values, _ = np.linalg.svd(rows[needs][:, gone])
    rank = int(np.count_nonzero(values > 1e-9))
    combined = left[:, rank:].T @ rows[needs]
    combined[np.abs(combined) < 1e-12] = 0.0
    useful = np.any(combined != 0, axis=1)
    return np.vstack([rows[~needs], combined[useful]])
