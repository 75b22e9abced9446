"""Break sound logs, one fault at a time, with the fault's code and channels known.

Nothing here is shared with the checks under test. Sizes are those a garage meets: a sensor
glued on upside down, a plug that falls out, a gain of the wrong range setting, one card that
buffers longer than the others.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ridelog.recording import FloatArray, RawRecording

G = 9.80665


@dataclass(frozen=True, slots=True, kw_only=True)
class Broken:
    """A log with one fault: what `check` must say about it."""

    raw: RawRecording
    code: str
    channels: tuple[str, ...] = ()


def break_log(raw: RawRecording, how: str, rng: np.random.Generator) -> Broken:
    """Break a log in one of the ways of `WAYS`."""
    return WAYS[how](raw, rng)


def _sensors(raw: RawRecording, *kinds: str) -> list[str]:
    names = [name for name in raw.channels if name != "speed"]
    return [name for name in names if not kinds or name.split("_")[0] in kinds]


def _with(raw: RawRecording, name: str, values: FloatArray) -> RawRecording:
    return replace(raw, channels={**raw.channels, name: values})


def _spread(values: FloatArray) -> float:
    centre = np.nanmedian(values)
    return float(1.4826 * np.nanmedian(np.abs(values - centre)))


def _rate(raw: RawRecording) -> float:
    return 1.0 / float(np.median(np.diff(raw.time_s)))


def _flat(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    values = raw.channels[name].copy()
    length = int(rng.uniform(2.0, 15.0) * _rate(raw))
    start = int(rng.integers(len(values) // 5, len(values) - length - 10))
    values[start : start + length] = values[start]
    return Broken(raw=_with(raw, name, values), code="flat", channels=(name,))


def _dead(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    values = np.full(len(raw.time_s), raw.channels[name][0])
    return Broken(raw=_with(raw, name, values), code="flat", channels=(name,))


def _clipped(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    values = raw.channels[name]
    centre = float(np.nanmedian(values))
    limit = float(np.nanquantile(np.abs(values - centre), rng.uniform(0.97, 0.99)))
    values = np.clip(values, centre - limit, centre + limit)
    return Broken(raw=_with(raw, name, values), code="clipped", channels=(name,))


def _sign(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    return Broken(raw=_with(raw, name, -raw.channels[name]), code="sign", channels=(name,))


def _swapped(raw: RawRecording, rng: np.random.Generator) -> Broken:
    several = [n for n in _sensors(raw) if len(_sensors(raw, n.split("_")[0])) > 1]
    name = rng.choice(several)
    other = rng.choice([n for n in _sensors(raw, name.split("_")[0]) if n != name])
    channels = {**raw.channels, name: raw.channels[other], other: raw.channels[name]}
    pair = tuple(n for n in raw.channels if n in (name, other))
    return Broken(raw=replace(raw, channels=channels), code="swapped", channels=pair)


def _scale(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    rest = 0.0 if name.startswith("travel") else G  # a gain error trimmed at rest keeps gravity
    values = rest + (raw.channels[name] - rest) * rng.choice([0.8, 1.25])
    return Broken(raw=_with(raw, name, values), code="scale", channels=(name,))


def _late(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    samples = round(rng.uniform(0.010, 0.020) * _rate(raw))
    values = raw.channels[name]
    late = np.concatenate([np.repeat(values[:1], samples), values[:-samples]])
    return Broken(raw=_with(raw, name, late), code="late", channels=(name,))


def _loose(raw: RawRecording, rng: np.random.Generator) -> Broken:
    """A bracket that rings near 100 Hz whenever its place is shaken hard enough."""
    name = rng.choice(_sensors(raw, "body") or _sensors(raw))
    values = raw.channels[name]
    shaken = np.nan_to_num(values - np.nanmedian(values))
    spread = _spread(values)
    beyond = np.clip(np.abs(shaken) / spread - 0.8, 0.0, 3.0)
    drive = np.convolve(beyond, np.exp(-np.arange(60) / 15.0), mode="full")[: len(values)] / 8.0
    phase = 2 * np.pi * rng.uniform(90, 130) * raw.time_s
    ring = np.sin(phase + 0.3 * np.cumsum(rng.standard_normal(len(values))))
    return Broken(
        raw=_with(raw, name, values + 2.0 * spread * drive * ring), code="loose", channels=(name,)
    )


def _spikes(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    values = raw.channels[name].copy()
    count = int(rng.integers(5, 25))
    where = rng.choice(np.arange(50, len(values) - 50), count, replace=False)
    values[where] += rng.choice([-1, 1], count) * rng.uniform(12, 40, count) * _spread(values)
    return Broken(raw=_with(raw, name, values), code="spikes", channels=(name,))


def _noise(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw, "travel", "body") or _sensors(raw))
    values = raw.channels[name]
    noise = rng.uniform(0.5, 1.0) * _spread(values) * rng.standard_normal(len(values))
    return Broken(raw=_with(raw, name, values + noise), code="noise", channels=(name,))


def _zero(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw, "travel"))
    offset = rng.choice([-1, 1]) * rng.uniform(0.009, 0.015)
    return Broken(raw=_with(raw, name, raw.channels[name] + offset), code="zero", channels=(name,))


def _unit(raw: RawRecording, rng: np.random.Generator) -> Broken:
    name = rng.choice(_sensors(raw))
    factor = 1 / 25.4 if name.startswith("travel") else 1 / G
    values = raw.channels[name] * factor
    return Broken(raw=_with(raw, name, values), code="unit", channels=(name,))


def _gap(raw: RawRecording, rng: np.random.Generator) -> Broken:
    count = len(raw.time_s)
    lost = int(rng.uniform(0.15, 3.0) * _rate(raw))
    start = int(rng.integers(count // 5, count - lost - 10))
    keep = np.r_[0:start, start + lost : count]
    channels = {name: values[keep] for name, values in raw.channels.items()}
    return Broken(raw=replace(raw, time_s=raw.time_s[keep], channels=channels), code="gap")


def _clock(raw: RawRecording, time_s: FloatArray) -> Broken:
    return Broken(raw=replace(raw, time_s=time_s), code="clock")


def _clock_jitter(raw: RawRecording, rng: np.random.Generator) -> Broken:
    jitter_s = rng.uniform(0.2, 0.35) / _rate(raw) * rng.standard_normal(len(raw.time_s))
    return _clock(raw, raw.time_s + jitter_s)


def _clock_reset(raw: RawRecording, rng: np.random.Generator) -> Broken:
    """The logger's counter starts again from an earlier time and runs on from there."""
    time_s = raw.time_s.copy()
    start = int(rng.integers(len(time_s) // 5, len(time_s) // 2))
    time_s[start:] -= rng.uniform(0.05, time_s[start])
    return _clock(raw, time_s)


def _clock_slip(raw: RawRecording, rng: np.random.Generator) -> Broken:
    """Some stamps are early by a while; then the clock is right again."""
    time_s = raw.time_s.copy()
    start = int(rng.integers(len(time_s) // 5, len(time_s) // 2))
    time_s[start : start + int(rng.integers(1, 200))] -= rng.uniform(0.05, 1.0)
    return _clock(raw, time_s)


def _clock_stuck(raw: RawRecording, rng: np.random.Generator) -> Broken:
    time_s = raw.time_s.copy()
    start = int(rng.integers(len(time_s) // 5, len(time_s) // 2))
    time_s[start : start + int(rng.integers(3, 60))] = time_s[start]
    return _clock(raw, time_s)


def _slow(raw: RawRecording, rng: np.random.Generator) -> Broken:
    """Logged at 50 Hz, each sample the mean of what it stands for."""
    del rng
    step = round(_rate(raw) / 50.0)
    whole = len(raw.time_s) // step * step
    channels = {
        name: values[:whole].reshape(-1, step).mean(axis=1) for name, values in raw.channels.items()
    }
    return Broken(raw=replace(raw, time_s=raw.time_s[:whole:step], channels=channels), code="slow")


WAYS: dict[str, Callable[[RawRecording, np.random.Generator], Broken]] = {
    "flat": _flat,
    "dead": _dead,
    "clipped": _clipped,
    "sign": _sign,
    "swapped": _swapped,
    "scale": _scale,
    "late": _late,
    "loose": _loose,
    "spikes": _spikes,
    "noise": _noise,
    "zero": _zero,
    "unit": _unit,
    "gap": _gap,
    "clock_jitter": _clock_jitter,
    "clock_reset": _clock_reset,
    "clock_slip": _clock_slip,
    "clock_stuck": _clock_stuck,
    "slow": _slow,
}
