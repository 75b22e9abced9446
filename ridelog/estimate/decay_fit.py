"""Fit the model of a car let go to measured decays, with broad priors, by least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.estimate.decay_model import (
    MODEL_PARAMETER_COUNT,
    STATE_COUNT,
    WELL_KNOWN,
    places,
    simulate_decays,
)
from ridelog.recording import FloatArray, IntArray

SENSOR_PARAMETERS = ("gain_front", "gain_rear", "lag", "offset_front", "offset_rear")
SHARED_COUNT = MODEL_PARAMETER_COUNT + len(SENSOR_PARAMETERS)
GAIN = slice(MODEL_PARAMETER_COUNT, MODEL_PARAMETER_COUNT + 2)  # logarithms
LAG = MODEL_PARAMETER_COUNT + 2  # s by which the front reads later than the rear
OFFSET = slice(MODEL_PARAMETER_COUNT + 3, SHARED_COUNT)  # m/s2
STEP_IN_PRIOR_WIDTHS = 1e-3  # of the finite differences
ROBUST_SCALE = 2.0  # times the noise: misfits beyond it count by their size, not their square
EVERYTHING = np.arange(SHARED_COUNT)
# What a fit moves; masses, tyres and motion ratios are known too well to be worth the time, but
# count in the intervals.
MOVED = np.setdiff1d(EVERYTHING, [places(name)[axle] for name in WELL_KNOWN for axle in (0, 1)])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayData:
    """Mean accelerations [m/s2] in blocks of `block_s`, shape (2 axles, d decays, n blocks).

    `pushed` is the axle hands were on, (d,); `weight` is 1 / noise, 0 where nothing
    is to be fitted. `sway_m_per_s` is how much faster roll makes the left dampers than the mean of
    both sides, in the middle of every step, (2, d, n x steps_per_block), None where not known.
    """

    acceleration_m_per_s2: FloatArray
    weight: FloatArray
    pushed: IntArray
    block_s: float
    steps_per_block: int
    sway_m_per_s: FloatArray | None = None

    @property
    def decay_count(self) -> int:
        """Number of decays."""
        return int(self.acceleration_m_per_s2.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """What is known beforehand: centre and one standard deviation of every unknown.

    `shared` are the model's log parameters and the sensors' faults, (34,); `state` the ten states
    at the release, (10,), centred on zero.
    """

    shared_centre: FloatArray
    shared_width: FloatArray
    state_width: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayFit:
    """The fitted unknowns: `shared` (34,), `states` (10, d); and what the fit rests on.

    `normal` is the curvature of the posterior over the scaled unknowns `varied` (indices into
    shared), states marginalised out; `decay_normal` (d, v, v) is each decay's part of it and
    `decay_pull` (d, v) how each pulls at the optimum. `fitted_m_per_s2` is as the data; `misfit`
    the mean square of data over noise, `decay_misfit` (d,) the same for each decay's worse axle;
    `cost` the whole sum with the prior.
    """

    shared: FloatArray
    states: FloatArray
    fitted_m_per_s2: FloatArray
    varied: IntArray
    normal: FloatArray
    decay_normal: FloatArray
    decay_pull: FloatArray
    misfit: float
    decay_misfit: FloatArray
    cost: float


def predicted_acceleration(shared: FloatArray, states: FloatArray, data: DecayData) -> FloatArray:
    """Block means that the sensors would read, shape (p, 2, d, n), for p sets of unknowns."""
    blocks = data.acceleration_m_per_s2.shape[2]
    speed = simulate_decays(
        shared[:, :MODEL_PARAMETER_COUNT],
        states,
        step_s=data.block_s / data.steps_per_block,
        step_count=blocks * data.steps_per_block,
        record_every=data.steps_per_block,
        sway_m_per_s=data.sway_m_per_s,
    )
    return np.asarray(np.diff(speed, axis=3) / data.block_s)


def as_read(shared: FloatArray, acceleration: FloatArray, block_s: float) -> FloatArray:
    """Body acceleration (p, 2, d, n) as the sensors show it: gain, lag and offset."""
    lag = shared[:, LAG, None] * np.array([0.5, -0.5])
    change = np.gradient(acceleration, block_s, axis=3)
    gain = np.exp(shared[:, GAIN])
    shifted = acceleration - lag[:, :, None, None] * change
    return np.asarray(gain[:, :, None, None] * shifted + shared[:, OFFSET][:, :, None, None])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linearised:
    """Readings (2, d, n) at one point and their change per prior width of the unknowns.

    `change` has shape (v + 10, 2, d, n): the varied shared unknowns, then each decay's states.
    """

    read_m_per_s2: FloatArray
    change: FloatArray


def linearise(
    shared: FloatArray, states: FloatArray, data: DecayData, prior: Prior, varied: IntArray
) -> Linearised:
    """Readings and derivatives by finite differences, every perturbed car in one batch."""
    count = len(varied)
    sets = 1 + count + STATE_COUNT
    all_shared = np.tile(shared, (sets, 1))
    all_states = np.tile(states, (sets, 1, 1))
    all_shared[1 + np.arange(count), varied] += STEP_IN_PRIOR_WIDTHS * prior.shared_width[varied]
    columns = np.arange(STATE_COUNT)
    all_states[1 + count + columns, columns] += STEP_IN_PRIOR_WIDTHS * prior.state_width[:, None]
    # Sensor parameters leave the motion alone: simulate only where the motion differs.
    still = np.concatenate([[False], varied >= MODEL_PARAMETER_COUNT, np.zeros(STATE_COUNT, bool)])
    motion = np.empty((sets, *data.acceleration_m_per_s2.shape))
    motion[~still] = predicted_acceleration(all_shared[~still], all_states[~still], data)
    motion[still] = motion[0]
    read = as_read(all_shared, motion, data.block_s)
    return Linearised(read_m_per_s2=read[0], change=(read[1:] - read[0]) / STEP_IN_PRIOR_WIDTHS)


class DecayProblem:
    """Residuals and derivatives of one fit; keeps the last point, which both are asked for."""

    def __init__(
        self,
        data: DecayData,
        prior: Prior,
        shared: FloatArray,
        varied: IntArray,
        robust: bool = False,
    ) -> None:
        self.robust = robust
        self.data = data
        self.prior = prior
        self.shared = shared
        self.varied = varied
        self.used = data.weight > 0
        widths = np.tile(prior.state_width[:, None], (1, data.decay_count))
        self.width = np.concatenate([prior.shared_width[varied], widths.ravel()])
        self.centre = np.concatenate([prior.shared_centre[varied], np.zeros(widths.size)])
        self.point = np.full(self.width.size, np.nan)
        self.value = np.zeros(0)
        self.slope = np.zeros((0, 0))
        self.fitted = np.zeros(0)

    def split(self, unknown: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Shared unknowns (34,) and states (10, d) from scaled unknowns."""
        value = self.centre + self.width * unknown
        shared = self.shared.copy()
        shared[self.varied] = value[: len(self.varied)]
        return shared, value[len(self.varied) :].reshape(STATE_COUNT, -1)

    def residuals(self, unknown: FloatArray) -> FloatArray:
        """Weighted misfit of data, then of prior."""
        self._evaluate(unknown)
        return self.value

    def jacobian(self, unknown: FloatArray) -> FloatArray:
        """Derivatives of the residuals by the scaled unknowns."""
        self._evaluate(unknown)
        return self.slope

    def _evaluate(self, unknown: FloatArray) -> None:
        if np.array_equal(unknown, self.point):
            return
        shared, states = self.split(unknown)
        at = linearise(shared, states, self.data, self.prior, self.varied)
        weight = self.data.weight[self.used]
        misfit = (at.read_m_per_s2 - self.data.acceleration_m_per_s2)[self.used] * weight
        change = at.change[:, self.used] * weight
        if self.robust:
            misfit, gain = softened(misfit)
            change = change * gain
        self.fitted = at.read_m_per_s2
        self.value = np.concatenate([misfit, unknown])
        self.slope = self._assemble(change)
        self.point = unknown.copy()

    def _assemble(self, change: FloatArray) -> FloatArray:
        count = len(self.varied)
        decay_of_row = np.nonzero(self.used)[1]
        own = decay_of_row[:, None] == np.arange(self.data.decay_count)
        by_state = change[count:].T[:, :, None] * own[:, None, :]
        top = np.concatenate([change[:count].T, by_state.reshape(len(own), -1)], axis=1)
        return np.concatenate([top, np.eye(self.width.size)])


