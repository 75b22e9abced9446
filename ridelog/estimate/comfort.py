"""Ride comfort by ISO 2631-1: how rough the ride feels, in four numbers and a word."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.result import ComfortResult
from ridelog.estimate.stretches import Stretch, find_stretches
from ridelog.estimate.weighting import weight
from ridelog.recording import BODY_CHANNELS, BoolArray, FloatArray, Recording


@dataclass(frozen=True, slots=True, kw_only=True)
class ComfortSettings:
    """Settings of `ride_comfort`.

    running_window_s: the standard's averaging time of the running rms. bridged_gap_s: shorter
    holes are bridged by a straight line, longer ones start the weighting afresh.
    shortest_log_s: five running windows; less is a moment, not a ride. lowest_rate_hz: below it
    wheel hop (8-15 Hz) folds back into the band people feel most. full_band_rate_hz: twice the
    80 Hz up to which the standard evaluates. settled_s: 108 s at 0.5 Hz for the standard's
    accuracy (from memory), rounded down to what a test drive of a minute offers. lead_in_s: over
    three time constants of the weighting's slowest filter.
    """

    running_window_s: float = 1.0
    bridged_gap_s: float = 0.1
    shortest_log_s: float = 5.0
    lowest_rate_hz: float = 40.0
    full_band_rate_hz: float = 160.0
    settled_s: float = 60.0
    lead_in_s: float = 2.0
    crest_factor_limit: float = 9.0
    mtvv_ratio_limit: float = 1.5
    vdv_ratio_limit: float = 1.75


#: Lower and upper weighted rms [m/s2] of each reaction in public transport, ISO 2631-1 annex C
#: (the two strongest bands from memory). The words are ours, the bands overlap on purpose.
REACTIONS: tuple[tuple[float, float, str], ...] = (
    (0.0, 0.315, "comfortable"),
    (0.315, 0.63, "slightly uncomfortable"),
    (0.5, 1.0, "rather uncomfortable"),
    (0.8, 1.6, "uncomfortable"),
    (1.25, 2.5, "very uncomfortable"),
    (2.0, float("inf"), "extremely uncomfortable"),
)


def ride_comfort(
    acceleration: FloatArray,
    sample_rate_hz: float,
    *,
    place: str,
    valid: BoolArray | None = None,
    settings: ComfortSettings | None = None,
) -> ComfortResult:
    """How rough the ride feels at one place, vertical direction.

    Parameters
    ----------
    acceleration : FloatArray
        Vertical acceleration [m/s2], positive up, without gravity and offset, shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].
    place : str
        Where the sensor sits, in words.
    valid : BoolArray, optional
        False where samples are missing, shape (n,).
    settings : ComfortSettings, optional
        Settings.

    Returns
    -------
    ComfortResult
        Weighted rms, vibration dose, highest running rms and crest factor, with remarks.

    Raises
    ------
    SignalError
        If the log is sampled too slowly to tell.
    NotEnoughDataError
        If fewer than five seconds can be used.

    Notes
    -----
    Weighting Wk, multiplying factor 1. Each stretch between gaps is weighted on its own, led in by
    its own mirror image so that it does not begin with a jolt, and all stretches count together;
    the dose is that of the time counted.

    References
    ----------
    ISO 2631-1:1997, clauses 6.1 (weighted rms), 6.2.1 (crest factor), 6.3.1 (running rms, MTVV),
    6.3.2 (fourth power vibration dose), annex C (comfort).
    """
    s = settings or ComfortSettings()
    if sample_rate_hz < s.lowest_rate_hz:
        raise SignalError(
            f"comfort: sampled at {sample_rate_hz:.3g} Hz; needs {s.lowest_rate_hz:g} Hz or more, "
            "because slower sampling folds wheel hop into the frequencies people feel most"
        )
    usable = np.isfinite(acceleration) if valid is None else np.isfinite(acceleration) & valid
    stretches = _usable_stretches(usable, sample_rate_hz, s)
    filled = counted = acceleration
    if not usable.all():
        index, counted = np.arange(len(usable)), acceleration[usable]
        filled = np.interp(index, index[usable], counted)
    centred = filled - np.mean(counted)
    weighted = [
        _weighted_stretch(centred[stretch.samples], sample_rate_hz, s) for stretch in stretches
    ]
    everything = np.concatenate(weighted)
    rms = float(np.sqrt(np.mean(everything**2)))
    peak = float(np.max(np.abs(everything)))
    result = ComfortResult(
        place=place,
        weighted_rms_mps2=rms,
        vdv_mps175=vibration_dose(everything, sample_rate_hz),
        mtvv_mps2=max(
            float(np.max(running_rms(w, sample_rate_hz, s.running_window_s))) for w in weighted
        ),
        crest_factor=peak / rms if rms > 0 else 0.0,
        reaction=comfort_reaction(rms),
    )
    return _with_remarks(result, len(everything) / sample_rate_hz, sample_rate_hz, s)


def comfort_of_recording(
    recording: Recording, settings: ComfortSettings | None = None
) -> ComfortResult | None:
    """How rough the ride feels, at the best place the log has a sensor.

    The seat if there is a sensor, else the cabin floor, else the mean of the body channels, which
    stands for the floor between them. None where the log has no such channel.

    Parameters
    ----------
    recording : Recording
        The log.
    settings : ComfortSettings, optional
        Settings.

    References
    ----------
    ISO 2631-1:1997, 5.3 (measure where vibration enters the body). Body channels as a stand-in
    for the floor: derived here, the body taken as rigid.
    """
    for name, place in (("seat", "seat"), ("cabin", "cabin floor")):
        if recording.has(name):
            return ride_comfort(
                recording.channels[name],
                recording.sample_rate_hz,
                place=place,
                valid=recording.valid,
                settings=settings,
            )
    names = [name for name in BODY_CHANNELS if recording.has(name)]
    if not names:
        return None
    corners = ", ".join(name.removeprefix("body_") for name in names)
    return ride_comfort(
        np.asarray(sum(recording.channels[name] for name in names) / len(names)),
        recording.sample_rate_hz,
        place=f"body over {corners}" + (" (mean)" if len(names) > 1 else ""),
        valid=recording.valid,
        settings=settings,
    )


def running_rms(weighted: FloatArray, sample_rate_hz: float, window_s: float = 1.0) -> FloatArray:
    """Root mean square over the last `window_s`, at every sample with a full window behind it.

    Parameters
    ----------
    weighted : FloatArray
        Weighted acceleration [m/s2], shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].
    window_s : float
        Averaging time [s].

    Returns
    -------
    FloatArray
        Running rms [m/s2]; one value over everything where the signal is shorter than a window.

    References
    ----------
    ISO 2631-1:1997, 6.3.1, equation 2 (linear averaging).
    """
    window = min(max(round(window_s * sample_rate_hz), 1), len(weighted))
    total = np.concatenate(([0.0], np.cumsum(weighted**2)))
    mean_square = (total[window:] - total[:-window]) / window
    return np.sqrt(np.maximum(mean_square, 0.0))


def vibration_dose(weighted: FloatArray, sample_rate_hz: float) -> float:
    """Fourth power vibration dose VDV [m/s^1.75]: weighs jolts more than the rms does.

    Parameters
    ----------
    weighted : FloatArray
        Weighted acceleration [m/s2], shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].

    References
    ----------
    ISO 2631-1:1997, 6.3.2, equation 5.
    """
    return float((np.sum(np.square(np.square(weighted))) / sample_rate_hz) ** 0.25)


def comfort_reaction(weighted_rms: float) -> str:
    """Say what passengers would; two answers where the standard's bands overlap.

    Parameters
    ----------
    weighted_rms : float
        Weighted rms acceleration [m/s2].

    References
    ----------
    ISO 2631-1:1997, annex C, C.2.3 (public transport); its bands overlap on purpose.
    """
    said = [text for low, high, text in REACTIONS if low <= weighted_rms <= high]
    return " to ".join(said)


def _weighted_stretch(
    acceleration: FloatArray, sample_rate_hz: float, s: ComfortSettings
) -> FloatArray:
    """Weighted acceleration of one stretch, led in by its point reflection about its start."""
    count = min(round(s.lead_in_s * sample_rate_hz), len(acceleration) - 1)
    lead_in = 2 * acceleration[0] - acceleration[count:0:-1]
    return weight(np.concatenate((lead_in, acceleration)), sample_rate_hz)[count:]


def _usable_stretches(
    usable: BoolArray, sample_rate_hz: float, s: ComfortSettings
) -> tuple[Stretch, ...]:
    stretches = find_stretches(
        usable,
        bridge_count=round(s.bridged_gap_s * sample_rate_hz),
        shortest_count=max(round(s.running_window_s * sample_rate_hz), 2),
    )
    found_s = sum(stretch.count for stretch in stretches) / sample_rate_hz
    if found_s < s.shortest_log_s:
        raise NotEnoughDataError("comfort", needed=s.shortest_log_s, found=found_s, unit="s")
    return stretches


def _with_remarks(
    result: ComfortResult, counted_s: float, sample_rate_hz: float, s: ComfortSettings
) -> ComfortResult:
    remarks = []
    if sample_rate_hz < s.full_band_rate_hz:
        remarks.append(
            f"comfort: at {sample_rate_hz:.3g} Hz the log holds nothing above "
            f"{sample_rate_hz / 2:.3g} Hz; the standard's band goes to 80 Hz, "
            "so harshness above that is missing from the figure"
        )
    if counted_s < s.settled_s:
        remarks.append(
            f"comfort: rests on {counted_s:.0f} s of driving; "
            f"{s.settled_s:.0f} s or more give a steadier figure"
        )
    rms = result.weighted_rms_mps2
    jolts = (
        result.crest_factor > s.crest_factor_limit
        or result.mtvv_mps2 > s.mtvv_ratio_limit * rms
        or result.vdv_mps175 > s.vdv_ratio_limit * rms * counted_s**0.25
    )
    if rms > 0 and jolts:
        remarks.append(
            f"comfort: uneven ride, its roughest second {result.mtvv_mps2 / rms:.1f} times the "
            "average; by the standard's limits the weighted rms alone then tells too little, so "
            "look at the highest running rms and the vibration dose as well"
        )
    return replace(result, remarks=tuple(remarks))
