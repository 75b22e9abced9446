"""A car let go on its tyres: two axles with springs, dampers and friction, many decays at once.

Per axle half of the car is followed: a body mass and a wheel, coupled between the axles by the
pitch inertia. Roll does not move that half, but it moves the dampers of both sides apart, and their
mean force is not that of their mean speed: measured roll enters as `sway`. All parameters are
positive and handled as logarithms, so that a fit moves freely.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray

AXLE_PARAMETERS = (
    "wheel_rate",  # N/m per corner
    "damping",  # N s/m at the damper: secant at the reference speed, mean of both sides
    "asymmetry",  # rebound / bump damping
    "knee_speed",  # m/s at the damper, where the force curve bends: geometric mean of both sides
    "knee_ratio",  # bump / rebound knee speed: each side has its own valves
    "digression",  # slope past the knee / slope before it
    "soft_start",  # slope at standstill / slope before the knee: below 1 past a bleed hole
    "friction",  # N at the damper
    "friction_width",  # m/s over which friction changes sign
    "sprung_mass",  # kg per corner
    "unsprung_mass",  # kg per corner
    "tyre_rate",  # N/m per corner
    "tyre_damping",  # N s/m per corner
    "motion_ratio",
)
WELL_KNOWN = ("sprung_mass", "unsprung_mass", "tyre_rate", "tyre_damping", "motion_ratio")
PITCH_INERTIA = 2 * len(AXLE_PARAMETERS)  # index of the pitch inertia ratio, after both axles
MODEL_PARAMETER_COUNT = PITCH_INERTIA + 1
START_SPEED_M_PER_S = 0.02  # over which a soft start is left behind; common practice, no source
STATE_COUNT = 10  # positions (body front, rear; wheel front, rear), their speeds, hands' forces
HAND = 8  # hands on front and rear, N per corner, upwards, dying away with HAND_FADE_S
HAND_FADE_S = 0.04  # hands that come off over some 0.1 s; common practice, no source
LEAST_FADE = 1e-4  # of hands' force, below which they are left out
REFERENCE_SPEED_M_PER_S = 0.05  # the contract's damper speed for the damping ratio
NEWTON_STEPS = 1  # from the speed one step before: a second one changes 0.02 % at 4 ms


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DamperLaw:
    """Damper and friction of both axles for every parameter set and decay, each of shape (p, 2, d).

    Whole arrays instead of broadcast ones: the time steps spend most of their time here.
    """

    bump_n_s_per_m: FloatArray
    rebound_n_s_per_m: FloatArray
    per_bump_knee_s_per_m: FloatArray
    per_rebound_knee_s_per_m: FloatArray
    digression: FloatArray
    soft_start: FloatArray
    friction_n: FloatArray
    per_friction_width_s_per_m: FloatArray

    def force_and_slope(self, speed_m_per_s: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return force [N] and its slope [N s/m] at damper speeds, both of shape (p, 2, d)."""
        start = np.exp(np.abs(speed_m_per_s) * (-1 / START_SPEED_M_PER_S))
        start *= self.soft_start - 1
        bump = speed_m_per_s > 0
        initial = np.where(bump, self.bump_n_s_per_m, self.rebound_n_s_per_m)
        bend = np.where(bump, self.per_bump_knee_s_per_m, self.per_rebound_knee_s_per_m)
        bend *= speed_m_per_s
        bend *= bend
        bend *= bend
        bend += 1
        soft = (1 - self.digression) / np.sqrt(np.sqrt(bend))
        dry = np.tanh(speed_m_per_s * self.per_friction_width_s_per_m)
        viscous = initial * speed_m_per_s * (self.digression + soft)
        force = viscous * (1 + start) + self.friction_n * dry
        slope = initial * (self.digression + soft / bend) * (1 + start)
        slope -= np.abs(viscous) * start / START_SPEED_M_PER_S
        slope += self.friction_n * self.per_friction_width_s_per_m * (1 - dry * dry)
        return force, slope

    def mean_of_sides(
        self, speed_m_per_s: FloatArray, sway_m_per_s: FloatArray | None
    ) -> tuple[FloatArray, FloatArray]:
        """Mean force and slope of the left and right damper.

        `sway_m_per_s` (2, d) is by how much roll makes the left one faster and the right one
        slower than `speed_m_per_s` (p, 2, d): what bends does not average out.
        """
        if sway_m_per_s is None:
            return self.force_and_slope(speed_m_per_s)
        sides = np.stack([speed_m_per_s + sway_m_per_s, speed_m_per_s - sway_m_per_s])
        force, slope = self.force_and_slope(sides)
        return (force[0] + force[1]) / 2, (slope[0] + slope[1]) / 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StepMatrices:
    """One implicit midpoint step of length `step_s` for every parameter set.

    Mid-step speeds are `free` @ state + `damper` @ damper force + `hand` @ hands'
    forces; damper speeds follow from them through `lever`.
    """

    step_s: float
    free: FloatArray
    damper: FloatArray
    lever: FloatArray
    hand: FloatArray


