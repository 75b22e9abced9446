"""A cheap logger: what it makes of the true motion."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ridelog.recording import (
    BODY_CHANNELS,
    HUB_CHANNELS,
    STANDARD_GRAVITY_M_PER_S2,
    TRAVEL_CHANNELS,
    FloatArray,
)

G = STANDARD_GRAVITY_M_PER_S2
# The cabin sensor lies on the floor a bit ahead of the middle, towards the left: its motion is this
# much of the motion over each wheel.
CABIN_SHARES = (0.40, 0.15, 0.33, 0.12)


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorKit:
    """How good the sensors and the logger's clock are; errors are one standard deviation.

    The defaults are public figures for entry-level parts: 300 ug/rtHz, 2 degrees of a bracket bent
    by hand, a ten-bit converter over 200 mm of slider.
    """

    sample_rate_hz: float = 500.0
    travel_bits: int = 10
    travel_range_m: float = 0.2
    travel_gain: float = 0.004
    travel_noise_m: float = 0.15e-3
    travel_offset_m: float = 0.3e-3
    acceleration_noise_g_per_rthz: float = 300e-6
    acceleration_gain: float = 0.01
    acceleration_offset_g: float = 0.03
    acceleration_step_g: float = 0.004
    acceleration_limit_g: float = 16.0
    tilt_rad: float = math.radians(2.0)
    low_pass_hz: float = 150.0
    low_pass_quality: float = 1 / math.sqrt(2)
    delay_half_range_s: float = 0.001
    speed_noise_m_per_s: float = 0.05
    clock_rate: float = 0.0
    stamp_jitter_s: float = 0.0
    sample_jitter_s: float = 0.0
    lost_blocks: int = 0
    lost_block_max_s: float = 0.5
    lost_cell_ratio: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TrueSignals:
    """True motion of one car at the simulation's step: (n, 4) per corner, (n,) else, SI.

    `lean` is the body's roll angle [rad], left side up.
    """

    step_s: float
    travel: FloatArray
    body: FloatArray
    hub: FloatArray
    forward: FloatArray
    sideways: FloatArray
    speed: FloatArray
    lean: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Readings:
    """What the logger wrote: SI, vertical accelerations with gravity, lost cells NaN.

    `clock_rate` is the logged seconds per true second.
    """

    time_s: FloatArray
    channels: dict[str, FloatArray]
    clock_rate: float


def read_sensors(
    signals: TrueSignals,
    kit: SensorKit,
    rng: np.random.Generator,
    makers: np.random.Generator | None = None,
) -> Readings:
    """Log one car's motion.

    Parameters
    ----------
    signals : TrueSignals
        The motion.
    kit : SensorKit
        Sensors and clock.
    rng : numpy.random.Generator
        Draws the noise, and losses of the logger.
    makers : numpy.random.Generator, optional
        Draws each sensor's own gain, offset, tilt and delay; `rng` where left out. The same seed
        gives the same sensors.

    Returns
    -------
    Readings
        Travel, body, hub, longitudinal and lateral acceleration, speed, cabin.
    """
    rngs = (makers or rng, rng)
    duration = len(signals.speed) * signals.step_s
    count = int(np.floor((duration - 0.01) * kit.sample_rate_hz))
    regular = np.arange(count, dtype=float) / kit.sample_rate_hz
    taken = np.maximum(regular + rng.normal(0, kit.sample_jitter_s, count), 0.0)
    channels: dict[str, FloatArray] = {}
    for place in range(4):
        travel, body, hub = TRAVEL_CHANNELS[place], BODY_CHANNELS[place], HUB_CHANNELS[place]
        channels[travel] = _travel(signals, signals.travel[:, place], taken, kit, rngs)
        for name, motion in ((body, signals.body), (hub, signals.hub)):
            upright = motion[:, place] + G
            channels[name] = _acceleration(signals, upright, taken, kit, rngs)
    # A body that leans shows its sideways sensor a part of gravity.
    across = signals.sideways + G * np.sin(signals.lean)
    for name, motion in (("body_long", signals.forward), ("body_lat", across)):
        channels[name] = _acceleration(signals, motion, taken, kit, rngs)
    channels["speed"] = _speed(signals, taken, kit, rng)
    cabin = signals.body @ np.array(CABIN_SHARES) + G
    channels["cabin"] = _acceleration(signals, cabin, taken, kit, rngs)
    rate = 1 + rng.normal(0, 1) * kit.clock_rate
    logged = taken * rate + rng.normal(0, kit.stamp_jitter_s, count)
    return _lose(Readings(time_s=np.round(logged, 5), channels=channels, clock_rate=rate), kit, rng)


def _speed(
    signals: TrueSignals, taken: FloatArray, kit: SensorKit, rng: np.random.Generator
) -> FloatArray:
    times = np.arange(len(signals.speed)) * signals.step_s
    seen: FloatArray = np.interp(taken, times, signals.speed)
    noise = rng.normal(0, kit.speed_noise_m_per_s, len(taken))
    noise[seen == 0] = 0.0
    return np.maximum(seen + noise, 0.0).round(2)


def _travel(
    signals: TrueSignals,
    motion: FloatArray,
    taken: FloatArray,
    kit: SensorKit,
    rngs: tuple[np.random.Generator, np.random.Generator],
) -> FloatArray:
    makers, rng = rngs
    delay = makers.uniform(-1, 1) * kit.delay_half_range_s
    seen = _at(_filtered(motion, signals.step_s, delay, None, 1.0), signals.step_s, taken)
    seen = seen * (1 + makers.normal(0, kit.travel_gain))
    seen = seen + makers.normal(0, kit.travel_offset_m)
    seen = seen + rng.normal(0, kit.travel_noise_m, len(taken))
    step = kit.travel_range_m / 2**kit.travel_bits
    half = kit.travel_range_m / 2
    result: FloatArray = np.clip(np.round(seen / step) * step, -half, half - step)
    return result


def _acceleration(
    signals: TrueSignals,
    motion: FloatArray,
    taken: FloatArray,
    kit: SensorKit,
    rngs: tuple[np.random.Generator, np.random.Generator],
) -> FloatArray:
    makers, rng = rngs
    delay = makers.uniform(-1, 1) * kit.delay_half_range_s
    tilt, turn = makers.normal(0, kit.tilt_rad), makers.uniform(0, 2 * np.pi)
    across = signals.forward * np.cos(turn) + signals.sideways * np.sin(turn)
    felt = motion * np.cos(tilt) + across * np.sin(tilt)
    low_pass = (kit.low_pass_hz, kit.low_pass_quality)
    seen = _at(_filtered(felt, signals.step_s, delay, *low_pass), signals.step_s, taken)
    seen = seen * (1 + makers.normal(0, kit.acceleration_gain))
    seen = seen + makers.normal(0, kit.acceleration_offset_g) * G
    # White noise over the band up to half the sample rate.
    level = kit.acceleration_noise_g_per_rthz * np.sqrt(kit.sample_rate_hz / 2) * G
    seen = seen + rng.normal(0, level, len(taken))
    step = kit.acceleration_step_g * G
    limit = kit.acceleration_limit_g * G
    result: FloatArray = np.clip(np.round(seen / step) * step, -limit, limit)
    return result


def _filtered(
    signal: FloatArray, step_s: float, delay_s: float, corner_hz: float | None, quality: float
) -> FloatArray:
    """Delay a signal and pass it through the sensor's second-order low pass, exactly."""
    margin = round(0.25 / step_s)
    size = _smooth_size(len(signal) + 2 * margin)
    # The ends are held, and run into each other far from the signal.
    padded = np.concatenate(
        [
            np.full(margin, signal[0]),
            signal,
            np.linspace(signal[-1], signal[0], size - len(signal) - margin),
        ]
    )
    frequency = np.fft.rfftfreq(size, step_s)
    response = np.exp(-2j * np.pi * frequency * delay_s)
    if corner_hz is not None:
        ratio = frequency / corner_hz
        response = response / (1 - ratio**2 + 1j * ratio / quality)
    result: FloatArray = np.fft.irfft(np.fft.rfft(padded) * response, size)
    return result[margin : margin + len(signal)]


