"""Channels far noisier than their siblings: electrical noise, or a sensor that rattles."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ridelog.condition.filters import high_pass, low_pass
from ridelog.condition.order_statistics import quantile
from ridelog.condition.signals import KINDS, Checked, Signals
from ridelog.recording import AXLE_OF_CORNER, CORNERS_OF_AXLE, FloatArray, Problem

AnyArray = npt.NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class NoiseSettings:
    """Limits for what is heard above the car's own motion.

    `above_hz` (or `above_rate_ratio` of a low sampling rate) lies beyond wheel hop and most of the
    engine's shaking. Envelopes of `block_s` (`fewest_samples` at least) are capped at their
    `cap_quantile`, else blows from the stops read as a rattle. `louder_ratio`: sound channels
    differ by 1.4 from the loudest sibling at most, faulty ones start near 4 (`alone_ratio` where
    the axle partner is missing, for hubs of different axles differ by 3.5); or one is `above_ratio`
    over the loudest and `partner_ratio` over its axle partner, while the other axle's sides are
    within `alike_ratio`. `rattle_ratio`: electrical noise is as loud in quiet as in busy moments
    (0.93 and more), a rattle is not (0.6 and less). `burst_ratio`: median over cap of the envelope,
    0.76 for electrical noise, less for a rattle that comes in bursts of its own. `moves_below_hz`
    bounds the motion that tells quiet from busy. `longest_s` of a long log are listened to.
    """

    above_hz: float = 90.0
    above_rate_ratio: float = 0.3
    block_s: float = 0.05
    fewest_samples: int = 25
    cap_quantile: float = 0.95
    louder_ratio: float = 2.0
    alone_ratio: float = 5.0
    partner_ratio: float = 2.5
    alike_ratio: float = 1.6
    above_ratio: float = 1.25
    rattle_ratio: float = 0.72
    burst_ratio: float = 0.6
    moves_below_hz: float = 25.0
    longest_s: float = 120.0


def find_noise(signals: Signals, settings: NoiseSettings | None = None) -> Checked:
    """Find channels that are much louder at high frequency than the loudest of their kind.

    Parameters
    ----------
    signals : Signals
        The log on its even base, spikes mended.

    Returns
    -------
    Checked
        ``noise`` and ``loose`` problems; nothing is mended. A kind with one channel is not judged.
    """
    settings = settings or NoiseSettings()
    problems: list[Problem] = []
    for names in KINDS.values():
        present = [name for name in names if name in signals.channels]
        envelopes = _envelopes(signals, present, settings)
        loudness = {name: _loudness(env, settings) for name, env in envelopes.items()}
        for name in present:
            ratio = _louder(name, loudness, settings)
            if ratio is not None:
                problems.append(_problem(signals, name, ratio, envelopes[name], settings))
    return Checked(signals=signals, problems=tuple(problems))


def _louder(name: str, loudness: dict[str, float], settings: NoiseSettings) -> float | None:
    """Return how much louder a channel is than its kind if that is a fault, else None."""
    loudest = max((loudness[other] for other in loudness if other != name), default=0.0)
    if loudest <= 0:
        return None
    # the engine shakes one end of the car more than the other, but both sides of an end alike
    here, there = _side_ratios(name, loudness)
    limit = settings.louder_ratio if here > 0 else settings.alone_ratio
    if loudness[name] > limit * loudest:
        return loudness[name] / loudest
    odd_one_out = here > settings.partner_ratio and there < settings.alike_ratio
    return here if odd_one_out and loudness[name] > settings.above_ratio * loudest else None


def _side_ratios(name: str, loudness: dict[str, float]) -> tuple[float, float]:
    """Return loudness over axle partner, and the same of the other axle's louder side.

    Front and rear exchanged on one side show in both, noise in one channel only in the first. The
    other axle counts as unlike where it is not complete.
    """
    kind, _, corner = name.partition("_")
    ratios = {}
    for axle, pair in CORNERS_OF_AXLE.items():
        left, right = (loudness.get(f"{kind}_{side}", 0.0) for side in pair)
        ratios[axle] = max(left, right) / min(left, right) if left > 0 and right > 0 else np.inf
    here = AXLE_OF_CORNER[corner]
    other = next(axle for axle in CORNERS_OF_AXLE if axle != here)
    own = ratios[here] if np.isfinite(ratios[here]) else 0.0
    return own, ratios[other]


def _part(signals: Signals, settings: NoiseSettings) -> slice:
    """Middle stretch of a long log: enough to hear noise, cheap enough for ten minutes."""
    most = int(settings.longest_s * signals.sample_rate_hz)
    spare = max(0, signals.sample_count - most) // 2
    return slice(spare, spare + most)


def _blocks(values: AnyArray, rate_hz: float, settings: NoiseSettings) -> AnyArray:
    size = max(settings.fewest_samples, round(settings.block_s * rate_hz))
    whole = len(values) // size * size
    return values[:whole].reshape(-1, size)


def _envelopes(
    signals: Signals, names: list[str], settings: NoiseSettings
) -> dict[str, FloatArray]:
    """Loudness per block above the car's motion; NaN where the channel is doubtful."""
    if not names:
        return {}
    rate_hz = signals.sample_rate_hz
    part = _part(signals, settings)
    cutoff = min(settings.above_hz, settings.above_rate_ratio * rate_hz)
    fast = high_pass(np.stack([signals.channels[name][part] for name in names]), rate_hz, cutoff)
    envelopes = {}
    for name, values in zip(names, fast, strict=True):
        loud = _blocks(values, rate_hz, settings)
        sound = _blocks(signals.believable(name)[part], rate_hz, settings).all(axis=1)
        power = np.einsum("bs,bs->b", loud, loud) / loud.shape[1]
        envelopes[name] = np.where(sound, np.sqrt(power), np.nan)
    return envelopes


