"""A simulated car as it truly is, and as its owner states it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

from ridelog.car.description import Axle, Car
from ridelog.recording import AXLES, CORNERS_OF_AXLE, STANDARD_GRAVITY_M_PER_S2
from ridelog.simulate.dampers import DamperCurve, Knob, knob_factor


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueDamper:
    """One damper; `condition_ratio` is 1 when healthy, less when tired.

    `friction_width_m_per_s` is the speed at which dry friction has reached three quarters of its
    value. `mount_lag_s` is the time constant that a soft top mount or gas in the oil gives the
    damper's force.
    """

    bump: DamperCurve
    rebound: DamperCurve
    friction_n: float = 0.0
    friction_width_m_per_s: float = 0.004
    condition_ratio: float = 1.0
    mount_lag_s: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """Bump and droop stops, measured at the damper from ride height.

    The bump stop is rubber: force = rate d + cubic d^3; the droop stop likewise. `loss_s_per_m`
    multiplies the force by 1 + loss x speed of penetration.
    """

    bump_gap_m: float = 1.0
    droop_gap_m: float = 1.0
    bump_rate_n_per_m: float = 40e3
    bump_cubic_n_per_m3: float = 200e6
    droop_rate_n_per_m: float = 200e3
    droop_cubic_n_per_m3: float = 500e6
    loss_s_per_m: float = 0.3


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueAxle:
    """One axle; masses of the whole axle, rates per corner, the spring's at the damper.

    `motion_ratio_slope_per_m` is the change of the motion ratio per metre of wheel travel.
    `bar_rate_n_per_m` is the anti-roll bar's force at one wheel per metre of difference between
    the wheels. `spring_rise_n_per_m2` is the growth of the spring's rate per metre of damper travel
    in bump; past `crossover_m` of damper travel, away from ride height, it is `beyond_n_per_m`
    instead of `spring_rate_n_per_m`: a helper spring that closes or opens there.
    `axle_inertia_ratio` is the roll inertia of a solid axle over that of two masses at the wheels.
    """

    layout: Literal["independent", "solid"] = "independent"
    track_m: float
    sprung_mass_kg: float
    unsprung_mass_kg: float
    spring_rate_n_per_m: float
    motion_ratio: float
    tyre_rate_n_per_m: float
    dampers: tuple[TrueDamper, TrueDamper]
    tyre_damping_n_s_per_m: float = 60.0
    damper_spacing_m: float | None = None
    motion_ratio_slope_per_m: float = 0.0
    bar_rate_n_per_m: float = 0.0
    spring_rise_n_per_m2: float = 0.0
    crossover_m: float | None = None
    beyond_n_per_m: float = 0.0
    axle_inertia_ratio: float = 0.7
    stops: Stops = field(default_factory=Stops)
    knob: Knob | None = None
    clicks: tuple[int, int] = (0, 0)

    @property
    def roll_lever_ratio(self) -> float:
        """Damper travel in roll over damper travel in heave, for the same wheel travel."""
        if self.layout == "solid" and self.damper_spacing_m is not None:
            return self.damper_spacing_m / self.track_m
        return 1.0

    @property
    def wheel_rate_n_per_m(self) -> float:
        """Slope of wheel force against wheel travel at ride height [N/m].

        Spring rate x motion ratio^2, and where the ratio changes with travel the preload's share.
        """
        preload_n = self.sprung_mass_kg / 2 * STANDARD_GRAVITY_M_PER_S2 / self.motion_ratio
        geometric = preload_n * self.motion_ratio_slope_per_m
        return self.spring_rate_n_per_m * self.motion_ratio**2 + geometric

    def curves(self, side: int) -> tuple[DamperCurve, DamperCurve]:
        """Bump and rebound curve of the left (0) or right (1) damper at its click."""
        damper = self.dampers[side]
        factor = knob_factor(self.knob, self.clicks[side]) if self.knob else 1.0
        bump_share = self.knob.bump_share if self.knob else 1.0
        return (
            damper.bump.scaled(damper.condition_ratio * factor**bump_share),
            damper.rebound.scaled(damper.condition_ratio * factor),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Torsion:
    """The body's first twist: stiffness end to end, and the frequency it rings at when free."""

    stiffness_n_m_per_rad: float
    frequency_hz: float
    damping_ratio: float = 0.03


