"""Jolts of the body that may be contacts with a bump stop, and the clues that each gives."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ridelog.condition.spectra import ComplexArray
from ridelog.estimate.stretches import Stretch, find_stretches
from ridelog.recording import BoolArray, FloatArray, IntArray

_OTHER_SIDE = {"fl": "fr", "fr": "fl", "rl": "rr", "rr": "rl"}
_OTHER_END = {"fl": "rl", "rl": "fl", "fr": "rr", "rr": "fr"}


@dataclass(frozen=True, slots=True, kw_only=True)
class JoltSettings:
    """Settings of `find_jolts`.

    lowest_hz, highest_hz: leave out slow tilt and engine shake. least_ratio: peaks below this part
    of the touch acceleration are no jolts. merge_s: peaks closer than this are one. end_s: the
    filters' own ends. usual_damping_ratio: of a car whose damping nobody knows yet (common
    practice, no source). aside_s: how far beside the peak its fall is read. before_s: how long
    before the peak the other side is read. other_end_s: when the other end meets the same bump, at
    5 m/s and more. swing_band, beside_band: where the body swings by itself and where the damper
    drives it, as multiples of the body's own frequency.
    """

    lowest_hz: float = 0.3
    highest_hz: float = 45.0
    least_ratio: float = 0.5
    merge_s: float = 0.028
    end_s: float = 1.0
    usual_damping_ratio: float = 0.35
    aside_s: float = 0.012
    before_s: float = 0.036
    travel_s: tuple[float, float] = (-0.03, 0.08)
    rise_s: tuple[float, float] = (-0.06, -0.02)
    other_end_s: tuple[float, float] = (0.08, 0.6)
    swing_band: tuple[float, float] = (0.6, 1.7)
    beside_band: tuple[float, float] = (1.7, 3.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class TouchPoint:
    """What a corner's body feels at the touch of its bump stop.

    `acceleration_m_per_s2` from the spring alone; `frequency_hz` is the body's on that spring.
    """

    acceleration_m_per_s2: float
    frequency_hz: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HubClues:
    """What the hub tells of a corner, each of shape (n,).

    `push_m_per_s2`: body minus hub acceleration x unsprung / sprung mass; `hub_m_per_s2`; `past_m`:
    damper travel by hub and body past the gap.
    """

    push_m_per_s2: FloatArray
    hub_m_per_s2: FloatArray
    past_m: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Jolts:
    """The jolts of one corner in order of time, all arrays of shape (k,).

    `clues` are without units, see `find_jolts`; `odds` names the weights in `CONTACT_ODDS` that go
    with them.
    """

    start_s: FloatArray
    end_s: FloatArray
    odds: str
    clues: Mapping[str, FloatArray] = field(default_factory=dict)


def find_jolts(
    body: Mapping[str, FloatArray],
    touch: Mapping[str, TouchPoint],
    sample_rate_hz: float,
    *,
    hubs: Mapping[str, HubClues] | None = None,
    valid: BoolArray | None = None,
    settings: JoltSettings | None = None,
) -> Mapping[str, Jolts]:
    """Peaks of body acceleration that may be contacts with a bump stop, by corner.

    Parameters
    ----------
    body : Mapping
        Body acceleration [m/s2] by corner, positive up, each of shape (n,).
    touch : Mapping
        Touch points by corner.
    sample_rate_hz : float
        Sample rate [Hz].
    hubs : Mapping, optional
        What the hubs tell, by corner.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    settings : JoltSettings, optional
        Settings.

    Notes
    -----
    Clues, accelerations as parts of the touch acceleration unless told, `log` also of what is below
    zero (see `_signed_log`): `peak`, its logarithm; `over_usual`, of the peak over the corner's
    usual acceleration; `travel`, of the largest travel that spring and damper alone would need for
    this push (a damper of usual strength makes travel trail force); `swing`, of the body's usual
    movement at its own frequency over that above it, which is small in a strongly damped car, where
    hard pushes need no stop; `sharpness`, how far it has fallen 12 ms beside the peak, and `rise`,
    how high it stood 20 to 60 ms before, both as parts of the peak. Where the other side has a
    sensor: `other_side` at the peak and 36 ms before. Where the other end has one: `other_end` at
    the peak, and its highest when it meets the same bump. With hubs: the hub's `push` away from the
    body, travel `past` the gap in centimetres, the wheel's `strike` just before in 100 m/s2.

    References
    ----------
    Derived here.
    """
    s = settings or JoltSettings()
    bands = {
        corner: _Spectrum.of(acceleration, sample_rate_hz, s)
        for corner, acceleration in body.items()
    }
    upward = {corner: spectrum.signal() for corner, spectrum in bands.items()}
    count = min(len(each) for each in upward.values())
    within = np.ones(count, dtype=bool) if valid is None else valid.copy()
    end = round(s.end_s * sample_rate_hz)
    within[:end] = within[max(count - end, 0) :] = False
    found = {}
    for corner, y in upward.items():
        least = s.least_ratio * touch[corner].acceleration_m_per_s2
        runs = find_stretches(within & (y > least), bridge_count=round(s.merge_s * sample_rate_hz))
        found[corner] = _jolts(
            corner, runs, _Car(bands, upward, touch, hubs, sample_rate_hz, valid, s)
        )
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Car:
    """Signals of all corners that clues are taken from."""

    bands: Mapping[str, _Spectrum]
    upward: Mapping[str, FloatArray]
    touch: Mapping[str, TouchPoint]
    hubs: Mapping[str, HubClues] | None
    sample_rate_hz: float
    valid: BoolArray | None
    settings: JoltSettings

    def around(
        self, signal: FloatArray, tops: IntArray, between_s: tuple[float, float]
    ) -> FloatArray:
        """Part of a signal around each peak, shape (k, samples)."""
        first, last = (round(each * self.sample_rate_hz) for each in between_s)
        part: FloatArray = signal[tops[:, None] + np.arange(first, max(last, first + 1))]
        return part

    def at(self, signal: FloatArray, tops: IntArray, after_s: float = 0.0) -> FloatArray:
        """A signal some time after each peak, shape (k,)."""
        values: FloatArray = signal[tops + round(after_s * self.sample_rate_hz)]
        return values


def _jolts(corner: str, runs: tuple[Stretch, ...], car: _Car) -> Jolts:
    """Jolts of a corner with their clues."""
    y = car.upward[corner]
    tops = np.array([run.start + int(np.argmax(y[run.samples])) for run in runs], dtype=int)
    side, end = _OTHER_SIDE[corner], _OTHER_END[corner]
    kinds = [("side", side in car.upward), ("end", end in car.upward)]
    has = {kind for kind, there in kinds if there}
    odds = "all" if has == {"side", "end"} else "pair" if "end" in has else "alone"
    clues: dict[str, FloatArray] = {}
    if len(tops):
        clues = _own_clues(corner, tops, car, side if "side" in has else None)
        if "end" in has:
            clues |= _end_clues(corner, end, tops, car)
        if "side" in has:
            clues |= _side_clues(corner, side, tops, car)
        if car.hubs is not None and odds == "all":
            clues |= _hub_clues(corner, tops, car, car.hubs[corner])
    return Jolts(
        start_s=np.array([run.start for run in runs]) / car.sample_rate_hz,
        end_s=np.array([run.stop for run in runs]) / car.sample_rate_hz,
        odds="hubs" if car.hubs is not None and odds == "all" else odds,
        clues=clues,
    )


def _own_clues(corner: str, tops: IntArray, car: _Car, side: str | None) -> dict[str, FloatArray]:
    s, y = car.settings, car.upward[corner]
    touch = car.touch[corner].acceleration_m_per_s2
    peak = y[tops]
    usual = max(1.4826 * float(np.median(np.abs(y))), 1e-9)
    beside = (car.at(y, tops, -s.aside_s) + car.at(y, tops, s.aside_s)) / 2
    trailing = car.bands[corner].trailing(car.touch[corner].frequency_hz)
    if side is not None:  # the axle's push, and half of what parts its sides
        other = car.bands[side].trailing(car.touch[corner].frequency_hz)
        trailing = 0.75 * trailing + 0.25 * other
    travel = car.around(trailing, tops, s.travel_s).max(axis=1) / touch
    return {
        "peak": np.log(peak / touch),
        "over_usual": np.log(peak / usual),
        "travel": np.log(np.maximum(travel, 0.05)),
        "swing": np.full(len(tops), car.bands[corner].swing(car.touch[corner], car.valid)),
        "sharpness": (peak - beside) / peak,
        "rise": car.around(y, tops, s.rise_s).max(axis=1) / peak,
    }


def _side_clues(corner: str, side: str, tops: IntArray, car: _Car) -> dict[str, FloatArray]:
    other = _signed_log(car.upward[side] / car.touch[corner].acceleration_m_per_s2)
    now = car.at(other, tops)
    return {
        "other_side": now,
        "other_side_squared": now**2,
        "other_side_before": car.at(other, tops, -car.settings.before_s),
    }


def _end_clues(corner: str, end: str, tops: IntArray, car: _Car) -> dict[str, FloatArray]:
    soon, late = car.settings.other_end_s
    between = (soon, late) if corner[0] == "f" else (-late, -soon)
    highest = car.around(car.upward[end], tops, between).max(axis=1)
    highest = highest / car.touch[end].acceleration_m_per_s2
    now = _signed_log(car.at(car.upward[end], tops) / car.touch[corner].acceleration_m_per_s2)
    return {
        "other_end": now,
        "other_end_squared": now**2,
        "other_end_highest": np.log(np.clip(highest, 0.1, 9.0)),
    }


def _hub_clues(corner: str, tops: IntArray, car: _Car, hub: HubClues) -> dict[str, FloatArray]:
    push = _Spectrum.of(hub.push_m_per_s2, car.sample_rate_hz, car.settings).signal()
    pushed = car.around(push, tops, (-0.008, 0.008)).mean(axis=1)
    past_cm = car.around(hub.past_m, tops, (-0.02, 0.03)).max(axis=1) * 100
    strike = car.around(hub.hub_m_per_s2, tops, (-0.08, 0.0)).max(axis=1) / 100
    return {
        "push": np.clip(pushed / car.touch[corner].acceleration_m_per_s2, -5, 10),
        "past": np.clip(past_cm, -3, 3),
        "strike": np.maximum(strike, 0.01),
    }


def _signed_log(ratio: FloatArray) -> FloatArray:
    """Logarithm of 1 + |ratio| with the ratio's sign: even near zero, slow far from it."""
    return np.sign(ratio) * np.log1p(np.abs(ratio))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spectrum:
    """A corner's acceleration, transformed once for all that is taken from it."""

    count: int
    length: int
    frequency_hz: FloatArray
    raw: ComplexArray
    gain: FloatArray
    settings: JoltSettings

    @staticmethod
    def of(acceleration: FloatArray, sample_rate_hz: float, s: JoltSettings) -> _Spectrum:
        """Transform with padding, and a gain between slow tilt and engine shake, no delay."""
        from scipy import fft

        count = len(acceleration)
        length = fft.next_fast_len(count + int(2 * sample_rate_hz / s.lowest_hz), real=True)
        frequency_hz = fft.rfftfreq(length, 1 / sample_rate_hz)
        frequency_hz[0] = 1e-9
        gain = (
            1 / (1 + (s.lowest_hz / frequency_hz) ** 4) / (1 + (frequency_hz / s.highest_hz) ** 8)
        )
        return _Spectrum(
            count=count,
            length=length,
            frequency_hz=frequency_hz,
            raw=fft.rfft(acceleration - np.median(acceleration), length),
            gain=gain,
            settings=s,
        )

    def signal(self, gain: FloatArray | ComplexArray | float = 1.0) -> FloatArray:
        """Acceleration in the band [m/s2], shape (n,)."""
        from scipy import fft

        signal: FloatArray = fft.irfft(self.raw * (self.gain * gain), self.length)[: self.count]
        return signal

    def trailing(self, frequency_hz: float) -> FloatArray:
        """What the spring alone carries of the push on a damper of usual strength [m/s2]."""
        lag_s = 2 * self.settings.usual_damping_ratio / (2 * np.pi * frequency_hz)
        trails = 1 / (1 + 2j * np.pi * self.frequency_hz * lag_s)
        return self.signal(np.asarray(trails, dtype=np.complex128))

    def swing(self, touch: TouchPoint, valid: BoolArray | None) -> float:
        """Logarithm of the body's usual movement at its own frequency over that above it."""
        usual = []
        for band in (self.settings.swing_band, self.settings.beside_band):
            low, high = (each * touch.frequency_hz for each in band)
            edges = (1 + (low / self.frequency_hz) ** 8) * (1 + (self.frequency_hz / high) ** 8)
            size = np.abs(self.signal(edges**-0.5))
            used = size if valid is None or not valid.any() else size[valid]
            usual.append(max(float(np.median(used)), 1e-6))
        return float(np.log(usual[0] / usual[1]))
