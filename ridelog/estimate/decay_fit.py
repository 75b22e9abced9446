"""Fit the model of a car let go to measured decays, with broad priors, by least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.estimate.decay_model import MODEL_PARAMETER_COUNT, STATE_COUNT, simulate_decays
from ridelog.recording import FloatArray, IntArray

SENSOR_PARAMETERS = ("gain_front", "gain_rear", "lag", "offset_front", "offset_rear")
SHARED_COUNT = MODEL_PARAMETER_COUNT + len(SENSOR_PARAMETERS)
GAIN = slice(MODEL_PARAMETER_COUNT, MODEL_PARAMETER_COUNT + 2)  # logarithms
LAG = MODEL_PARAMETER_COUNT + 2  # s by which the front reads later than the rear
OFFSET = slice(MODEL_PARAMETER_COUNT + 3, SHARED_COUNT)  # m/s2
STEP_IN_PRIOR_WIDTHS = 1e-3  # of the finite differences
ROBUST_SCALE = 2.0  # times the noise: misfits beyond it count by their size, not their square
SETTLING_PASSES = 5  # Gauss-Newton steps on the states alone before everything moves
FRICTION = (5, 17)  # where both axles' friction stands among the shared unknowns
EVERYTHING = np.arange(SHARED_COUNT)
# What a fit moves; masses, tyres and motion ratios are known too well to be worth the time, but
# count in the intervals.
MOVED = np.r_[0:7, 12:19, 24:SHARED_COUNT]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayData:
    """Mean accelerations [m/s2] in blocks of `block_s`, shape (2 axles, d decays, n blocks).

    `pushed` is the axle hands were on, (d,); `weight` is 1 / noise, 0 where nothing
    is to be fitted.
    """

    acceleration_m_per_s2: FloatArray
    weight: FloatArray
    pushed: IntArray
    block_s: float
    steps_per_block: int

    @property
    def decay_count(self) -> int:
        """Number of decays."""
        return int(self.acceleration_m_per_s2.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prior:
    """What is known beforehand: centre and one standard deviation of every unknown.

    `shared` are the model's log parameters and the sensors' faults, (30,); `state` the ten states
    at the release, (10,), centred on zero.
    """

    shared_centre: FloatArray
    shared_width: FloatArray
    state_width: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayFit:
    """The fitted unknowns: `shared` (30,), `states` (10, d); and what the fit rests on.

    `normal` is the curvature of the posterior over the scaled unknowns `varied` (indices into
    shared), states marginalised out; `fitted_m_per_s2` is as the data; `misfit` the mean square of
    data over noise, `decay_misfit` the same for each decay's pushed axle, (d,); `cost` the whole
    sum with the prior.
    """

    shared: FloatArray
    states: FloatArray
    fitted_m_per_s2: FloatArray
    varied: IntArray
    normal: FloatArray
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
        """Shared unknowns (30,) and states (10, d) from scaled unknowns."""
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


def start_states(shared: FloatArray, data: DecayData, prior: Prior) -> FloatArray:
    """States at the release by linear least squares, friction left out, shape (10, d)."""
    frictionless = shared.copy()
    frictionless[list(FRICTION)] = np.log(0.1)
    states = np.repeat(np.diag(prior.state_width)[:, :, None], data.decay_count, axis=2)
    all_motion = predicted_acceleration(np.tile(frictionless, (STATE_COUNT, 1)), states, data)
    found = np.empty((STATE_COUNT, data.decay_count))
    for decay in range(data.decay_count):
        weight = data.weight[:, decay].ravel()
        basis = all_motion[:, :, decay].reshape(STATE_COUNT, -1) * weight
        target = data.acceleration_m_per_s2[:, decay].ravel() * weight
        normal = basis @ basis.T + np.eye(STATE_COUNT)
        found[:, decay] = np.linalg.solve(normal, basis @ target) * prior.state_width
    return found


def settled_states(
    shared: FloatArray, states: FloatArray, data: DecayData, prior: Prior
) -> FloatArray:
    """States (10, d) after a few Gauss-Newton steps for each decay alone, the car held."""
    width = prior.state_width[:, None]
    nothing = np.arange(0)
    best, best_cost = states, np.full(data.decay_count, np.inf)
    trial = states
    for _ in range(SETTLING_PASSES):
        at = linearise(shared, trial, data, prior, nothing)
        weight = data.weight.transpose(1, 0, 2).reshape(data.decay_count, -1)
        misfit = (data.acceleration_m_per_s2 - at.read_m_per_s2).transpose(1, 0, 2)
        misfit = misfit.reshape(data.decay_count, -1) * weight
        cost = (misfit**2).sum(axis=1) + ((trial / width) ** 2).sum(axis=0)
        better = cost < best_cost
        best, best_cost = np.where(better, trial, best), np.where(better, cost, best_cost)
        change = at.change.transpose(2, 0, 1, 3).reshape(data.decay_count, STATE_COUNT, -1)
        change = change * weight[:, None]
        right = (change @ misfit[:, :, None])[:, :, 0] - (trial / width).T
        left = change @ change.transpose(0, 2, 1) + np.eye(STATE_COUNT)
        step = np.linalg.solve(left, right[:, :, None])[:, :, 0].T * width
        # Where the last step made it worse, go back half of the way instead.
        trial = np.where(better, trial + step, (trial + best) / 2)
    return best


def marginal(slope: FloatArray, keep: int) -> FloatArray:
    """Curvature over the first `keep` unknowns with the others free, shape (keep, keep)."""
    # einsum keeps this to one thread: a pool of threads costs more than it saves here.
    whole = np.einsum("ij,ik->jk", slope, slope)
    cross = whole[:keep, keep:]
    return np.asarray(whole[:keep, :keep] - cross @ np.linalg.solve(whole[keep:, keep:], cross.T))


def fit_decays(
    data: DecayData,
    prior: Prior,
    *,
    start: FloatArray | None = None,
    evaluations: int = 30,
    robust: bool = False,
) -> DecayFit:
    """Most probable unknowns of the car given its decays.

    Parameters
    ----------
    data : DecayData
        The decays [m/s2].
    prior : Prior
        What is known beforehand.
    start : FloatArray, optional
        Shared unknowns to start from, shape (30,); the prior's centre by default.
    evaluations : int
        Most points tried [-].
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

    shared = prior.shared_centre.copy() if start is None else start
    problem = DecayProblem(data, prior, shared, MOVED, robust)
    states = settled_states(shared, start_states(shared, data, prior), data, prior)
    first = np.concatenate([shared[MOVED], states.ravel()])
    result = least_squares(
        problem.residuals,
        (first - problem.centre) / problem.width,
        jac=problem.jacobian,
        method="lm",
        max_nfev=evaluations,
        ftol=1e-4,
        xtol=1e-4,
        gtol=1e-4,
    )
    problem = DecayProblem(data, prior, shared, MOVED)
    return _fit_at(problem, result.x)