@dataclass(frozen=True, slots=True, kw_only=True)
class StatedErrors:
    """What the owner writes down, over what is true, per axle (front, rear); gaps in m."""

    spring_rate: tuple[float, float] = (1.0, 1.0)
    sprung_mass: tuple[float, float] = (1.0, 1.0)
    motion_ratio: tuple[float, float] = (1.0, 1.0)
    tyre_rate: tuple[float, float] = (1.0, 1.0)
    gap_m: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueCar:
    """A whole car. Targets are the owner's wishes; `stated` what he gets wrong.

    `pitch_index_ratio` is pitch inertia over (sprung mass x a x b); `roll_radius_ratio` the roll
    radius of gyration over the mean track. `anti_ratio` is the share of the load transfer under
    braking that goes through the links instead of the springs. In a corner the links and the
    wheels' own weight couple straight on the tyres of each axle: sideways acceleration times the
    axle's whole mass times `link_arm_m`.
    """

    name: str
    wheelbase_m: float
    front: TrueAxle
    rear: TrueAxle
    pitch_index_ratio: float = 0.95
    roll_radius_ratio: float = 0.38
    gravity_height_m: float = 0.55
    roll_arm_m: float = 0.4
    link_arm_m: tuple[float, float] = (0.0, 0.0)
    anti_ratio: float = 0.2
    engine_place_m: tuple[float, float] = (0.0, 0.1)
    torsion: Torsion | None = None
    stated: StatedErrors = field(default_factory=StatedErrors)
    target_body_frequency_hz: tuple[float, float] = (1.2, 1.35)
    target_damping_ratio: tuple[float, float] = (0.35, 0.35)

    def axle(self, name: str) -> TrueAxle:
        """Return the axle called ``front`` or ``rear``."""
        return {"front": self.front, "rear": self.rear}[name]

    def clicks(self) -> dict[str, int]:
        """Clicks from full soft, by corner, on the axles that have a knob."""
        return {
            corner: self.axle(name).clicks[side]
            for name in AXLES
            if self.axle(name).knob
            for side, corner in enumerate(CORNERS_OF_AXLE[name])
        }

    def with_clicks(self, *, front: int | None = None, rear: int | None = None) -> TrueCar:
        """Return the car with both knobs of an axle at another click."""
        car = self
        if front is not None:
            car = replace(car, front=replace(car.front, clicks=(front, front)))
        if rear is not None:
            car = replace(car, rear=replace(car.rear, clicks=(rear, rear)))
        return car


def stated_car(car: TrueCar) -> Car:
    """Return the car file's view of a simulated car: what its owner believes.

    Parameters
    ----------
    car : TrueCar
        The car as it is.
    """
    return Car(
        name=car.name,
        wheelbase_m=car.wheelbase_m,
        front=_stated_axle(car, 0),
        rear=_stated_axle(car, 1),
    )


def _stated_axle(car: TrueCar, index: int) -> Axle:
    axle, errors = car.axle(AXLES[index]), car.stated
    return Axle(
        layout=axle.layout,
        track_m=axle.track_m,
        sprung_mass_kg=axle.sprung_mass_kg * errors.sprung_mass[index],
        unsprung_mass_kg=axle.unsprung_mass_kg,
        spring_rate_n_per_m=axle.spring_rate_n_per_m * errors.spring_rate[index],
        motion_ratio=axle.motion_ratio * errors.motion_ratio[index],
        tyre_rate_n_per_m=axle.tyre_rate_n_per_m * errors.tyre_rate[index],
        bump_gap_m=axle.stops.bump_gap_m + errors.gap_m[index],
        droop_gap_m=axle.stops.droop_gap_m + errors.gap_m[index],
        damper_spacing_m=axle.damper_spacing_m,
        clicks=axle.knob.clicks if axle.knob else None,
        target_body_frequency_hz=car.target_body_frequency_hz[index],
        target_damping_ratio=car.target_damping_ratio[index],
    )
