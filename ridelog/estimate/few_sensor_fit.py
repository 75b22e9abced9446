"""Fit the few-sensor model to a drive: choose blocks, find the road's delay, fit, judge."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.few_sensor_model import FewSensorModel, make_model
from ridelog.estimate.few_sensor_priors import AxleNumbers, Mode
from ridelog.estimate.road_delay import (
    block_costs,
    delay_grid_s,
    group_blocks,
    smoothest_path,
)
from ridelog.estimate.spectra import (
    BLOCK_WEIGHT,
    SpectralGrid,
    spectral_grid,
)
from ridelog.estimate.steady_blocks import (
    FewSensorSettings,
    packed_blocks,
    steady_blocks,
    typical_speed,
)
from ridelog.estimate.whittle import Prior, WhittleFit, fit_whittle
from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FewSensorFit:
    """The fitted model with what it was fitted to.

    `misfit` is 1 where the model explains all. `tension` is the sum of squares of how many standard
    deviations car, road and sensors were moved from what is believed of them.
    """

    model: FewSensorModel
    prior: Prior
    fit: WhittleFit
    data: FloatArray
    weight: FloatArray
    delays_s: FloatArray
    blocks_used: int
    misfit: float
    tension: float


def fit_few_sensors(
    pairs: tuple[FloatArray, ...],
    modes: tuple[Mode, ...],
    valid: BoolArray,
    *,
    sample_rate_hz: float,
    axles: tuple[AxleNumbers, AxleNumbers],
    wheelbase_m: float,
    travel: bool,
    speed_m_per_s: FloatArray | None = None,
    settings: FewSensorSettings | None = None,
) -> FewSensorFit:
    """Body frequency, damping and more from sensors of one kind, one or two over each axle.

    Parameters
    ----------
    pairs : tuple of FloatArray
        Each (2, n): front and rear signal, travel at the damper [m] or body acceleration [m/s2].
    modes : tuple of str
        What each pair is: ``mean`` of left and right, half their ``difference``, one ``side``
        alone, or ``diagonal`` (left in front, right behind or the other way round).
    valid : BoolArray
        False where samples are missing, shape (n,).
    sample_rate_hz : float
        [Hz]
    axles : tuple of AxleNumbers
        Front and rear.
    wheelbase_m : float
        [m]
    travel : bool
        Whether the signals are damper travel.
    speed_m_per_s : FloatArray, optional
        Car speed [m/s], shape (n,); narrows the search for the delay.
    settings : FewSensorSettings, optional
        Choices of the fit.

    Returns
    -------
    FewSensorFit
        The fit; `parameters` of `fit` are named by `model.index`.

    Raises
    ------
    SignalError
        The log is sampled too slowly.
    NotEnoughDataError
        Too few blocks of steady driving.

    Notes
    -----
    The cross-spectra of front and rear over 0.6-20 Hz are compared with those of a linear car on
    its tyres (heave, pitch, roll, four wheels) on a road whose spectrum is nearly a power law and
    which reaches the rear one delay after the front. Dampers and friction enter by one effective
    damping per axle; see `damper_law_prior` for what that means.

    References
    ----------
    Whittle 1953 (see `whittle`). ISO 8608:2016, road spectra. Dodds & Robson, The description of
    road surface roughness, J. Sound Vib. 31, 1973 (two tracks).
    """
    chosen = settings or FewSensorSettings()
    if sample_rate_hz < chosen.slowest_sample_rate_hz:
        raise SignalError(
            f"sampled at {sample_rate_hz:.1f} Hz; body and wheel hop can be told apart"
            f" from {chosen.slowest_sample_rate_hz:g} Hz on"
        )
    spectra = steady_blocks(pairs, valid, sample_rate_hz, speed_m_per_s, chosen)
    grid = spectral_grid(spectra[0].frequency_hz, block_s=spectra[0].block_s)
    blocks = grid.pooled(packed_blocks(spectra))
    rough = _Assembly(
        axles=axles, wheelbase_m=wheelbase_m, travel=travel, modes=modes, settings=chosen
    )
    around = None
    if speed_m_per_s is not None:
        around = wheelbase_m / typical_speed(speed_m_per_s, chosen)
    result = _first_fit(rough, grid, blocks, spectra[0].start_s, around)
    return _refit(rough, grid, blocks, spectra[0].start_s, result)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Assembly:
    """What every model of one log shares."""

    axles: tuple[AxleNumbers, AxleNumbers]
    wheelbase_m: float
    travel: bool
    modes: tuple[Mode, ...]
    settings: FewSensorSettings

    def model(
        self, grid: SpectralGrid, delays_s: FloatArray, delay_sd: float
    ) -> tuple[FewSensorModel, Prior]:
        noise = self.settings.acceleration_noise_m2_per_s4_per_hz
        if self.travel:
            noise = self.settings.travel_noise_m2_per_hz
        return make_model(
            grid,
            self.axles,
            wheelbase_m=self.wheelbase_m,
            travel=self.travel,
            modes=self.modes,
            groups=len(delays_s),
            noise_density=noise,
            settings=self.settings.priors,
            delay_s=delays_s,
            delay_sd=delay_sd,
        )


def _levelled(model: FewSensorModel, theta: FloatArray, data: FloatArray) -> FloatArray:
    """Set the road's level so that model and data have like power."""
    guess = model.spectra(theta[None])[0]
    per_group = len(model.modes)
    out = theta.copy()
    for group in range(model.groups):
        part = slice(group * per_group, (group + 1) * per_group)
        out[model.index[f"level_{group}"]] += np.log(np.median(data[part, :2] / guess[part, :2]))
    return out


