"""How well body and travel agree through springs and dampers, if one sensor is wrong in one way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from ridelog.condition.force_model import ForceModel
from ridelog.condition.signals import kind_of
from ridelog.condition.spectra import ComplexArray, CrossSpectra
from ridelog.condition.witness import Fault, put_right
from ridelog.recording import BODY_CHANNELS, FloatArray

_COUNT = 8  # channels
_NONE = Fault(code="none")


@dataclass(frozen=True, slots=True, kw_only=True)
class ForceSettings:
    """What sound sensors may do and how the fit goes.

    Below `low_hz` cornering and braking move the body, above `high_hz` it twists. One standard
    deviation: `travel_gain`, `acceleration_gain`, `delay_s` of one channel, `common_delay_s` of a
    kind; `common_hub_gain`: dampers that bend and rub read as hubs that all read low; `free_gain`
    and `free_delay_s` of a channel under suspicion. What is left over is averaged over
    `smooth_bins` frequencies, plus `term` of what was added up: no sensor is better than that.
    Half-overlapping windows count `window_share` each. Most suspects are told from one step of the
    fit; `finalists` get `passes`. Exchanges get `rough_passes` first, as does every channel late
    by each of `tried_delays_s` where a damper went to its limit without a fault.
    """

    low_hz: float = 0.8
    high_hz: float = 10.0
    travel_gain: float = 0.005
    acceleration_gain: float = 0.015
    common_hub_gain: float = 0.06
    delay_s: float = 0.0008
    common_delay_s: float = 0.003
    free_gain: float = 1.0
    free_delay_s: float = 0.1
    term: float = 0.02
    smooth_bins: int = 5
    window_share: float = 0.6
    rough_passes: int = 3
    tried_delays_s: tuple[float, ...] = (-0.06, -0.04, -0.02, 0.0, 0.02, 0.04, 0.06)
    first_passes: int = 10
    passes: int = 5
    finalists: int = 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForceFit:
    """A fit under one fault: `disagreement` is minus its log likelihood (and that of its priors).

    `gain` (true over recorded) and `delay_s` (positive: recorded late) hold every channel's
    correction, in the order of the model's names; `state` all unknowns.
    """

    fault: Fault
    disagreement: float
    state: FloatArray

    @property
    def gain(self) -> FloatArray:
        """Corrections of the channels' gains."""
        return np.exp(self.state[-2 * _COUNT : -_COUNT])

    @property
    def delay_s(self) -> FloatArray:
        """Delays of the channels [s]."""
        return self.state[-_COUNT:]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sums:
    """The rows at one state: coefficients of every unknown, their sums and what is left over."""

    parts: ComplexArray
    total: ComplexArray
    left: ComplexArray


def fit_suspects(
    spectra: CrossSpectra, model: ForceModel, settings: ForceSettings
) -> tuple[ForceFit, tuple[ForceFit, ...]]:
    """Fit without a fault, and with the likeliest wrong gains and delays, likeliest first.

    Parameters
    ----------
    spectra : CrossSpectra
        Cross-spectra [(m/s2)^2/Hz] of the model's channels.
    model : ForceModel
        Rows at the same frequencies.

    Notes
    -----
    The rows' leftover is taken as Gaussian with a covariance of its own at each frequency, found
    with the unknowns; so dampers that bend and friction only widen it. It is counted relative to
    what was added up, or shrinking all gains would shrink it.

    References
    ----------
    Derived here.
    """
    start = np.concatenate([model.start, np.zeros(2 * _COUNT)])
    none = _fit(spectra, model, _NONE, start, settings.first_passes, settings)
    suspects = [Fault(code=c, names=(n,)) for n in model.names for c in ("scale", "late")]
    foreseen = _foreseen(spectra, model, none, suspects, settings)
    order = np.argsort(foreseen)[: settings.finalists]
    fits = [_fit(spectra, model, suspects[i], none.state, settings.passes, settings) for i in order]
    again = [_fit(spectra, model, _NONE, none.state, settings.passes, settings)]
    if _at_limit(model, none):
        fits += _late_anew(spectra, model, start, settings)
        fits.sort(key=lambda fit: -fit.disagreement)
        fits = list({fit.fault: fit for fit in fits}.values())
        # A fault must not win for having led out of a bad place: no fault is tried from there too.
        way_out = min(fits, key=lambda fit: fit.disagreement).state
        again.append(_fit(spectra, model, _NONE, way_out, settings.first_passes, settings))
    none = min(again, key=lambda fit: fit.disagreement)
    return none, tuple(sorted(fits, key=lambda fit: fit.disagreement))


