"""Motion ratio from wheel and damper measured at a few heights, with its interval."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.car.measured import Measured, around
from ridelog.errors import CalibrationError

FEWEST_FOR_CURVE = 4
NORMAL_97_5 = 1.959964


@dataclass(frozen=True, slots=True, kw_only=True)
class MotionRatioFit:
    """What the heights say: damper travel / wheel travel at ride height.

    `change_per_m` is how much the ratio grows per metre of wheel travel in the direction of rising
    readings [1/m]; None where too few heights were measured to see a curve. `residual_m` is the
    root mean square distance of the damper lengths from the fitted curve.
    """

    ratio: Measured
    change_per_m: Measured | None
    ride_height_m: float
    residual_m: float
    notes: tuple[str, ...] = ()


def fit_motion_ratio(
    wheel_m: Sequence[float],
    damper_m: Sequence[float],
    ride_height_m: float | None = None,
    reading_error_m: float = 0.0005,
) -> MotionRatioFit:
    """Fit damper against wheel, and take the slope at ride height.

    Parameters
    ----------
    wheel_m : sequence of float
        Wheel height at each jack height [m], from any datum, shape (n,).
    damper_m : sequence of float
        Damper length at the same heights [m], shape (n,).
    ride_height_m : float, optional
        The wheel's reading at ride height [m]; the middle of the heights where not given.
    reading_error_m : float
        Standard deviation of one reading [m]; half a millimetre is common practice for a tape or a
        caliper on bushes that give (no source).

    Returns
    -------
    MotionRatioFit
        Ratio and interval. Whether readings rise or fall in bump does not matter.

    Raises
    ------
    CalibrationError
        With fewer than two heights, heights alike, or a ratio that no linkage has.

    Notes
    -----
    From four heights on a parabola is fitted, so that a rising rate does not pass for scatter; with
    two or three a straight line. The interval is that of the stated reading error of both tapes, or
    that of the fit's own scatter with Student's t, whichever is wider.

    References
    ----------
    Ordinary least squares; JCGM 100:2008 (GUM), section 5.1 (combining reading errors) and annex G
    (Student's t). Motion ratio as in Milliken & Milliken, Race Car Vehicle Dynamics, ch. 16.
    """
    wheel, damper = np.asarray(wheel_m, dtype=float), np.asarray(damper_m, dtype=float)
    _check(wheel, damper, ride_height_m)
    middle = float(wheel.mean()) if ride_height_m is None else ride_height_m
    degree = 2 if len(wheel) >= FEWEST_FOR_CURVE else 1
    design = np.vander(wheel - middle, degree + 1, increasing=True)
    found, *_ = np.linalg.lstsq(design, damper, rcond=None)
    residual = damper - design @ found
    slope = float(found[1])
    sign = math.copysign(1.0, slope)
    freedom = len(wheel) - degree - 1
    half_widths = _half_width(residual, freedom, slope, reading_error_m) * np.sqrt(
        np.diag(np.linalg.inv(design.T @ design))
    )
    ratio = around(abs(slope), float(half_widths[1]))
    if not 0.1 < ratio.value < 3:
        raise CalibrationError(
            f"a motion ratio of {ratio.value:.3g} is that of no car: check that each pair is wheel"
            " height first, damper length second, and their units"
        )
    change = around(2 * sign * float(found[2]), 2 * float(half_widths[2])) if degree > 1 else None
    return MotionRatioFit(
        ratio=ratio,
        change_per_m=change,
        ride_height_m=middle,
        residual_m=float(np.sqrt(np.mean(residual**2))),
        notes=_notes(wheel, ride_height_m, degree),
    )


def lever_motion_ratio(
    damper_arm_m: float, wheel_arm_m: float, damper_angle_deg: float = 0.0
) -> float:
    """Motion ratio from lever arms, as a cross-check of the measured one.

    Parameters
    ----------
    damper_arm_m : float
        From the arm's pivot to the damper's lower eye, along the arm [m].
    wheel_arm_m : float
        From the arm's pivot to the wheel's centre plane, along the arm [m].
    damper_angle_deg : float
        Between the damper and the upright on the arm [deg]; 0 where the damper stands square on it.

    Returns
    -------
    float
        Damper travel / wheel travel.

    Raises
    ------
    CalibrationError
        When an arm is not positive or the angle is a right one or more.

    Notes
    -----
    Exact for small travel of a single arm that turns about an axis along the car; the wheel of a
    double wishbone turns about its instant centre instead, whose distance is then the wheel's arm.

    References
    ----------
    Barton & Fieldhouse, Automotive Chassis Engineering, p. 179 (lever c/b); the cosine: derived
    here from the component of the eye's motion along the damper.
    """
    if damper_arm_m <= 0 or wheel_arm_m <= 0 or not -89 < damper_angle_deg < 89:
        raise CalibrationError(
            "lever arms must be longer than 0 and the damper's angle below 89 deg"
        )
    return damper_arm_m / wheel_arm_m * math.cos(math.radians(damper_angle_deg))


def _check(wheel: np.ndarray, damper: np.ndarray, ride_height_m: float | None) -> None:
    """Refuse heights that determine nothing."""
    if len(wheel) < 2 or len(wheel) != len(damper):
        raise CalibrationError("needs two or more pairs of wheel height and damper length")
    if len(np.unique(wheel)) < min(len(wheel), 3) or np.ptp(wheel) < 0.01:
        raise CalibrationError(
            "the wheel heights are too close together; measure at heights 10 mm or more apart"
        )
    if ride_height_m is not None and not wheel.min() <= ride_height_m <= wheel.max():
        raise CalibrationError(
            f"the ride height of {1000 * ride_height_m:g} mm lies outside the measured heights"
            f" ({1000 * wheel.min():g} to {1000 * wheel.max():g} mm); measure on both sides of it"
        )


def _half_width(residual: np.ndarray, freedom: int, slope: float, reading_error_m: float) -> float:
    """95 % half-width of one damper reading, the wheel's own error seen through the slope [m]."""
    stated = NORMAL_97_5 * reading_error_m * math.hypot(1.0, slope)
    if freedom < 1:
        return stated
    from scipy.special import stdtrit

    scatter = math.sqrt(float(residual @ residual) / freedom)
    return max(stated, float(stdtrit(freedom, 0.975)) * scatter)


def _notes(wheel: np.ndarray, ride_height_m: float | None, degree: int) -> tuple[str, ...]:
    """Say what the heights could not tell."""
    notes = []
    if degree == 1:
        notes.append(f"{len(wheel)} heights cannot show a rising rate; measure four or more")
    if ride_height_m is None:
        notes.append(
            "the ratio is that at the middle of the heights; say where the wheel is at ride height"
        )
    return tuple(notes)
