"""What is known of a car before it is let go: broad priors, and the owner's figures with doubts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Axle, Tolerances
from ridelog.car.geometry import sprung_mass_per_corner_kg, wheel_rate_n_per_m
from ridelog.estimate.decay_fit import Prior
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleNumbers:
    """One axle as the owner states it; masses and rates per corner, doubts as in `Tolerances`.

    `tyre_rate_n_per_m` is None where the owner has none. `roll_lever_m` is damper speed over the
    rate at which the body rolls, tyres held for rigid.
    """

    sprung_mass_kg: float
    unsprung_mass_kg: float
    wheel_rate_n_per_m: float
    motion_ratio: float
    tyre_rate_n_per_m: float | None = None
    roll_lever_m: float = 0.0

    @classmethod
    def from_axle(cls, axle: Axle) -> AxleNumbers:
        """Take the numbers from the car's description."""
        return cls(
            sprung_mass_kg=sprung_mass_per_corner_kg(axle),
            unsprung_mass_kg=axle.unsprung_mass_kg / 2,
            wheel_rate_n_per_m=wheel_rate_n_per_m(axle),
            motion_ratio=axle.motion_ratio,
            tyre_rate_n_per_m=axle.tyre_rate_n_per_m,
            roll_lever_m=axle.track_m / 2 * axle.roll_lever_ratio * axle.motion_ratio,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PriorSettings:
    """Centres and one standard deviation, relative (of the logarithm) where not said otherwise.

    Common practice for road cars (no source), kept broad so that the log decides.
    """

    wheel_rate_width: float = 0.25  # a catalogue figure is usually within 5 %, sometimes far off
    damping_ratio: float = 0.3
    damping_width: float = 0.6
    asymmetry: float = 1.6  # rebound over bump
    asymmetry_width: float = 0.4
    knee_speed_m_per_s: float = 0.13
    knee_width: float = 0.5
    knee_ratio_width: float = 0.5  # bump knee over rebound knee, 1 in the middle
    digression: float = 0.45  # slope past the knee over slope before it
    digression_width: float = 0.45
    soft_start: float = 0.9  # slope at standstill over slope before the knee
    soft_start_width: float = 0.25  # bleed holes take up to half of it, others start steeper
    friction_n: float = 40.0
    friction_width: float = 0.8
    sign_change_m_per_s: float = 0.0035  # speed over which friction changes sign
    sign_change_width: float = 0.7
    unsprung_mass_width: float = 0.02
    tyre_rate_n_per_m: float = 220e3  # where the owner states none
    unknown_tyre_width: float = 0.2
    tyre_damping_n_s_per_m: float = 150.0
    tyre_damping_width: float = 0.8
    roll_over_wheel_rate: float = 1.5  # what bars add in roll
    pitch_inertia: float = 0.95  # over front mass x rear mass / total x wheelbase squared
    pitch_inertia_width: float = 0.12
    offset_width_m_per_s2: float = 0.01  # left after the resting mean is taken off
    body_position_m: float = 0.05  # at the release
    wheel_position_m: float = 0.006
    body_speed_m_per_s: float = 0.4
    wheel_speed_m_per_s: float = 0.06
    hand_force_n: float = 12.0  # per corner, left at the start of a decay: hands are off by then


def roll_lever_m(numbers: AxleNumbers, settings: PriorSettings) -> float:
    """Damper speed over roll rate of the body [m], the wheels following on their tyres."""
    tyre = numbers.tyre_rate_n_per_m or settings.tyre_rate_n_per_m
    held = settings.roll_over_wheel_rate * numbers.wheel_rate_n_per_m
    return numbers.roll_lever_m * tyre / (tyre + held)


def build_prior(
    axles: tuple[AxleNumbers, AxleNumbers],
    tolerances: Tolerances,
    sensors_per_axle: tuple[int, int],
    settings: PriorSettings,
) -> Prior:
    """Prior of all unknowns from the owner's numbers [SI], front first."""
    centres = [_axle_centre(numbers, settings) for numbers in axles]
    widths = [_axle_width(numbers, tolerances, settings) for numbers in axles]
    average = np.sqrt(np.maximum(sensors_per_axle, 1))
    gain = tolerances.accelerometer_gain / average
    lag = tolerances.channel_delay_s * np.sqrt(np.sum(1 / average**2))
    offset = settings.offset_width_m_per_s2
    s = settings
    return Prior(
        shared_centre=np.concatenate([*centres, [np.log(s.pitch_inertia)], np.zeros(5)]),
        shared_width=np.concatenate(
            [*widths, [s.pitch_inertia_width], gain, [lag], [offset, offset]]
        ),
        state_width=np.array(
            [
                *[s.body_position_m] * 2,
                *[s.wheel_position_m] * 2,
                *[s.body_speed_m_per_s] * 2,
                *[s.wheel_speed_m_per_s] * 2,
                *[s.hand_force_n] * 2,
            ]
        ),
    )


def _axle_centre(numbers: AxleNumbers, settings: PriorSettings) -> FloatArray:
    critical = 2 * np.sqrt(numbers.wheel_rate_n_per_m * numbers.sprung_mass_kg)
    values = (
        numbers.wheel_rate_n_per_m,
        settings.damping_ratio * critical / numbers.motion_ratio**2,
        settings.asymmetry,
        settings.knee_speed_m_per_s,
        1.0,
        settings.digression,
        settings.soft_start,
        settings.friction_n,
        settings.sign_change_m_per_s,
        numbers.sprung_mass_kg,
        numbers.unsprung_mass_kg,
        numbers.tyre_rate_n_per_m or settings.tyre_rate_n_per_m,
        settings.tyre_damping_n_s_per_m,
        numbers.motion_ratio,
    )
    return np.asarray(np.log(np.array(values)))


def _axle_width(
    numbers: AxleNumbers, tolerances: Tolerances, settings: PriorSettings
) -> FloatArray:
    tyre_known = numbers.tyre_rate_n_per_m is not None
    return np.array(
        [
            settings.wheel_rate_width,
            settings.damping_width,
            settings.asymmetry_width,
            settings.knee_width,
            settings.knee_ratio_width,
            settings.digression_width,
            settings.soft_start_width,
            settings.friction_width,
            settings.sign_change_width,
            tolerances.sprung_mass,
            settings.unsprung_mass_width,
            tolerances.tyre_rate if tyre_known else settings.unknown_tyre_width,
            settings.tyre_damping_width,
            tolerances.motion_ratio,
        ]
    )