def fit_exchanged(
    spectra: CrossSpectra, model: ForceModel, none: ForceFit, settings: ForceSettings
) -> tuple[ForceFit, ...]:
    """Fit with two body sensors exchanged, likeliest first; only what beats `none`.

    Parameters
    ----------
    spectra : CrossSpectra
        Cross-spectra [(m/s2)^2/Hz] of the model's channels.
    model : ForceModel
        Rows at the same frequencies.
    none : ForceFit
        The fit without a fault.

    Notes
    -----
    Hubs and travel are not tried: their sums with the body's grow where they are exchanged, and
    what is left over is counted relative to these.

    References
    ----------
    Derived here; see `fit_suspects`.
    """
    start = np.concatenate([model.start, np.zeros(2 * _COUNT)])
    tried = [Fault(code="swapped", names=pair) for pair in combinations(BODY_CHANNELS, 2)]
    rough = [
        _fit_put_back(spectra, model, fault, start, settings.rough_passes, settings)
        for fault in tried
    ]
    fits = [
        _fit_put_back(spectra, model, fit.fault, fit.state, settings.first_passes, settings)
        for fit in rough
        if fit.disagreement < none.disagreement
    ]
    return tuple(sorted(fits, key=lambda fit: fit.disagreement))


def _fit_put_back(
    spectra: CrossSpectra,
    model: ForceModel,
    fault: Fault,
    state: FloatArray,
    passes: int,
    settings: ForceSettings,
) -> ForceFit:
    density = put_right(spectra.density, spectra.names, fault)
    fit = _fit(replace(spectra, density=density), model, _NONE, state, passes, settings)
    return replace(fit, fault=fault)


def _foreseen(
    spectra: CrossSpectra,
    model: ForceModel,
    none: ForceFit,
    suspects: list[Fault],
    settings: ForceSettings,
) -> list[float]:
    """Change of disagreement that one step foresees for each suspect."""
    bend, slope = _normal(spectra, _sums(spectra, model, none.state, settings), settings)
    off = _offset(model, none.state)
    changes = []
    for suspect in suspects:
        prior = _precision(model, suspect, settings)
        pull = slope + prior @ off
        step = np.linalg.solve(bend + prior, pull)
        changes.append(float(off @ prior @ off - pull @ step) / 2)
    return changes


def _fit(
    spectra: CrossSpectra,
    model: ForceModel,
    fault: Fault,
    state: FloatArray,
    passes: int,
    settings: ForceSettings,
) -> ForceFit:
    prior = _precision(model, fault, settings)
    longest = np.full(len(state), np.inf)
    longest[-2 * _COUNT :] = np.repeat([0.5, 0.015], _COUNT)
    room = np.full(len(state), np.inf)
    sums = _sums(spectra, model, state, settings)
    for _ in range(passes):
        bend, slope = _normal(spectra, sums, settings)
        room[: len(model.most)] = model.most - state[: len(model.most)]
        step = _step(bend + prior, -(slope + prior @ _offset(model, state)), room)
        state = state + np.clip(step, -longest, longest)
        sums = _sums(spectra, model, state, settings)
    off = _offset(model, state)
    likely = np.log(np.real(np.linalg.det(sums.left))).sum()
    likely -= np.log(_added_up(spectra, sums.total)).sum()
    disagreement = _weight(spectra, settings) * float(likely) + float(off @ prior @ off) / 2
    return ForceFit(fault=fault, disagreement=disagreement, state=state)


def _late_anew(
    spectra: CrossSpectra, model: ForceModel, start: FloatArray, settings: ForceSettings
) -> list[ForceFit]:
    """Fit every channel late from several delays: one found amiss leads the rest astray."""
    rough = []
    for index, name in enumerate(model.names):
        fault = Fault(code="late", names=(name,))
        for delay_s in settings.tried_delays_s:
            state = start.copy()
            state[index - _COUNT] = delay_s
            rough.append(_fit(spectra, model, fault, state, settings.rough_passes, settings))
    rough.sort(key=lambda fit: fit.disagreement)
    return [
        _fit(spectra, model, fit.fault, fit.state, settings.first_passes, settings)
        for fit in rough[: settings.finalists]
    ]


def _at_limit(model: ForceModel, fit: ForceFit) -> bool:
    """Tell whether a damper or its friction went as far as it may."""
    return bool(np.any(fit.state[: len(model.most)] >= model.most))


def _step(matrix: FloatArray, pull: FloatArray, room: FloatArray) -> FloatArray:
    """Newton's step, with unknowns held at their limits that would overstep them."""
    step = np.linalg.solve(matrix, pull)
    over = step > room
    if over.any():
        step[over] = room[over]
        rest = ~over
        pull = pull[rest] - matrix[np.ix_(rest, over)] @ room[over]
        step[rest] = np.linalg.solve(matrix[np.ix_(rest, rest)], pull)
    return np.asarray(np.minimum(step, room))


def _offset(model: ForceModel, state: FloatArray) -> FloatArray:
    """State less what was expected of it."""
    return np.concatenate([state[: len(model.start)] - model.start, state[len(model.start) :]])