def with_everything(fit: DecayFit, data: DecayData, prior: Prior) -> DecayFit:
    """Return the fit with its curvature over the well-known quantities too, for the intervals."""
    problem = DecayProblem(data, prior, fit.shared, EVERYTHING)
    value = np.concatenate([fit.shared, fit.states.ravel()])
    return _fit_at(problem, (value - problem.centre) / problem.width)


def _fit_at(problem: DecayProblem, unknown: FloatArray) -> DecayFit:
    residual, slope = problem.residuals(unknown), problem.jacobian(unknown)
    shared, states = problem.split(unknown)
    misfits = residual[: -len(unknown)]
    return DecayFit(
        shared=shared,
        states=states,
        fitted_m_per_s2=problem.fitted,
        varied=problem.varied,
        normal=marginal(slope, len(problem.varied)),
        misfit=float(misfits @ misfits / max(misfits.size, 1)),
        decay_misfit=_decay_misfit(problem.data, problem.fitted),
        cost=float(residual @ residual),
    )


def _decay_misfit(data: DecayData, fitted: FloatArray) -> FloatArray:
    left = ((data.acceleration_m_per_s2 - fitted) * data.weight) ** 2
    mine = left[data.pushed, np.arange(data.decay_count)]
    used = (data.weight > 0)[data.pushed, np.arange(data.decay_count)]
    return np.asarray(mine.sum(axis=1) / np.maximum(used.sum(axis=1), 1))