def places(name: str) -> tuple[int, int]:
    """Where front and rear axle have a parameter among all of them."""
    place = AXLE_PARAMETERS.index(name)
    return place, len(AXLE_PARAMETERS) + place


def axle_values(parameters: FloatArray) -> dict[str, FloatArray]:
    """Physical values by name from log parameters (p, 29), each of shape (p, 2)."""
    by_axle = np.exp(parameters[:, :PITCH_INERTIA]).reshape(len(parameters), 2, -1)
    return {name: by_axle[:, :, i] for i, name in enumerate(AXLE_PARAMETERS)}


def damper_law(values: dict[str, FloatArray], decays: int) -> DamperLaw:
    """Damper law whose secant at the reference speed is the parameter ``damping``."""
    digression, side = values["digression"], np.sqrt(values["knee_ratio"])
    faded = np.exp(-REFERENCE_SPEED_M_PER_S / START_SPEED_M_PER_S)
    started = 1 + (values["soft_start"] - 1) * faded
    bump = 2 * values["damping"] / (1 + values["asymmetry"])
    secants = (bump, bump * values["asymmetry"])
    knees = (values["knee_speed"] * side, values["knee_speed"] / side)
    initial = []
    for secant, knee in zip(secants, knees, strict=True):
        bend = (1 + (REFERENCE_SPEED_M_PER_S / knee) ** 4) ** 0.25
        initial.append(secant / (digression + (1 - digression) / bend) / started)
    columns = (
        *initial,
        *(1 / knee for knee in knees),
        digression,
        values["soft_start"],
        values["friction"],
        1 / values["friction_width"],
    )
    full = (np.repeat(column[:, :, None], decays, axis=2) for column in columns)
    return DamperLaw(**dict(zip(DamperLaw.__dataclass_fields__, full, strict=True)))


def body_mobility(values: dict[str, FloatArray], pitch_inertia: FloatArray) -> FloatArray:
    """Body acceleration over each axle per corner force at each axle [1/kg], shape (p, 2, 2).

    Derived here from heave and pitch of a rigid body: with pitch inertia equal to
    `pitch_inertia` x (front sprung mass x rear sprung mass / total) x wheelbase squared the
    wheelbase drops out, and a ratio of 1 uncouples the axles.
    """
    mass = values["sprung_mass"]
    total = mass.sum(axis=1)
    mobility = np.empty((len(mass), 2, 2))
    mobility[:, 0, 1] = mobility[:, 1, 0] = (1 - 1 / pitch_inertia) / total
    mobility[:, 0, 0] = (1 + mass[:, 1] / (pitch_inertia * mass[:, 0])) / total
    mobility[:, 1, 1] = (1 + mass[:, 0] / (pitch_inertia * mass[:, 1])) / total
    return mobility


def step_matrices(parameters: FloatArray, step_s: float) -> StepMatrices:
    """Matrices of the implicit midpoint rule, which stays stable however sharp the friction is."""
    values = axle_values(parameters)
    count = len(parameters)
    mobility = np.zeros((count, 4, 4))
    mobility[:, :2, :2] = body_mobility(values, np.exp(parameters[:, PITCH_INERTIA]))
    stiffness = np.zeros((count, 4, 4))
    tyre_damping = np.zeros((count, 4, 4))
    lever = np.zeros((count, 2, 4))
    for axle in range(2):
        body, wheel = axle, axle + 2
        rate = values["wheel_rate"][:, axle]
        mobility[:, wheel, wheel] = 1 / values["unsprung_mass"][:, axle]
        stiffness[:, body, body] = rate
        stiffness[:, body, wheel] = stiffness[:, wheel, body] = -rate
        stiffness[:, wheel, wheel] = rate + values["tyre_rate"][:, axle]
        tyre_damping[:, wheel, wheel] = values["tyre_damping"][:, axle]
        lever[:, axle, wheel] = values["motion_ratio"][:, axle]
        lever[:, axle, body] = -values["motion_ratio"][:, axle]
    half = step_s / 2
    inertia = np.eye(4) + mobility @ (half * tyre_damping + half**2 * stiffness)
    inverse = np.linalg.inv(inertia)
    return StepMatrices(
        step_s=step_s,
        free=np.concatenate([-half * inverse @ mobility @ stiffness, inverse], axis=2),
        damper=-half * inverse @ mobility @ lever.transpose(0, 2, 1),
        lever=lever,
        hand=half * (inverse @ mobility)[:, :, :2],
    )