def _precision(model: ForceModel, fault: Fault, settings: ForceSettings) -> FloatArray:
    """Prior precision of all unknowns: factors, log gains, delays."""
    kinds = np.array([kind_of(name) for name in model.names])
    is_travel = kinds == "travel"
    gain_sd = np.where(is_travel, settings.travel_gain, settings.acceleration_gain)
    alike = kinds[:, None] == kinds
    shared = settings.common_hub_gain**2 * (alike & (kinds == "hub"))
    covariance = alike * settings.common_delay_s**2
    covariance = covariance + np.eye(_COUNT) * settings.delay_s**2
    for index in (model.names.index(name) for name in fault.names):
        if fault.code == "scale":
            gain_sd[index] = settings.free_gain
        else:
            covariance[index, index] += settings.free_delay_s**2
    factors = len(model.start)
    size = factors + 2 * _COUNT
    precision = np.zeros((size, size))
    precision[:factors, :factors] = model.precision
    precision[factors:-_COUNT, factors:-_COUNT] = np.linalg.inv(shared + np.diag(gain_sd**2))
    precision[-_COUNT:, -_COUNT:] = np.linalg.inv(covariance)
    return precision


def _sums(
    spectra: CrossSpectra, model: ForceModel, state: FloatArray, settings: ForceSettings
) -> _Sums:
    """Add up the rows at a state; columns of `parts` as the unknowns stand in the state."""
    omega = 2 * np.pi * spectra.frequency_hz
    turn = np.exp(state[-2 * _COUNT : -_COUNT] + 1j * np.outer(omega, state[-_COUNT:]))
    turned = model.parts * turn[:, None, None, :]
    factors = state[: len(model.start)]
    total = turned[:, :, 0] + np.einsum("frpc,p->frc", turned[:, :, 1:], factors)
    by_gain = total[:, :, None, :] * np.eye(_COUNT)
    by_delay = by_gain * (1j * omega)[:, None, None, None]
    left = total.conj() @ spectra.density @ total.transpose(0, 2, 1)
    floor = settings.term**2 * _added_up(spectra, total)
    left = _smoothed(left, settings.smooth_bins) + floor[:, :, None] * np.eye(floor.shape[1])
    return _Sums(
        parts=np.concatenate([turned[:, :, 1:], by_gain, by_delay], axis=2), total=total, left=left
    )


def _normal(
    spectra: CrossSpectra, sums: _Sums, settings: ForceSettings
) -> tuple[FloatArray, FloatArray]:
    """Second and first derivatives of the disagreement, without the priors'."""
    inverse = np.linalg.inv(sums.left)
    root = np.linalg.cholesky(inverse.conj()).conj().transpose(0, 2, 1)
    count, rows, unknowns, _ = sums.parts.shape
    white = (root @ sums.parts.reshape(count, rows, -1)).reshape(sums.parts.shape)
    coupled = white @ spectra.density.transpose(0, 2, 1)[:, None]
    by_unknown, with_others = (
        values.transpose(2, 0, 1, 3).reshape(unknowns, -1) for values in (white, coupled)
    )
    weight = 2 * _weight(spectra, settings)
    bend = weight * np.real(by_unknown.conj() @ with_others.T)
    slope = weight * np.real(with_others @ (root @ sums.total).conj().reshape(-1))
    # what the reckoning relative to the terms, and their share in what is left, add
    relative = 1 / _added_up(spectra, sums.total)
    relative -= settings.term**2 * np.real(np.einsum("frr->fr", inverse))
    pulled = sums.total.conj() * _power(spectra)[:, None, :] * relative[:, :, None]
    slope -= weight * np.real(np.einsum("frc,frpc->p", pulled, sums.parts, optimize=True))
    return bend, slope


def _weight(spectra: CrossSpectra, settings: ForceSettings) -> float:
    """Independent windows."""
    return settings.window_share * spectra.windows


def _power(spectra: CrossSpectra) -> FloatArray:
    return np.real(np.einsum("fcc->fc", spectra.density))


def _added_up(spectra: CrossSpectra, total: ComplexArray) -> FloatArray:
    """Power of all terms of each row, shape (frequencies, rows)."""
    return np.asarray(np.einsum("frc,fc->fr", np.abs(total) ** 2, _power(spectra)))


def _smoothed(values: ComplexArray, bins: int) -> ComplexArray:
    """Mean over neighbouring frequencies; the first and last count again at the ends."""
    wide = np.pad(values, ((bins // 2, bins // 2), (0, 0), (0, 0)), mode="edge")
    below = np.cumsum(np.concatenate([np.zeros_like(wide[:1]), wide]), axis=0)
    return np.asarray((below[bins:] - below[:-bins]) / bins)