def softened(misfit: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Misfit whose square grows only linearly when large, and its slope by the misfit itself."""
    ratio = misfit / ROBUST_SCALE
    root = np.sqrt(1 + ratio**2)
    soft = ratio * np.sqrt(2 / (root + 1))  # = sign sqrt(2 (root - 1)) without cancellation
    slope = np.sqrt((root + 1) / 2) / root
    return ROBUST_SCALE * soft, slope


def fit_decays(
    data: DecayData,
    prior: Prior,
    *,
    shared: FloatArray,
    states: FloatArray,
    evaluations: int = 30,
    tolerance: float = 1e-4,
    robust: bool = False,
) -> DecayFit:
    """Most probable unknowns of the car given its decays.

    Parameters
    ----------
    data : DecayData
        The decays [m/s2].
    prior : Prior
        What is known beforehand.
    shared, states : FloatArray
        Unknowns to start from, shapes (34,) and (10, d).
    evaluations : int
        Most points tried [-].
    tolerance : float
        Relative change of the sum of squares and of the unknowns at which it stops [-].
    robust : bool
        Whether large misfits count less: while hands may still be on some decays.

    Notes
    -----
    Least squares over data and prior by Levenberg and Marquardt; derivatives from one batch of
    perturbed cars.

    References
    ----------
    Derived here; the optimizer is scipy's ``least_squares``.
    """
    from scipy.optimize import least_squares

    problem = DecayProblem(data, prior, shared, MOVED, robust)
    first = np.concatenate([shared[MOVED], states.ravel()])
    result = least_squares(
        problem.residuals,
        (first - problem.centre) / problem.width,
        jac=problem.jacobian,
        method="lm",
        max_nfev=evaluations,
        ftol=tolerance,
        xtol=tolerance,
        gtol=tolerance,
    )
    problem = DecayProblem(data, prior, shared, MOVED)
    return _fit_at(problem, result.x)


def with_everything(fit: DecayFit, data: DecayData, prior: Prior) -> DecayFit:
    """Return the fit with its curvature over the well-known quantities too, for the intervals."""
    problem = DecayProblem(data, prior, fit.shared, EVERYTHING)
    value = np.concatenate([fit.shared, fit.states.ravel()])
    return _fit_at(problem, (value - problem.centre) / problem.width)


def _fit_at(problem: DecayProblem, unknown: FloatArray) -> DecayFit:
    residual = problem.residuals(unknown)
    shared, states = problem.split(unknown)
    misfits = residual[: -len(unknown)]
    parts = [_share_of_decay(problem, decay) for decay in range(problem.data.decay_count)]
    return DecayFit(
        shared=shared,
        states=states,
        fitted_m_per_s2=problem.fitted,
        varied=problem.varied,
        normal=np.eye(len(problem.varied)) + sum(part for part, _ in parts),
        decay_normal=np.array([part for part, _ in parts]),
        decay_pull=np.array([pull for _, pull in parts]),
        misfit=float(misfits @ misfits / max(misfits.size, 1)),
        decay_misfit=_decay_misfit(problem.data, problem.fitted),
        cost=float(residual @ residual),
    )


def _share_of_decay(problem: DecayProblem, decay: int) -> tuple[FloatArray, FloatArray]:
    """Curvature and slope over the varied unknowns from one decay alone, its states free."""
    count, decays = len(problem.varied), problem.data.decay_count
    rows = np.flatnonzero(np.nonzero(problem.used)[1] == decay)
    own = count + decay + decays * np.arange(STATE_COUNT)
    shared, state = problem.slope[rows, :count], problem.slope[np.ix_(rows, own)]
    residual, state_value = problem.value[rows], problem.point[own]
    # einsum keeps this to one thread: a pool of threads costs more than it saves here.
    cross = np.einsum("ij,ik->jk", shared, state)
    within = np.einsum("ij,ik->jk", state, state) + np.eye(STATE_COUNT)
    free = np.linalg.solve(within, cross.T).T
    curvature = np.einsum("ij,ik->jk", shared, shared) - free @ cross.T
    return curvature, shared.T @ residual - free @ (state.T @ residual + state_value)


def _decay_misfit(data: DecayData, fitted: FloatArray) -> FloatArray:
    left = ((data.acceleration_m_per_s2 - fitted) * data.weight) ** 2
    used = (data.weight > 0).sum(axis=2)
    return np.asarray((left.sum(axis=2) / np.maximum(used, 1)).max(axis=0))