def _smooth_size(least: int) -> int:
    """Return the next size 5 x 2^k or 2^k x 3 or 2^k not below `least`: quick to transform."""
    power: int = 2 ** math.ceil(math.log2(least))
    return min(size for size in (power, power * 5 // 8, power * 3 // 4) if size >= least)


def _at(signal: FloatArray, step_s: float, taken_s: FloatArray) -> FloatArray:
    """Values between the steps, by the cubic through four neighbours."""
    position = np.clip(taken_s / step_s, 1.0, len(signal) - 3.0)
    cell = np.floor(position).astype(np.intp)
    u = position - cell
    left, near, far, right = (signal[cell + k] for k in (-1, 0, 1, 2))
    result: FloatArray = (
        near
        + u / 2 * (far - left)
        + u**2 * (left - 2.5 * near + 2 * far - right / 2)
        + u**3 * (1.5 * (near - far) + (right - left) / 2)
    )
    return result


def _lose(readings: Readings, kit: SensorKit, rng: np.random.Generator) -> Readings:
    """Drop blocks of rows and single cells."""
    count = len(readings.time_s)
    keep = np.ones(count, dtype=bool)
    for _ in range(kit.lost_blocks):
        length = int(rng.uniform(0.03, kit.lost_block_max_s) * kit.sample_rate_hz)
        start = int(rng.uniform(0.1, 0.95) * count)
        keep[start : start + length] = False
    channels = {}
    for name, values in readings.channels.items():
        lost = rng.random(count) < kit.lost_cell_ratio
        channels[name] = np.where(lost, np.nan, values)[keep]
    return Readings(time_s=readings.time_s[keep], channels=channels, clock_rate=readings.clock_rate)
