"""Fit springs, dampers, inertias and the delay until the rear wheels meet the front's road."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ridelog.car.description import Car
from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.road_match.delay import DelayPath, band_passed, follow_path, search_path
from ridelog.estimate.road_match.descent import one_pass
from ridelog.estimate.road_match.motion import AxleMotion, axle_motion
from ridelog.estimate.road_match.prior import car_prior
from ridelog.estimate.road_match.problem import MatchProblem, MatchState, start_point
from ridelog.estimate.road_match.roads import ForceLayout
from ridelog.estimate.road_match.settings import RoadMatchGuess, RoadMatchSettings
from ridelog.recording import TRAVEL_CHANNELS, FloatArray, Recording


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoadMatch:
    """What the fit found.

    `forces` see `ForceLayout`, `inertia` see `INERTIA_COUNT`; `covariance` is of both together,
    the delay's doubt included. `last_gain` is what the last pass still gained [nats]; `settled`
    tells whether the likelihood curves down in all directions there. `coherence` is the share of
    the roads' power that front and rear wheels share.
    """

    motion: AxleMotion
    layout: ForceLayout
    forces: FloatArray
    inertia: FloatArray
    covariance: FloatArray
    path: DelayPath
    blocks_used: int
    last_gain: float
    settled: bool
    coherence: float


def fit_road_match(
    recording: Recording,
    car: Car,
    *,
    guess: RoadMatchGuess | None = None,
    settings: RoadMatchSettings | None = None,
) -> RoadMatch:
    """Find the car whose rear wheels roll over the road its front wheels have rolled over.

    Parameters
    ----------
    recording : Recording
        Four ``travel_*`` channels.
    car : Car
        Masses, motion ratios, tracks, tyre rates; its spring rates serve as scales.
    guess : RoadMatchGuess, optional
        Where to start; the stated springs and usual damping where None.
    settings : RoadMatchSettings, optional
        Choices.

    Raises
    ------
    SignalError
        Sampled too slowly.
    NotEnoughDataError
        Too little driving clear of gaps and stops.

    Notes
    -----
    Travel gives every suspension force up to its size; forces and masses give the body's motion,
    travel the wheels' beside it, and the tyres the road. Both roads are linear in the sizes of
    the forces. Nothing is assumed of the road but that it is met twice; the likelihood has the
    volume element of the map from travel to road, without which friction comes out too small.

    References
    ----------
    Derived here; see `mismatch_slope` for the likelihood.
    """
    chosen = settings or RoadMatchSettings()
    if recording.sample_rate_hz < chosen.slowest_sample_rate_hz:
        raise SignalError(
            f"sampled at {recording.sample_rate_hz:.1f} Hz; the road match needs"
            f" {chosen.slowest_sample_rate_hz:g} Hz"
        )
    layout = ForceLayout(curves=chosen.basis.column_count)
    problem = MatchProblem(
        motion=axle_motion(_middle(recording, chosen.longest_s), car, chosen),
        car=car,
        layout=layout,
        prior=car_prior(car, layout, chosen),
        settings=chosen,
    )
    try:
        state = _settle(problem, guess)
    except NotEnoughDataError:
        state = _settle(_in_short_blocks(problem), guess)
    return RoadMatch(
        motion=problem.motion,
        layout=layout,
        forces=state.point[: layout.count],
        inertia=state.point[layout.count :],
        covariance=state.covariance,
        path=state.path,
        blocks_used=state.blocks_used,
        last_gain=state.gain,
        settled=state.settled,
        coherence=state.coherence,
    )


def _middle(recording: Recording, longest_s: float) -> Recording:
    """Four travels of the middle of a drive, all of a short one."""
    spare = max(0, recording.sample_count - int(longest_s * recording.sample_rate_hz))
    part = slice(spare // 2, recording.sample_count - (spare - spare // 2))
    channels = {name: recording.channels[name][part] for name in TRAVEL_CHANNELS}
    return replace(recording, channels=channels, valid=recording.valid[part])


def _settle(problem: MatchProblem, guess: RoadMatchGuess | None) -> MatchState:
    """Pass after pass until little is gained."""
    chosen = problem.settings
    point = start_point(problem, guess)
    state = MatchState(point=point, path=_first_path(problem, point, guess))
    for number in range(chosen.most_passes):
        rounds = 3 if number < chosen.path_passes else 1
        state = one_pass(problem, _follow(problem, state, rounds))
        calm = state.settled and state.gain < chosen.enough_gain
        if calm and number + 1 >= chosen.fewest_passes:
            break
    return state


def _in_short_blocks(problem: MatchProblem) -> MatchProblem:
    band = problem.settings.band
    band = replace(band, block_s=band.block_s / 2, fewest_blocks=2 * band.fewest_blocks)
    return replace(problem, settings=replace(problem.settings, band=band))


def _signals(problem: MatchProblem, point: FloatArray) -> FloatArray:
    """Band-passed road velocities, shape (mode, axle, n)."""
    motion = problem.motion
    roads = motion.at_low_rate(problem.roads(point))
    return band_passed(roads, motion.rate_hz, problem.settings.path.band_hz)


def _first_path(
    problem: MatchProblem, point: FloatArray, guess: RoadMatchGuess | None
) -> DelayPath:
    settings, motion = problem.settings.path, problem.motion
    low, high = settings.plain_range_s
    if guess is not None:
        low, high = guess.delay_s[0] / settings.widen, guess.delay_s[1] * settings.widen
    span = (max(low, settings.longest_range_s[0]), min(high, settings.longest_range_s[1]))
    roads = _signals(problem, point)
    return search_path(roads[:, 0], roads[:, 1], ~motion.unusable, motion.rate_hz, span, settings)


def _follow(problem: MatchProblem, state: MatchState, rounds: int) -> MatchState:
    motion = problem.motion
    roads = _signals(problem, state.point)
    usable = ~motion.unusable
    margin = int(problem.settings.band.end_s * motion.rate_hz)
    usable[:margin] = usable[-margin:] = False
    path = state.path
    for _ in range(rounds):
        path = follow_path(
            path, roads[:, 0], roads[:, 1], usable, motion.rate_hz, problem.settings.path
        )
    return replace(state, path=path)
