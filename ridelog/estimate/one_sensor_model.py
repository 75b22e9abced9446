"""Spectrum of one body accelerometer: an average axle on its tyres, met twice by one road."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ridelog.estimate.spectra import SpectralGrid
from ridelog.estimate.whittle import Prior
from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class OneSensorPriors:
    """(mean, standard deviation) of logarithms unless said; common practice, no source.

    `front_share` is the front axle's part in the sensor's motion, `delay` the front-to-rear
    delay's logarithm and `delay_spread` its relative spread over the drive.
    """

    body_frequency: tuple[float, float] = (np.log(1.45), 0.30)
    damping: tuple[float, float] = (np.log(0.30), 0.45)
    hop_frequency: tuple[float, float] = (np.log(11.5), 0.15)
    mass_ratio: tuple[float, float] = (np.log(0.13), 0.25)
    hop_split: tuple[float, float] = (np.log(0.12), 0.6)
    slope: tuple[float, float] = (2.0, 0.30)
    knot: tuple[float, float] = (0.0, 0.35)
    front_share: tuple[float, float] = (0.5, 0.12)
    delay: tuple[float, float] = (np.log(0.2), 0.5)
    delay_spread: tuple[float, float] = (np.log(0.12), 0.5)
    noise: tuple[float, float] = (np.log(2e-5), 1.5)


KNOTS_HZ = (0.7, 2.0, 4.5, 8.0, 13.0, 19.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OneSensorModel:
    """Call `spectra` with a batch of parameters; second channel is a constant dummy."""

    grid: SpectralGrid
    index: Mapping[str, int]

    def value(self, theta: FloatArray, name: str) -> FloatArray:
        """Parameter `name` of a batch (k, p), shape (k, 1)."""
        return theta[:, self.index[name], None]

    def density(self, theta: FloatArray, frequency_hz: FloatArray) -> FloatArray:
        """Acceleration density [(m/s2)2/Hz], shape (k, f)."""
        omega = 2 * np.pi * frequency_hz
        delay_s = np.exp(self.value(theta, "delay"))
        blur = np.exp(-0.5 * (omega * delay_s * np.exp(self.value(theta, "delay_spread"))) ** 2)
        share = np.clip(self.value(theta, "front_share"), 0.0, 1.0)
        split = np.exp(self.value(theta, "hop_split"))
        front = _body_over_road(self, theta, omega, 1 + split / 2)
        rear = _body_over_road(self, theta, omega, 1 - split / 2)
        meeting = 2 * (share * (1 - share) * front * rear.conj() * blur).real
        meeting = meeting * np.cos(omega * delay_s)
        gain = share**2 * np.abs(front) ** 2 + (1 - share) ** 2 * np.abs(rear) ** 2 + meeting
        log_f = np.log(frequency_hz)
        road = self.value(theta, "level") - self.value(theta, "slope") * log_f
        for number, hat in enumerate(np.eye(len(KNOTS_HZ))):
            shape = np.interp(log_f, np.log(KNOTS_HZ), hat)
            road = road + self.value(theta, f"knot_{number}") * shape
        noise = np.exp(self.value(theta, "noise"))
        return np.asarray(np.exp(road) * omega**4 * gain + noise)

    def spectra(self, theta: FloatArray) -> FloatArray:
        """Packed spectra (k, 1, 4, bins) for `fit_whittle`."""
        seen = self.grid.seen(self.density(theta, self.grid.fine_hz))
        one, zero = np.ones_like(seen), np.zeros_like(seen)
        return np.stack([seen, one, zero, zero], axis=1)[:, None]


def _body_over_road(
    model: OneSensorModel, theta: FloatArray, omega: FloatArray, hop_scale: FloatArray
) -> FloatArray:
    """Quarter-car gain, body displacement over road, per kilogram of body."""
    ratio = np.exp(model.value(theta, "mass_ratio"))
    ride = (2 * np.pi * np.exp(model.value(theta, "body_frequency"))) ** 2
    both = ratio * (2 * np.pi * np.exp(model.value(theta, "hop_frequency")) * hop_scale) ** 2
    # Wheel and tyre rate from their sum (wheel hop) and their series (ride).
    root = np.sqrt(np.maximum(both**2 - 4 * ride * both, 0.01 * both**2))
    wheel, tyre = (both - root) / 2, (both + root) / 2
    damping = 2 * np.exp(model.value(theta, "damping")) * np.sqrt(wheel)
    suspension = wheel + 1j * omega * damping
    hub = tyre - omega**2 * ratio + suspension
    hold = suspension * (hub - suspension) / hub
    return np.asarray(suspension * tyre / hub / (hold - omega**2))


def one_sensor_model(grid: SpectralGrid, priors: OneSensorPriors) -> tuple[OneSensorModel, Prior]:
    """Lay out the parameters.

    Parameters
    ----------
    grid : SpectralGrid
        Where spectra are compared.
    priors : OneSensorPriors
        Beliefs about car and road.
    """
    entries = {
        "body_frequency": priors.body_frequency,
        "damping": priors.damping,
        "hop_frequency": priors.hop_frequency,
        "mass_ratio": priors.mass_ratio,
        "hop_split": priors.hop_split,
        "slope": priors.slope,
        "front_share": priors.front_share,
        "delay": priors.delay,
        "delay_spread": priors.delay_spread,
        "noise": priors.noise,
        "level": (np.log(1e-6), 8.0),
    } | {f"knot_{number}": priors.knot for number in range(len(KNOTS_HZ))}
    table = np.array(list(entries.values()))
    index = {name: number for number, name in enumerate(entries)}
    return OneSensorModel(grid=grid, index=index), Prior(mean=table[:, 0], sd=table[:, 1])
