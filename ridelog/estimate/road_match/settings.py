"""Choices of the road match and what is believed before the log is read."""

from __future__ import annotations

from dataclasses import dataclass, field

from ridelog.estimate.balance.basis import BasisSettings


def _basis() -> BasisSettings:
    """Coarser than the force balance's: travel alone tells a curve less finely."""
    return BasisSettings(
        node_speeds_m_per_s=(0.0, 0.025, 0.05, 0.08, 0.11, 0.15, 0.2, 0.3),
        friction_widths_m_per_s=(0.002, 0.006),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class BandSettings:
    """Where the match is made.

    Below `low_hz` braking and cornering move the body, above `high_hz` front and rear wheel no
    longer roll over the same asperities. Roads are held at `rate_hz`, cut off softly from
    `cut_from_hz` to `cut_to_hz` and below `slow_hz`. Damper speed is low-passed at
    `speed_limit_hz`: above, travel's steps drown it. `noise_band_hz` holds only sensor noise.
    Where too few blocks of `block_s` are clear of gaps and stops, twice as many of half that
    length will do.
    """

    low_hz: float = 0.7
    high_hz: float = 12.0
    rate_hz: float = 50.0
    cut_from_hz: float = 14.0
    cut_to_hz: float = 18.0
    slow_hz: tuple[float, float] = (0.3, 0.6)
    speed_limit_hz: float = 28.0
    noise_band_hz: tuple[float, float] = (70.0, 120.0)
    taper_s: float = 1.5
    block_s: float = 5.12
    end_s: float = 2.0
    bands: int = 14
    quietest: float = 0.02
    fewest_blocks: int = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class PathSettings:
    """How the delay runs over the drive.

    A window of `window_s` moves by `step_s`; the search spans the spectral fit's delays widened by
    `widen`, or `plain_range_s` without one. Knots `step_s` apart bend by `bend_sd` (log) each.
    `band_hz` is where the path is followed; `shift_sd` (log) is one step of the joint fit.
    """

    window_s: float = 2.5
    step_s: float = 0.5
    grid: float = 0.008
    widen: float = 1.7
    plain_range_s: tuple[float, float] = (0.08, 0.45)
    longest_range_s: tuple[float, float] = (0.045, 0.75)
    band_hz: tuple[float, float] = (1.5, 10.0)
    change_scale: float = 0.03
    change_cost: float = 1.5
    bend_sd: float = 0.03
    shift_sd: float = 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class CarPriorSettings:
    """Means and standard deviations; the stated spring rate and critical damping are scales only.

    Logarithms for dynamic index, roll radius over track, tyre rate and the roll inertia of a solid
    axle over that of its mass at the wheels. Common practice, no source.
    """

    spring_ratio: float = 3.0
    slope_ratio: tuple[float, float] = (0.3, 3.0)
    slope_step_ratio: float = 0.04
    low_slope_step_ratio: float = 0.02
    friction_n: tuple[float, float] = (0.0, 150.0)
    bar_ratio: tuple[float, float] = (0.3, 0.5)
    dynamic_index: tuple[float, float] = (-0.05, 0.10)
    roll_radius_over_track: tuple[float, float] = (-1.11, 0.30)
    unknown_tyre_rate: tuple[float, float] = (12.35, 0.18)
    solid_roll_mass: tuple[float, float] = (-0.51, 0.20)
    independent_roll_mass: tuple[float, float] = (0.0, 0.02)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadMatchSettings:
    """All choices of the road match.

    From `fewest_passes` to `most_passes` passes, no more once one gains less than `enough_gain`
    [nats]; the first `path_passes` follow the delay more closely. A pass moves stiffness and
    damping by no more than `longest_step`. `readings_per_bin` are the independent readings of one
    block and bin under half-overlapping Hann windows. Slower logs show too little of the dampers'
    reversals; of a longer drive the middle `longest_s` are used: more costs memory.
    """

    basis: BasisSettings = field(default_factory=_basis)
    band: BandSettings = field(default_factory=BandSettings)
    path: PathSettings = field(default_factory=PathSettings)
    prior: CarPriorSettings = field(default_factory=CarPriorSettings)
    fewest_passes: int = 6
    most_passes: int = 12
    enough_gain: float = 1.0
    path_passes: int = 2
    slowest_sample_rate_hz: float = 100.0
    longest_s: float = 600.0
    longest_step: float = 0.4
    readings_per_bin: float = 0.48


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadMatchGuess:
    """Where the match starts: what a rougher fit has found, front and rear, at the damper.

    `delay_s` is the shortest and the longest delay from front to rear wheels.
    """

    spring_n_per_m: tuple[float, float]
    damping_n_s_per_m: tuple[float, float]
    delay_s: tuple[float, float]
