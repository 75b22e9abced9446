"""Whitened normal equations of the balance: heave, pitch and roll of all stretches together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.car.description import Car
from ridelog.estimate.balance.channel_columns import channel_columns
from ridelog.estimate.balance.kinematics import Calibration
from ridelog.estimate.balance.layout import Layout
from ridelog.estimate.balance.rows import BlockRows, body_weights, corner_weights
from ridelog.estimate.balance.slow_forces import real_pairs, taken_by_slow, without_slow
from ridelog.estimate.balance.transform import ComplexArray, smoothed_power
from ridelog.recording import FloatArray


def normal_equations(
    rows: Sequence[BlockRows],
    car: Car,
    layout: Layout,
    calibration: Calibration,
    parameters: FloatArray | None,
    *,
    noise_step_hz: float,
    slow_acceleration_m_per_s2: float,
) -> tuple[FloatArray, FloatArray, float]:
    """Normal matrix, right-hand side, and the share of the body force left unexplained.

    Parameters
    ----------
    rows : sequence of BlockRows
        Stretches of log.
    car : Car
        Masses and lever ratios.
    layout : Layout
        Places of the parameters.
    calibration : Calibration
        Corrections already made to the channels.
    parameters : ndarray or None
        Current parameters [mixed], shape (parameters,); None before the first solution.
    noise_step_hz : float
        Width over which the residual's power is averaged [Hz].
    slow_acceleration_m_per_s2 : float
        Standard deviation of slow accelerations that no spring or damper explains [m/s2].

    Returns
    -------
    tuple
        Matrix (parameters, parameters), vector (parameters,), ratio [-].

    References
    ----------
    Generalised least squares as in any text on estimation; the likelihood's change-of-variables
    term for pitch and roll is derived here.
    """
    designs = [_design(block, car, layout, calibration, parameters) for block in rows]
    heave = float(np.mean([_bin_power(design.target) for design in designs]))
    slow_force = slow_acceleration_m_per_s2 * _row_masses(car)
    bins = rows[0].columns.shape[2]
    noise = np.full((3, bins), 1e-3 * heave)
    left = heave
    if parameters is not None:
        power = np.mean(
            [
                _unexplained_power(block, design.residual(parameters), slow_force, 1e-3 * heave)
                for block, design in zip(rows, designs, strict=True)
            ],
            axis=0,
        )
        left = float(np.mean(power[0]))
        transform = rows[0].motion.transform
        noise = smoothed_power(power, int(noise_step_hz / transform.frequency_hz[1]))
    weight = np.sqrt(2 / noise)
    normal = np.zeros((layout.count, layout.count))
    projected = np.zeros(layout.count)
    for block, design in zip(rows, designs, strict=True):
        design.add_to(normal, projected, weight)
        if block.slow is not None:
            _take_slow(normal, projected, design, weight, block.slow, slow_force)
    if parameters is not None:
        _weigh_inertias(normal, projected, layout, parameters, 2 * len(rows) * bins)
    return normal, projected, float(np.sqrt(left / heave))


def _weigh_inertias(
    normal: FloatArray, projected: FloatArray, layout: Layout, parameters: FloatArray, readings: int
) -> None:
    """Add what keeps pitch and roll from shrinking to nothing, in place.

    Those rows have no known side: all their terms made smaller together leave a smaller residual
    and explain nothing. What is measured is the acceleration, so its likelihood holds the inertia
    to the power of the readings; this is that term to second order.
    """
    for place in (layout.dynamic_index, layout.roll_inertia):
        inertia = parameters[place]
        if inertia > 0:
            normal[place, place] += readings / inertia**2
            projected[place] += 2 * readings / inertia


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Design:
    """Target and design of one stretch, real and imaginary parts side by side.

    `places` (k,) are the parameters that the stretch tells of: a curve's piece at speeds that no
    damper reached is zero throughout. `curves` (k, 2 f) enter row r of the three times `shares`
    (3, k); `channels` (3, open corrections, 2 f) enter as they are, None before the first solution.
    Only the heave row has a `target` (2 f,).
    """

    places: npt.NDArray[np.intp]
    curves: FloatArray
    shares: FloatArray
    channels: FloatArray | None
    target: FloatArray

    def row(self, row: int) -> FloatArray:
        """Curves and channel corrections of a row, without shares, shape (k, 2 f)."""
        if self.channels is not None:
            self.curves[-self.channels.shape[1] :] = self.channels[row]
        return self.curves

    def residual(self, parameters: FloatArray) -> ComplexArray:
        """What the parameters leave of the target, shape (3, f)."""
        told = parameters[self.places]
        left = np.stack([-(self.shares[row] * told) @ self.row(row) for row in range(3)])
        left[0] += self.target
        bins = left.shape[1] // 2
        return np.asarray(left[:, :bins] + 1j * left[:, bins:])

    def add_to(self, normal: FloatArray, projected: FloatArray, weight: FloatArray) -> None:
        """Add what the stretch tells under weights (3, f) to matrix and vector, in place."""
        here = np.ix_(self.places, self.places)
        if self.channels is None and np.all(weight == weight[0]):
            flat = self.curves * np.tile(weight[0], 2)
            normal[here] += (flat @ flat.T) * (self.shares.T @ self.shares)
            told = flat @ (self.target * np.tile(weight[0], 2))
            projected[self.places] += self.shares[0] * told
            return
        for row in range(3):
            both = np.tile(weight[row], 2)
            flat = self.row(row) * both
            normal[here] += (flat @ flat.T) * np.outer(self.shares[row], self.shares[row])
            if row == 0:
                projected[self.places] += self.shares[0] * (flat @ (self.target * both))


def _bin_power(pairs: FloatArray) -> float:
    """Mean power of the bins whose real and imaginary parts stand side by side (2 f,)."""
    return float(2 * np.mean(pairs**2))


def _take_slow(
    normal: FloatArray,
    projected: FloatArray,
    design: _Design,
    weight: FloatArray,
    slow: ComplexArray,
    slow_force: FloatArray,
) -> None:
    """Take off what slow forces of a stretch could as well explain, in place."""
    pairs, low = real_pairs(slow), slow.shape[1]
    for row in range(3):
        both = np.tile(weight[row, :low], 2)
        whitened = pairs * (slow_force[row] * both)
        columns = [_low_bins(rows, low) for rows in (design.row(row), design.target[None])]
        taken = taken_by_slow(whitened, (np.concatenate(columns) * both).T)
        shared = taken[:, :-1] * design.shares[row]
        normal[np.ix_(design.places, design.places)] -= shared.T @ shared
        if row == 0:
            projected[design.places] -= shared.T @ taken[:, -1]


def _low_bins(pairs: FloatArray, low: int) -> FloatArray:
    """Real and imaginary parts of the lowest bins of rows (rows, 2 f), shape (rows, 2 low)."""
    bins = pairs.shape[1] // 2
    return np.concatenate([pairs[:, :low], pairs[:, bins : bins + low]], axis=1)


def _row_masses(car: Car) -> FloatArray:
    """What a body acceleration of all corners amounts to in each row [kg, kg, kg m], shape (3,)."""
    half_track = 0.25 * (car.front.track_m + car.rear.track_m)
    return car.sprung_mass_kg * np.array([1.0, 1.0, half_track])


def _unexplained_power(
    block: BlockRows, residual: ComplexArray, slow_force: FloatArray, noise_power: float
) -> FloatArray:
    """Power of the residual rows (3, f) once slow forces are taken off."""
    if block.slow is not None:
        residual = without_slow(residual, block.slow, slow_force, noise_power)
    return np.asarray(np.abs(residual) ** 2)


def _design(
    block: BlockRows,
    car: Car,
    layout: Layout,
    calibration: Calibration,
    parameters: FloatArray | None,
) -> _Design:
    """Target and design of one stretch."""
    weights = corner_weights(car, calibration.log_motion_ratio)
    bins = block.columns.shape[2]
    mechanical = layout.mechanical_count
    shares = np.zeros((3, layout.count))
    shares[:, mechanical:] = 1.0
    for corner in range(4):
        shares[:, layout.corner(corner)] = weights[:, corner, None]
    sums = real_pairs(body_weights(car, 1.0, 1.0) @ block.body)
    for row, place in ((1, layout.dynamic_index), (2, layout.roll_inertia)):
        shares[row, place] = -1.0
    for axle in range(2):
        shares[2, layout.bar(axle)] = weights[2, 2 * axle]
    of_corners = block.columns.reshape(4 * layout.per_corner, bins)
    reached = np.flatnonzero(of_corners.any(axis=1))
    bars = [layout.bar(axle) for axle in range(2)]
    rest = np.array([layout.dynamic_index, layout.roll_inertia, *bars])
    open_places = np.arange(mechanical, layout.count if parameters is not None else mechanical)
    places = np.concatenate([reached, rest, open_places])
    curves = np.empty((len(places), 2 * bins))
    end = len(reached)
    curves[:end, :bins], curves[:end, bins:] = of_corners.real[reached], of_corners.imag[reached]
    curves[end], curves[end + 1] = sums[1], sums[2]
    springs = real_pairs(block.columns[:, 0])
    curves[end + 2 : end + 4] = springs[::2] - springs[1::2]
    channels = None
    if parameters is not None:
        sensors = body_weights(
            car, parameters[layout.dynamic_index], parameters[layout.roll_inertia]
        )
        found = channel_columns(block, car, layout, parameters, weights, sensors)
        channels = np.ascontiguousarray(real_pairs(found).transpose(1, 0, 2))
    return _Design(
        places=places,
        curves=curves,
        shares=shares[:, places],
        channels=channels,
        target=sums[0],
    )