def _first_fit(
    assembly: _Assembly,
    grid: SpectralGrid,
    blocks: FloatArray,
    start_s: FloatArray,
    around_s: float | None,
) -> FewSensorFit:
    """Rough fits from the two most likely delays; the better one."""
    settings = assembly.settings
    delays_s = delay_grid_s(settings.delays, around_s)
    model, prior = assembly.model(grid, delays_s[:1], 1.0)
    theta = _levelled(model, prior.mean, blocks.mean(axis=0))
    weight = BLOCK_WEIGHT * grid.pool_counts
    costs = block_costs(
        model, theta, blocks, delays_s, weight=weight, distortion=settings.scan_distortion
    )
    path, cost = smoothest_path(costs, delays_s, start_s, settings.delays)
    rivals = [path]
    away = np.abs(np.log(delays_s / np.median(path))) > 0.15
    if away.sum() > 3:
        second, second_cost = smoothest_path(
            costs[:, away], delays_s[away], start_s, settings.delays
        )
        if second_cost - cost < 60.0:
            rivals.append(second)
    fits = [_fit_path(assembly, grid, blocks, path, rough=True) for path in rivals]
    return min(fits, key=lambda fit: fit.fit.cost / fit.weight.sum())


def _refit(
    assembly: _Assembly,
    grid: SpectralGrid,
    blocks: FloatArray,
    start_s: FloatArray,
    first: FewSensorFit,
) -> FewSensorFit:
    """Follow the delay once more with the fitted car, then fit without blurring."""
    settings = assembly.settings
    delays_s = delay_grid_s(replace(settings.delays, step=0.006), float(np.median(first.delays_s)))
    single, _ = assembly.model(grid, delays_s[:1], 1.0)
    theta = first.fit.parameters[: len(single.index)].copy()
    weight = BLOCK_WEIGHT * grid.pool_counts
    costs = block_costs(single, theta, blocks, delays_s, weight=weight, distortion=0.1)
    path, _ = smoothest_path(costs, delays_s, start_s, settings.delays)
    return _fit_path(assembly, grid, blocks, path, rough=False, start=theta)


def _fit_path(
    assembly: _Assembly,
    grid: SpectralGrid,
    blocks: FloatArray,
    path_s: FloatArray,
    *,
    rough: bool,
    start: FloatArray | None = None,
) -> FewSensorFit:
    """Fit with the blocks grouped by their delay."""
    settings = assembly.settings
    group, delays_s = group_blocks(path_s, settings.delays)
    if len(delays_s) == 0:
        raise NotEnoughDataError(
            "steady speed", needed=settings.delays.fewest_blocks, found=0, unit="blocks"
        )
    counts = np.array([(group == number).sum() for number in range(len(delays_s))])
    data = np.concatenate([blocks[group == number].mean(axis=0) for number in range(len(counts))])
    weight = BLOCK_WEIGHT * np.outer(np.repeat(counts, len(assembly.modes)), grid.pool_counts)
    model, prior = assembly.model(grid, delays_s, 0.1)
    theta = prior.mean.copy()
    if start is not None:
        shared = min(len(start), model.index["level_0"])
        theta[:shared] = start[:shared]
    theta = _levelled(model, theta, data)
    blurred, distortion = _blurred(model, prior, settings.rough_distortion)
    theta[distortion] = np.log(settings.rough_distortion)
    fit = fit_whittle(model.spectra, data, weight, blurred, theta, max_iterations=10, tolerance=0.5)
    if not rough:
        theta = fit.parameters.copy()
        theta[distortion] = np.log(0.03)
        fit = fit_whittle(model.spectra, data, weight, prior, theta)
    return FewSensorFit(
        model=model,
        prior=prior,
        fit=fit,
        data=data,
        weight=weight,
        delays_s=np.exp([fit.parameters[model.index[f"delay_{n}"]] for n in range(model.groups)]),
        blocks_used=int(counts.sum()),
        misfit=_misfit(model, fit, data, weight),
        tension=_tension(model, prior, fit),
    )


def _tension(model: FewSensorModel, prior: Prior, fit: WhittleFit) -> float:
    """How far the fit had to go against its priors; a road's level and delay are free."""
    moved = (fit.parameters - prior.mean) / prior.sd
    believed = [
        number for name, number in model.index.items() if not name.startswith(("level_", "delay_"))
    ]
    return float(np.sum(moved[believed] ** 2))


def _blurred(model: FewSensorModel, prior: Prior, distortion: float) -> tuple[Prior, int]:
    """Priors that hold the unexplained share high, so that the delay cannot lock onto a ripple."""
    mean, sd = prior.mean.copy(), prior.sd.copy()
    number = model.index["distortion"]
    mean[number], sd[number] = np.log(distortion), 0.02
    return Prior(mean=mean, sd=sd), number


def _misfit(model: FewSensorModel, fit: WhittleFit, data: FloatArray, weight: FloatArray) -> float:
    """Spread of the whitened spectra about the model, over what chance explains."""
    m11, m22, real, imag = np.moveaxis(model.spectra(fit.parameters[None])[0], -2, 0)
    d11, d22, d_real, d_imag = np.moveaxis(data, -2, 0)
    determinant = m11 * m22 - real**2 - imag**2
    excess = (m22 * d11 + m11 * d22 - 2 * (real * d_real + imag * d_imag)) / determinant - 2
    width = 8
    usable = excess.shape[1] // width * width
    shape = (len(excess), -1, width)
    smooth = excess[:, :usable].reshape(shape).mean(axis=2)
    readings = weight[:, :usable].reshape(shape).sum(axis=2)
    return float(np.mean(smooth**2 * readings / 2))