def simulate_decays(
    parameters: FloatArray,
    initial: FloatArray,
    *,
    step_s: float,
    step_count: int,
    record_every: int = 1,
    sway_m_per_s: FloatArray | None = None,
) -> FloatArray:
    """Body speeds over both axles during free decays, for many parameter sets at once.

    Parameters
    ----------
    parameters : FloatArray
        Logarithms of the model parameters, shape (p, 29): `AXLE_PARAMETERS` front, then rear, then
        the pitch inertia ratio.
    initial : FloatArray
        States at the release [m and m/s, positive up] and the forces
        [N per corner] that hands still exert on both axles, shape (p, 10, d) for d decays.
    step_s : float
        Time step [s].
    step_count : int
        Number of steps.
    record_every : int
        Steps between recorded instants.
    sway_m_per_s : FloatArray, optional
        What roll adds to the speed of the left damper and takes from the right [m/s], in the
        middle of every step, shape (2, d, step_count).

    Returns
    -------
    FloatArray
        Vertical body speed [m/s] over front and rear axle, shape (p, 2, d, records + 1).

    Notes
    -----
    Implicit midpoint rule with the damper speeds of both axles solved by Newton's method. Holds
    while wheels stay on the ground and dampers off their stops.

    References
    ----------
    Derived here: m z'' = F, m_u u'' = -F - T u - c u', F = K (u - z) + MR f(MR (u' - z')).
    """
    matrices = step_matrices(parameters, step_s)
    decays = initial.shape[2]
    law = damper_law(axle_values(parameters), decays)
    response = matrices.lever @ matrices.damper
    own = np.repeat(np.diagonal(response, axis1=1, axis2=2)[:, :, None], decays, axis=2)
    cross = np.repeat(response[:, [0, 1], [1, 0]][:, :, None], decays, axis=2)
    fade = np.exp(-(np.arange(step_count) + 0.5) * step_s / HAND_FADE_S)
    advance, kick, expect = _advance(matrices, initial[:, HAND:])
    state = np.array(initial[:, :HAND], dtype=float)
    first = matrices.lever @ matrices.free @ state + fade[0] * expect
    follow = np.concatenate([state, first], axis=1)
    recorded = np.empty((step_count // record_every + 1, len(parameters), 2, decays))
    recorded[0] = state[:, 4:6]
    speed = matrices.lever @ state[:, 4:8]
    sways = [None] * step_count if sway_m_per_s is None else list(np.moveaxis(sway_m_per_s, 2, 0))
    force, slope = law.mean_of_sides(speed, sways[0])
    for index, sway in enumerate(sways):
        expected = np.ascontiguousarray(follow[:, 8:])
        for _ in range(NEWTON_STEPS):
            error = speed - expected - own * force - cross * force[:, ::-1]
            speed = speed - error / (1 - own * slope)
            force, slope = law.mean_of_sides(speed, sway)
        follow[:, 8:] = force
        follow = advance @ follow
        if fade[index] > LEAST_FADE:
            follow += fade[index] * kick
        if (index + 1) % record_every == 0:
            recorded[(index + 1) // record_every] = follow[:, 4:6]
    return recorded.transpose(1, 2, 3, 0)


def _advance(
    matrices: StepMatrices, hands_n: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """One step as a single product, for speed.

    From the state (8) and the damper forces (2) of a step to the state behind it and the damper
    speeds (2) that the next step has without damper forces: (p, 10, 10); what hands add to these,
    (p, 10, d), and to the damper speeds of one step, (p, 2, d), at their full force.
    """
    one = np.eye(4)
    keep = np.block([[one, 0 * one], [0 * one, -one]])
    move = np.concatenate([matrices.step_s * one, 2 * one])
    reach = matrices.lever @ matrices.free
    ahead = np.concatenate([keep + move @ matrices.free, move @ matrices.damper], axis=2)
    pushed = move @ matrices.hand @ hands_n
    expect = matrices.lever @ matrices.hand @ hands_n
    later = np.exp(-matrices.step_s / HAND_FADE_S)
    return (
        np.concatenate([ahead, reach @ ahead], axis=1),
        np.concatenate([pushed, reach @ pushed + later * expect], axis=1),
        expect,
    )