def _loudness(envelope: FloatArray, settings: NoiseSettings) -> float:
    known = envelope[np.isfinite(envelope)]
    if len(known) == 0:
        return 0.0
    capped = np.minimum(known, quantile(known, settings.cap_quantile))
    return float(np.sqrt(np.mean(capped**2)))


def _activity(signals: Signals, name: str, settings: NoiseSettings) -> FloatArray:
    """How much a channel moves per block, below what noise and rattle are heard by."""
    rate_hz = signals.sample_rate_hz
    slow = low_pass(
        signals.channels[name][_part(signals, settings)], rate_hz, settings.moves_below_hz
    )
    moving = high_pass(slow, rate_hz, 0.5)
    return np.asarray(np.sqrt(np.mean(_blocks(moving, rate_hz, settings) ** 2, axis=1)))


def _steadiness(envelope: FloatArray, activity: FloatArray) -> float:
    """Loudness in quiet moments over that in busy ones: 1 for electrical noise."""
    known = np.isfinite(envelope)
    quiet_limit, busy_limit = np.quantile(activity[known], [0.25, 0.75])
    quiet = float(np.mean(envelope[known & (activity <= quiet_limit)] ** 2))
    busy = float(np.mean(envelope[known & (activity >= busy_limit)] ** 2))
    return float(np.sqrt(quiet / busy)) if busy > 0 else 1.0


def _problem(
    signals: Signals, name: str, ratio: float, envelope: FloatArray, settings: NoiseSettings
) -> Problem:
    known = envelope[np.isfinite(envelope)]
    steadiness = _steadiness(envelope, _activity(signals, name, settings))
    burst = float(np.median(known) / np.quantile(known, settings.cap_quantile))
    if steadiness < settings.rattle_ratio or burst < settings.burst_ratio:
        text = f"{name} rattles when the car moves ({ratio:.1f} times the loudest of its kind)"
        return Problem(code="loose", channel=name, text=f"{text}; fasten the sensor")
    text = f"{name} is {ratio:.1f} times as noisy as the noisiest other sensor of its kind"
    return Problem(code="noise", channel=name, text=f"{text}; look at cable, ground and supply")
