"""How far the body leans per g of cornering, from side-to-side travel and lateral acceleration."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Car
from ridelog.errors import SignalError
from ridelog.estimate.result import Estimate
from ridelog.estimate.roll_stiffness import DEGREE, axle_roll
from ridelog.recording import (
    AXLES,
    CORNERS_OF_AXLE,
    STANDARD_GRAVITY_M_PER_S2,
    FloatArray,
    Recording,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class RollGradientSettings:
    """Band, least cornering and doubts.

    Above `high_hz` the body's own rolling starts. `least_m_per_s2` is the rms of slow lateral
    acceleration below which a log holds no cornering. `link_arm_m` with its deviation stands for
    the couple that links and wheels put straight on the tyres (roll centre height and wheel
    radius; common practice, no source). `friction`: what dry friction holds back, relative.
    """

    high_hz: float = 0.45
    rate_hz: float = 10.0
    ends_s: float = 2.0
    least_m_per_s2: float = 0.25
    link_arm_m: float = 0.15
    link_arm_sd_m: float = 0.08
    friction: float = 0.02
    unknown_bar: float = 0.25
    default_tyre_rate_n_per_m: float = 220e3
    default_tyre_sd: float = 0.15
    most_random: float = 0.3


def roll_gradient(
    recording: Recording,
    car: Car,
    suspension_n_m_per_deg: Mapping[str, Estimate] | None = None,
    settings: RollGradientSettings | None = None,
) -> Estimate:
    """Roll of the body against the road per g of lateral acceleration [deg/g].

    Parameters
    ----------
    recording : Recording
        Needs `body_lat` and both travels of an axle, or of both.
    car : Car
        Lever ratios, tracks, rates, masses.
    suspension_n_m_per_deg : mapping, optional
        Roll stiffness of springs and bar by axle [N m/deg] where it was measured; else it is
        reckoned from the car file, with a guess where that states no bar.
    settings : RollGradientSettings, optional
        Band and doubts.

    Returns
    -------
    Estimate
        Leaning outwards counts positive.

    Raises
    ------
    SignalError
        Sensors are missing, or the log holds no cornering to speak of.

    Notes
    -----
    Side-to-side travel over lever and track is roll against the wheels. It follows lateral
    acceleration with a lag; at low frequency acceleration and its first two derivatives describe
    that, and the first coefficient is the steady one. What the tyres add comes from the rates in
    the car file and a usual couple through the links. A leaning sensor feels a part of gravity,
    which is taken off. Slow banks of the road act on car and sensor alike.

    References
    ----------
    Roll gradient: T. D. Gillespie, Fundamentals of Vehicle Dynamics (1992), ch. 6, and
    W. F. Milliken and D. L. Milliken, Race Car Vehicle Dynamics (1995), ch. 18; from memory. The
    regression is derived here.
    """
    settings = settings or RollGradientSettings()
    if not recording.has("body_lat"):
        raise SignalError("needs lateral acceleration (body_lat) beside side-to-side travel")
    axles = [
        name
        for name in AXLES
        if recording.has(*(f"travel_{corner}" for corner in CORNERS_OF_AXLE[name]))
    ]
    if not axles:
        raise SignalError("needs both travel sensors of an axle beside lateral acceleration")
    lateral = _slow(recording.channels["body_lat"], recording, settings)
    cornering = float(np.sqrt(np.mean(lateral[0] ** 2)))
    if cornering < settings.least_m_per_s2:
        raise SignalError(
            f"no cornering to speak of: {cornering:.2f} m/s2 rms of slow lateral acceleration, "
            f"it takes {settings.least_m_per_s2:g}"
        )
    measured = suspension_n_m_per_deg or {}
    parts = [
        _axle_part(recording, car.axle(name), name, lateral, measured.get(name), settings)
        for name in axles
    ]
    return _together(parts, car, settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class _AxlePart:
    """Roll by one axle [rad per m/s2 of reading], its random part and the relative doubts."""

    value: float
    random_sd: float
    doubts: dict[str, float]


def _axle_part(
    recording: Recording,
    axle: Axle,
    name: str,
    lateral: FloatArray,
    measured: Estimate | None,
    settings: RollGradientSettings,
) -> _AxlePart:
    left, right = (recording.channels[f"travel_{c}"] for c in CORNERS_OF_AXLE[name])
    lever = axle.motion_ratio * axle.roll_lever_ratio * axle.track_m
    # To the left the body leans to the right: the right side is pressed.
    lean = _slow((right - left) / lever, recording, settings)[0]
    slope, sd = _steady_slope(lean, lateral, recording, settings)
    tyre = axle.tyre_rate_n_per_m or settings.default_tyre_rate_n_per_m
    bar = axle.bar_rate_n_per_m
    wheel = axle.spring_rate_n_per_m * axle.motion_ratio**2
    roll = axle_roll(axle, wheel, bar or 0.0, tyre)
    soft, unknown = roll.suspension_n_m_per_rad, 0.0
    if measured is not None:
        soft = measured.value / DEGREE
    elif bar is None:
        # None to as stiff as the springs in roll; a quarter of them is the guess and its spread.
        unknown = settings.unknown_bar * roll.springs_n_m_per_rad
        soft += unknown
    give = soft / roll.tyres_n_m_per_rad
    mass = axle.sprung_mass_kg + axle.unsprung_mass_kg
    couple = mass * settings.link_arm_m / roll.tyres_n_m_per_rad
    value = slope * (1 + give) + couple
    return _AxlePart(
        value=value,
        random_sd=sd * (1 + give),
        doubts={
            "bar": slope * unknown / roll.tyres_n_m_per_rad / value,
            "tyre": (slope * give + couple) / value,
            "couple": couple / value,
        },
    )


def _steady_slope(
    lean: FloatArray, lateral: FloatArray, recording: Recording, settings: RollGradientSettings
) -> tuple[float, float]:
    """Steady lean per lateral acceleration and its standard deviation, over the low band."""
    from scipy.stats import t

    seconds = recording.duration_s
    frequency = np.fft.rfftfreq(len(lean), 1 / settings.rate_hz)
    band = (frequency > 0.5 / seconds) & (frequency <= settings.high_hz)
    target = np.fft.rfft(lean)[band]
    columns = np.fft.rfft(lateral, axis=-1)[:, band]
    weight = np.ones(len(target))
    design = answer = np.zeros(0)
    for _ in range(3):
        # Bins hold independent noise; roads lean the car the more, the faster they change.
        root = np.sqrt(weight)
        design = np.concatenate([(columns * root).real, (columns * root).imag], axis=1).T
        answer = np.concatenate([(target * root).real, (target * root).imag])
        solution = np.linalg.lstsq(design, answer, rcond=None)[0]
        power = np.abs(target - solution @ columns) ** 2
        weight = 1 / _smooth_power(np.asarray(frequency[band], dtype=float), power)
    freedom = 2 * len(target) - 3
    if freedom < 12:
        raise SignalError(f"no roll gradient: {seconds:.0f} s are too short for steady cornering")
    inverse = np.linalg.inv(design.T @ design)
    residual = answer - design @ solution
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    spread = design * (residual / np.maximum(1 - leverage, 0.05))[:, None]
    sandwich = inverse @ spread.T @ spread @ inverse
    plain = inverse * float(residual @ residual) / freedom
    # Few bins carry the corners: the larger of both, widened as Student's t asks.
    sd = float(np.sqrt(max(sandwich[0, 0], plain[0, 0]))) * float(t.ppf(0.975, freedom)) / 1.96
    return float(solution[0]), sd


def _smooth_power(frequency: FloatArray, power: FloatArray) -> FloatArray:
    """Power of the residual as a straight line in log over log of frequency."""
    slope, level = np.polyfit(np.log(frequency), np.log(power + 1e-30), 1)
    return np.asarray(np.exp(level + float(np.clip(slope, 0.0, 4.0)) * np.log(frequency)))


def _slow(signal: FloatArray, recording: Recording, settings: RollGradientSettings) -> FloatArray:
    """The slow part with its first and second derivative at a low rate, ends tapered, (3, n)."""
    from scipy.signal import resample_poly

    rate = recording.sample_rate_hz
    factor = max(1, round(rate / settings.rate_hz))
    settings_rate = rate / factor
    padded = np.where(recording.valid, signal, np.nan)
    filled = np.interp(
        np.arange(len(signal)), np.flatnonzero(recording.valid), padded[recording.valid]
    )
    slow = np.asarray(resample_poly(filled, 1, factor), dtype=float)
    slow = slow - slow.mean()
    count = len(slow)
    ends = min(int(settings.ends_s * settings_rate), count // 4)
    taper = np.ones(count)
    if ends:
        rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(ends) + 0.5) / ends)
        taper[:ends], taper[-ends:] = rise, rise[::-1]
    frequency = np.fft.rfftfreq(count, 1 / settings_rate)
    low = np.fft.rfft(slow) * (frequency <= 2 * settings.high_hz)
    omega = 2j * np.pi * frequency
    return np.stack([np.fft.irfft(low * omega**order, count) * taper for order in range(3)])


def _together(parts: list[_AxlePart], car: Car, settings: RollGradientSettings) -> Estimate:
    """Mean of the axles' answers, gravity in the sensor taken off, with its interval."""
    weights = np.array([1 / part.random_sd**2 for part in parts])
    # Travel gains and bars err axle by axle; neither axle is to count for nothing.
    weights = 0.5 * weights / weights.sum() + 0.5 / len(parts)
    per_reading = float(weights @ [part.value for part in parts])
    # Both axles feel the same corners and partly the same road: no gain from two is taken.
    random = float(weights @ [part.random_sd for part in parts]) / per_reading
    if random > settings.most_random or per_reading <= 0:
        raise SignalError("the cornering of this log is too weak against the road's own lean")
    doubts = {
        name: float(weights @ [part.doubts[name] for part in parts]) for name in parts[0].doubts
    }
    stated = all(car.axle(name).tyre_rate_n_per_m is not None for name in AXLES)
    systematic = float(
        np.sqrt(
            (doubts["bar"]) ** 2
            + (doubts["tyre"] * (car.tolerances.tyre_rate if stated else settings.default_tyre_sd))
            ** 2
            + (doubts["couple"] * settings.link_arm_sd_m / settings.link_arm_m) ** 2
            + settings.friction**2
            + car.tolerances.motion_ratio**2
            + car.tolerances.travel_gain**2
            + car.tolerances.accelerometer_gain**2
        )
    )
    # A sensor that leans with the body reads acceleration + g x lean.
    share = STANDARD_GRAVITY_M_PER_S2 * per_reading
    gradient = share / (1 - share) / DEGREE
    spread = 1.96 * float(np.hypot(random, systematic))
    return Estimate(
        value=gradient,
        low=gradient * float(np.exp(-spread)),
        high=gradient * float(np.exp(spread)),
        random_half_width=1.96 * random * gradient,
        systematic_half_width=1.96 * systematic * gradient,
        largest_contributor="cornering in the log" if random > systematic else "tyres and links",
    )
