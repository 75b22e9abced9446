"""Bounce of the body as a whole, from one accelerometer anywhere on it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from ridelog.car.description import Car
from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.curves import SpectrumCurve
from ridelog.estimate.hop_peaks import HopSettings, hop_peaks_hz
from ridelog.estimate.one_sensor_model import OneSensorModel, OneSensorPriors, one_sensor_model
from ridelog.estimate.result import Estimate, WholeCarResult
from ridelog.estimate.spectra import BLOCK_WEIGHT, SpectralGrid, block_spectra, spectral_grid
from ridelog.estimate.whittle import WhittleFit, fit_whittle
from ridelog.recording import BODY_CHANNELS, BoolArray, FloatArray, Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeCarSettings:
    """Choices of the one-sensor fit.

    Relative floors stand for what one sensor cannot know (where it sits, pitch, two unlike axles,
    friction); found on simulated cars. `trust` says how many readings a reading counts: real roads
    are no power laws and a car is no average axle.
    """

    block_s: float = 8.0
    lowest_hz: float = 0.6
    highest_hz: float = 20.0
    fewest_blocks: int = 5
    slowest_sample_rate_hz: float = 45.0
    quiet: float = 0.35
    loud: float = 3.0
    trust: float = 0.25
    inflation: float = 1.2
    frequency_floor: float = 0.10
    damping_floor: float = 0.30
    widest_frequency: float = 0.25
    widest_damping: float = 0.55
    hop: HopSettings = field(default_factory=HopSettings)
    priors: OneSensorPriors = field(default_factory=OneSensorPriors)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WholeCarFit:
    """Bounce, visible wheel-hop peaks [Hz], and the spectrum with its fit."""

    bounce_frequency_hz: Estimate | None
    bounce_damping_ratio: Estimate | None
    hop_peaks_hz: tuple[float, ...]
    frequency_hz: FloatArray
    measured: FloatArray
    fitted: FloatArray
    blocks_used: int


def fit_whole_car(
    acceleration_m_per_s2: FloatArray,
    valid: BoolArray,
    *,
    sample_rate_hz: float,
    settings: WholeCarSettings | None = None,
) -> WholeCarFit:
    """Bounce frequency and damping of the body, and the wheel-hop peaks that show.

    Parameters
    ----------
    acceleration_m_per_s2 : FloatArray
        Vertical acceleration anywhere on the body, gravity removed [m/s2], shape (n,).
    valid : BoolArray
        False where samples are missing, shape (n,).
    sample_rate_hz : float
        [Hz]
    settings : WholeCarSettings, optional
        Choices of the fit.

    Returns
    -------
    WholeCarFit
        With None where the interval would be too wide to mean anything.

    Raises
    ------
    SignalError
        Sampled too slowly: wheel hop would be folded into the body's band.
    NotEnoughDataError
        Too few blocks of driving.

    Notes
    -----
    The spectrum over 0.6-20 Hz is compared with that of an average axle on a road whose spectrum
    is nearly a power law, met twice (front and rear). The frequency is undamped, on the tyres; the
    damping ratio is an effective one, friction included: one sensor cannot take it out.

    References
    ----------
    Whittle 1953 (see `whittle_cost`); ISO 8608:2016, road spectra.
    """
    chosen = settings or WholeCarSettings()
    if sample_rate_hz < chosen.slowest_sample_rate_hz:
        raise SignalError(
            f"sampled at {sample_rate_hz:.1f} Hz: wheel hop folds into the body's band;"
            f" {chosen.slowest_sample_rate_hz:g} Hz or more are needed"
        )
    band = (chosen.lowest_hz, min(chosen.highest_hz, 0.4 * sample_rate_hz))
    blocks = block_spectra(
        acceleration_m_per_s2[None],
        valid,
        sample_rate_hz=sample_rate_hz,
        block_s=chosen.block_s,
        band_hz=band,
    )
    keep = np.zeros(len(blocks.rms), bool)
    if len(keep):
        middle = np.median(blocks.rms)
        keep = (blocks.rms > chosen.quiet * middle) & (blocks.rms < chosen.loud * middle)
    if keep.sum() < chosen.fewest_blocks:
        raise NotEnoughDataError(
            "driving",
            needed=(chosen.fewest_blocks + 1) * chosen.block_s / 2,
            found=(int(keep.sum()) + 1) * chosen.block_s / 2 if keep.any() else 0.0,
            unit="s",
        )
    grid = spectral_grid(blocks.frequency_hz, block_s=blocks.block_s, split_hz=6.0)
    # Blocks of a rough stretch would drown the others: each counts by its own level.
    power = np.abs(blocks.transforms[keep, 0]) ** 2
    level = np.median(power, axis=1, keepdims=True)
    data = grid.pooled((power / level).mean(axis=0) * np.median(level))
    readings = chosen.trust * BLOCK_WEIGHT * keep.sum() * grid.pool_counts
    belief = _fit(data, readings, grid, chosen.priors)
    fitted = belief.model.spectra(belief.best.parameters[None])[0, 0, 0]
    return WholeCarFit(
        bounce_frequency_hz=_estimate(belief, "body_frequency", chosen),
        bounce_damping_ratio=_estimate(belief, "damping", chosen),
        hop_peaks_hz=hop_peaks_hz(
            grid.frequency_hz,
            data,
            chosen.hop,
            readings_per_bin=float(BLOCK_WEIGHT * keep.sum() * grid.pool_counts[-1]),
        ),
        frequency_hz=grid.frequency_hz,
        measured=data,
        fitted=fitted,
        blocks_used=int(keep.sum()),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Belief:
    """Weighted fits from several starting points: the spectrum may fit in more than one way."""

    model: OneSensorModel
    fits: tuple[WhittleFit, ...]
    weights: FloatArray

    @property
    def best(self) -> WhittleFit:
        return self.fits[int(np.argmax(self.weights))]

    def log_mean_and_sd(self, name: str, inflation: float) -> tuple[float, float]:
        number = self.model.index[name]
        means = np.array([fit.parameters[number] for fit in self.fits])
        variances = np.array([fit.covariance[number, number] for fit in self.fits])
        mean = float(self.weights @ means)
        between = float(self.weights @ (means - mean) ** 2)
        within = inflation**2 * float(self.weights @ variances)
        return mean, float(np.sqrt(within + between))


def _fit(
    data: FloatArray, readings: FloatArray, grid: SpectralGrid, priors: OneSensorPriors
) -> _Belief:
    """Fit from a few starting points and weigh the ways in which the spectrum fits."""
    model, prior = one_sensor_model(grid, priors)
    one, zero = np.ones_like(data), np.zeros_like(data)
    packed = np.stack([data, one, zero, zero])[None]
    fits: list[WhittleFit] = []
    for start_hz in (1.1, 1.5, 2.1):
        for step in (-1.0, 0.0, 1.0):
            theta = prior.mean.copy()
            theta[model.index["body_frequency"]] = np.log(start_hz)
            theta[model.index["delay"]] += step * prior.sd[model.index["delay"]]
            guess = model.spectra(theta[None])[0, 0, 0]
            theta[model.index["level"]] += np.log(np.median(data / guess))
            fit = fit_whittle(model.spectra, packed, readings[None], prior, theta)
            if all(np.abs(fit.parameters - other.parameters).max() > 0.02 for other in fits):
                fits.append(fit)
    evidence = np.array([0.5 * np.linalg.slogdet(fit.covariance)[1] - fit.cost for fit in fits])
    weights = np.exp(evidence - evidence.max())
    return _Belief(model=model, fits=tuple(fits), weights=weights / weights.sum())


def _estimate(belief: _Belief, name: str, settings: WholeCarSettings) -> Estimate | None:
    frequency = name == "body_frequency"
    floor = settings.frequency_floor if frequency else settings.damping_floor
    mean, random = belief.log_mean_and_sd(name, settings.inflation)
    sd = float(np.hypot(random, floor))
    if sd > (settings.widest_frequency if frequency else settings.widest_damping):
        return None
    value = float(np.exp(mean))
    return Estimate(
        value=value,
        low=float(value * np.exp(-1.96 * sd)),
        high=float(value * np.exp(1.96 * sd)),
        random_half_width=1.96 * random * value,
        systematic_half_width=1.96 * floor * value,
        largest_contributor="one sensor only" if floor > random else "length of the log",
    )


def whole_car_result(
    recording: Recording, car: Car
) -> tuple[WholeCarResult, tuple[SpectrumCurve, ...], tuple[str, ...]]:
    """Bounce of the whole body from ``cabin``, a body channel, or the mean of several.

    Parameters
    ----------
    recording : Recording
        The cleaned log.
    car : Car
        Taken for likeness with the other estimators; the fit needs nothing of it.

    Returns
    -------
    tuple
        The result, the spectrum, and notes on wheel hop and on what could not be told.

    References
    ----------
    See `fit_whole_car`.
    """
    place, signal = body_signal(recording)
    if signal is None:
        note = "Whole car: needs an accelerometer on the body (cabin or over an axle)"
        return WholeCarResult(), (), (note,)
    try:
        fit = fit_whole_car(
            signal,
            recording.valid,
            sample_rate_hz=recording.sample_rate_hz,
        )
    except SignalError as error:
        return WholeCarResult(), (), (f"Whole car bounce: {error}",)
    curve = SpectrumCurve(
        label="whole car",
        place=place,
        unit="m/s2",
        frequency_hz=fit.frequency_hz,
        measured=fit.measured,
        fitted=fit.fitted,
    )
    result = WholeCarResult(
        bounce_frequency_hz=fit.bounce_frequency_hz,
        bounce_damping_ratio=fit.bounce_damping_ratio,
    )
    return result, (curve,), _notes(fit)


def _notes(fit: WholeCarFit) -> tuple[str, ...]:
    notes = []
    if fit.bounce_frequency_hz is None:
        notes.append("Whole car bounce frequency: no distinct body peak in the spectrum")
    if fit.bounce_damping_ratio is None:
        notes.append("Whole car bounce damping: the body peak does not determine it")
    if fit.hop_peaks_hz:
        peaks = " and ".join(f"{peak:.1f} Hz" for peak in fit.hop_peaks_hz)
        notes.append(f"Wheel hop shows as a hump in the body's spectrum at {peaks}")
    return tuple(notes)


def body_signal(recording: Recording) -> tuple[str, FloatArray | None]:
    """Choose the signal that stands for the whole body, and name its place.

    Parameters
    ----------
    recording : Recording
        The log.
    """
    if recording.has("cabin"):
        return "cabin", recording.channels["cabin"]
    present = [name for name in BODY_CHANNELS if recording.has(name)]
    if not present:
        return "", None
    axles = [
        recording.stack(names).mean(axis=0)
        for axle in "fr"
        if (names := [name for name in present if name[5] == axle])
    ]
    return "body", np.asarray(np.mean(axles, axis=0))
