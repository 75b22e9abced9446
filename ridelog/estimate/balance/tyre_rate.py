"""Tyre rate where the owner states none: from where the wheels hop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.basis import curve_force_n
from ridelog.estimate.balance.fit import BalanceFit
from ridelog.estimate.balance.motion import RelativeMotion
from ridelog.estimate.balance.quantities import SECANT_SPEED_M_PER_S
from ridelog.estimate.balance.transform import ComplexArray, smoothed_power
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class TyreRateSettings:
    """Band, grids and priors of the search.

    The road's spectrum falls with about the square of frequency (ISO 8608); the damping the wheel
    feels is the fitted curve's at the speeds of the drive, known to `damping_deviation` (log).
    """

    low_hz: float = 4.0
    high_hz: float = 22.0
    lowest_n_per_m: float = 90e3
    highest_n_per_m: float = 450e3
    rate_steps: int = 81
    usual_n_per_m: float = 210e3  # car tyres run from 150 to 300 N/mm (common practice, no source)
    usual_deviation: float = 0.22
    waviness: tuple[float, ...] = (1.6, 1.8, 2.0, 2.2, 2.4)
    waviness_deviation: float = 0.25
    damping_factors: tuple[float, ...] = (0.7, 0.84, 1.0, 1.19, 1.41)
    damping_deviation: float = 0.15
    correlated_bins: float = 3.0  # neighbouring bins of a tapered, gated record
    model_deviation: float = 0.03
    likeness_step_hz: float = 2.0
    # Where no independent axle shows how alike left and right track are.
    solid_model_deviation: float = 0.07


def tyre_rate_n_per_m(
    fit: BalanceFit, car: Car, number: int, settings: TyreRateSettings | None = None
) -> tuple[float, float]:
    """Tyre rate of one axle [N/m] and the standard deviation of its logarithm [-].

    Parameters
    ----------
    fit : BalanceFit
        Springs and dampers, with the motion they were fitted to.
    car : Car
        Masses and motion ratios.
    number : int
        0 for front, 1 for rear.
    settings : TyreRateSettings, optional
        Grids and priors.

    Notes
    -----
    Whittle likelihood of the wheels' mean acceleration under a quarter car with the fitted spring
    and damping on a road of power-law spectrum, summed over a grid of tyre rate, waviness and
    damping. Valid where the wheels' hop is in the band and unsprung mass is stated rightly: the hop
    fixes tyre rate over unsprung mass, an error of the one is an error of the other.

    References
    ----------
    P. Whittle, J. R. Stat. Soc. B 15 (1953) 125-139, cited from memory; quarter car as in any text
    on vehicle dynamics.
    """
    s = settings or TyreRateSettings()
    axle = (car.front, car.rear)[number]
    ratio = axle.motion_ratio * float(np.exp(fit.calibration.log_motion_ratio[number]))
    mass, unsprung = axle.sprung_mass_kg / 2, axle.unsprung_mass_kg / 2
    springs = [fit.parameters[fit.layout.spring(corner)] for corner in _pair(number)]
    wheel_rate = float(np.mean(springs)) * ratio**2
    damping = _felt_damping_n_s_per_m(fit, number) * ratio**2
    rates = np.geomspace(s.lowest_n_per_m, s.highest_n_per_m, s.rate_steps)
    log_likelihood = np.zeros((s.rate_steps, len(s.waviness), len(s.damping_factors)))
    for block in fit.blocks:
        transform = block.motion.transform
        band = transform.band(s.low_hz, min(s.high_hz, 0.4 * transform.sample_rate_hz))
        omega = transform.angular_rad_per_s[band]
        power = _wheel_power(block.motion, car, number)[band]
        likeness = _track_likeness(block.motion, car, number, s)[band]
        for column, factor in enumerate(s.damping_factors):
            response = _wheel_response(omega, rates, mass, unsprung, wheel_rate, damping * factor)
            for row, waviness in enumerate(s.waviness):
                shape = response * likeness * omega ** (4 - waviness)
                level = np.mean(power / shape, axis=1, keepdims=True)
                misfit = np.sum(np.log(level * shape), axis=1) + len(omega)
                log_likelihood[:, row, column] -= misfit / s.correlated_bins
    log_likelihood -= (
        0.5 * ((np.array(s.waviness) - 2.0) / s.waviness_deviation)[None, :, None] ** 2
    )
    log_likelihood -= (
        0.5 * (np.log(np.array(s.damping_factors)) / s.damping_deviation)[None, None] ** 2
    )
    usual = np.log(rates / s.usual_n_per_m) / s.usual_deviation
    log_likelihood -= 0.5 * usual[:, None, None] ** 2
    weight = np.exp(log_likelihood - log_likelihood.max()).sum(axis=(1, 2))
    weight /= weight.sum()
    mean = float(weight @ np.log(rates))
    spread = float(np.sqrt(weight @ (np.log(rates) - mean) ** 2))
    step = float(np.log(rates[1] / rates[0]))
    model = s.solid_model_deviation if axle.layout == "solid" else s.model_deviation
    return float(np.exp(mean)), float(np.sqrt(spread**2 + step**2 / 12 + model**2))


def _pair(number: int) -> tuple[int, int]:
    return 2 * number, 2 * number + 1


def _wheel_response(
    omega: FloatArray,
    tyre: FloatArray,
    mass: float,
    unsprung: float,
    spring: float,
    damping: float,
) -> FloatArray:
    """Squared wheel over road displacement of a quarter car, shape (rates, f)."""
    link = spring + 1j * omega * damping
    body = link - mass * omega**2
    wheel = link + tyre[:, None] - unsprung * omega**2
    return np.asarray(np.abs(tyre[:, None] * body / (body * wheel - link**2)) ** 2)


def _wheels(motion: RelativeMotion, car: Car, number: int) -> ComplexArray:
    """Spectra of the acceleration of both wheels of an axle, shape (2, f)."""
    pair = list(_pair(number))
    ratio = (car.front, car.rear)[number].motion_ratio
    relative = -(motion.transform.angular_rad_per_s**2) * motion.travel[pair] / ratio
    return np.asarray(motion.body[pair] + relative)


def _wheel_power(motion: RelativeMotion, car: Car, number: int) -> FloatArray:
    """Power of wheel acceleration: of either wheel, or of a solid axle's heave, shape (f,).

    A solid axle rolls on another inertia than its mass; each wheel of an independent axle is a
    quarter car of its own, and what the road does to the other does not matter.
    """
    wheels = _wheels(motion, car, number)
    if (car.front, car.rear)[number].layout == "solid":
        wheels = wheels.mean(axis=0, keepdims=True)
    return np.asarray(np.mean(np.abs(wheels) ** 2, axis=0))


def _track_likeness(
    motion: RelativeMotion, car: Car, number: int, s: TyreRateSettings
) -> FloatArray:
    """Power of the mean of both tracks over that of one, shape (f,); 1 where it does not matter.

    The heave of a solid axle sees the mean of both tracks, which is the smoother the less alike
    they are. An independent axle at the other end shows how alike they are.
    """
    other = (car.rear, car.front)[number]
    alone = (car.front, car.rear)[number].layout == "independent" or other.layout == "solid"
    if alone:
        return np.ones(motion.transform.frequency_hz.shape)
    left, right = _wheels(motion, car, 1 - number)
    bins = int(s.likeness_step_hz / motion.transform.frequency_hz[1])
    both = smoothed_power(np.abs(np.stack([left + right, left - right])) ** 2, bins)
    return np.asarray(both[0] / (both[0] + both[1]))


def _felt_damping_n_s_per_m(fit: BalanceFit, number: int) -> float:
    """Slope of the best straight line through damper and friction force over the drive's speeds."""
    layout = fit.layout
    slopes = []
    for corner in _pair(number):
        speed = fit.blocks[0].motion.speed_m_per_s()[corner, ::4]
        force = curve_force_n(speed, fit.parameters[layout.pieces(corner)], layout.basis)
        force = force + fit.parameters[layout.friction(corner)].sum() * np.tanh(
            speed / (0.1 * SECANT_SPEED_M_PER_S)
        )
        slopes.append(float(speed @ force / (speed @ speed)))
    return float(np.mean(slopes))
