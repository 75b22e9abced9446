"""Roads under front and rear wheels as sums of what each unknown of the car contributes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.transform import ComplexArray
from ridelog.estimate.road_match.mechanics import lever_ratios, road_filters
from ridelog.estimate.road_match.motion import AxleMotion
from ridelog.recording import FloatArray, IntArray

_HALF_TAPS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceLayout:
    """Places of the force parameters: per axle a spring rate and its curves, then two bars."""

    curves: int

    @property
    def per_axle(self) -> int:
        """Force parameters of one axle."""
        return 1 + self.curves

    @property
    def count(self) -> int:
        """All force parameters."""
        return 2 * self.per_axle + 2

    def spring(self, axle: int) -> int:
        """Spring rate at the damper [N/m]."""
        return axle * self.per_axle

    def forces(self, axle: int) -> slice:
        """Sizes of an axle's curves [N s/m, friction N]."""
        return slice(axle * self.per_axle + 1, (axle + 1) * self.per_axle)

    def bar(self, axle: int) -> int:
        """Extra rate at the wheel in roll [N/m]."""
        return 2 * self.per_axle + axle


def slopes_of(forces: FloatArray, motion: AxleMotion, layout: ForceLayout) -> FloatArray:
    """Straight-line stand-ins of the force laws, see `SLOPE_COUNT`.

    Parameters
    ----------
    forces : FloatArray
        Force parameters, shape (p,) or, for their effect on the slopes, (p, k).
    motion : AxleMotion
        For the equivalent slope of each curve.
    layout : ForceLayout
        Places.
    """
    rows = []
    for axle in (0, 1):
        rows += [forces[layout.spring(axle)], motion.equivalent[axle] @ forces[layout.forces(axle)]]
    return np.stack([*rows, forces[layout.bar(0)], forces[layout.bar(1)]])


def road_columns(
    motion: AxleMotion, car: Car, inertia: FloatArray, layout: ForceLayout
) -> ComplexArray:
    """Vertical road velocity per unit of each force, shape (mode, axle, 1 + p, f).

    Parameters
    ----------
    motion : AxleMotion
        Travel and curves.
    car : Car
        Masses and levers.
    inertia : FloatArray
        See `INERTIA_COUNT`.
    layout : ForceLayout
        Places; column 0 is what travel gives without any force.
    """
    omega = 2 * np.pi * motion.frequency_hz
    out = np.zeros((2, 2, 1 + layout.count, len(omega)), np.complex128)
    rate = 1j * omega * motion.soft_cut
    for mode in (0, 1):
        filters, ratio = road_filters(car, inertia, omega, mode), lever_ratios(car, mode)
        wheel = motion.columns[:, mode, 0] / ratio[:, None]
        out[mode, :, 0] = filters.from_travel * wheel * rate
        for axle in (0, 1):
            answer = (filters.from_force[:, axle] * rate)[:, None]
            start = 1 + axle * layout.per_axle
            part = slice(start, start + layout.per_axle)
            out[mode, :, part] = answer * (ratio[axle] * motion.columns[axle, mode])
            if mode == 1:
                out[mode, :, 1 + layout.bar(axle)] = answer[:, 0] * wheel[axle]
    return out


def total_road(columns: ComplexArray, forces: FloatArray) -> ComplexArray:
    """Road velocity for given forces, shape (mode, axle, f)."""
    return np.asarray(columns[:, :, 0] + np.einsum("maif,i->maf", columns[:, :, 1:], forces))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Warp:
    """Interpolation that delays a signal by a varying time; taps of shape (taps, n)."""

    index: IntArray
    weight: FloatArray

    def apply(self, signals: FloatArray) -> FloatArray:
        """Delayed signals, shape (..., n)."""
        out = signals[..., self.index[0]] * self.weight[0]
        for index, weight in zip(self.index[1:], self.weight[1:], strict=True):
            out += signals[..., index] * weight
        return np.asarray(out)


def make_warp(delay_s: FloatArray, rate_hz: float) -> Warp:
    """Windowed-sinc interpolation for a delay [s] at each sample, shape (n,).

    References
    ----------
    T. I. Laakso et al., Splitting the unit delay, IEEE Signal Processing Magazine 13, 1996.
    """
    count = len(delay_s)
    position = np.arange(count) - delay_s * rate_hz
    whole = np.floor(position).astype(np.int64)
    tap = np.arange(1 - _HALF_TAPS, _HALF_TAPS + 1)[:, None]
    distance = position - whole - tap
    weight = np.sinc(distance) * np.cos(np.pi * distance / (2 * _HALF_TAPS + 0.02)) ** 2
    return Warp(index=np.clip(whole + tap, 0, count - 1), weight=weight)
