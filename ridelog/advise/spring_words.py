"""The reasons for a spring, or against another one, in plain words."""

from __future__ import annotations

from ridelog.advise.springs import SpringAdvice
from ridelog.advise.wording import frequency_words, percent_words, rate_words
from ridelog.car.description import Axle
from ridelog.estimate.result import CornerResult, Estimate

FINDING_RATIO = 0.02
"""Measured and catalogue rate closer than this agree: no finding."""


def spring_reasons(advice: SpringAdvice, axle: Axle, *, knob_first: bool) -> tuple[str, ...]:
    """Say what the springs do, whether others are worth it and what follows from them.

    Parameters
    ----------
    advice : SpringAdvice
        The advice.
    axle : Axle
        The axle.
    knob_first : bool
        Whether the knobs are still to be turned.
    """
    measured = advice.measured_frequency_hz
    if measured is None:
        return ("Springs: the log cannot tell the body frequency, so no spring is advised.",)
    target = axle.target_body_frequency_hz
    if target is None:
        return (
            f"Springs: body frequency {frequency_words(measured)}; the car file names no "
            "target_body_frequency for this axle, so none is advised.",
        )
    first = f"Springs: body frequency {frequency_words(measured)}, target {target:g} Hz"
    finding = _finding(advice, axle)
    if advice.verdict == "beyond_tyre":
        return (f"{first}: out of reach for any spring on these tyres.", *finding)
    if advice.verdict == "beyond_helper":
        return (
            f"{first}: out of reach for any main spring, as the helper is still open at ride "
            "height and softer than what is wanted; a helper that closes earlier, or none.",
            *finding,
        )
    if advice.verdict != "change" or advice.next_n_per_m is None:
        return (f"{first}: {_why_close(advice, measured, target)}", *finding)
    return (
        f"{first}: {percent_words(measured.value / target)}.",
        *_change_reasons(advice, axle, knob_first=knob_first),
        *finding,
    )


def travel_reason(
    advice: SpringAdvice, axle: Axle, corners: tuple[CornerResult | None, ...]
) -> str | None:
    """Say how much bump travel is left and what other springs make of it, or None.

    Parameters
    ----------
    advice : SpringAdvice
        The spring advice.
    axle : Axle
        The axle.
    corners : tuple of CornerResult or None
        Left and right.
    """
    used = [corner.travel_mm.max for corner in corners if corner and corner.travel_mm]
    gap = axle.bump_gap_m
    if not used or gap is None or advice.verdict != "change" or advice.next_n_per_m is None:
        return None
    left = gap * 1000 - max(used)
    ratio = 1 / (advice.rate_ratio or 1)
    more = f"{abs(ratio - 1) * 100:.0f} % {'more' if ratio > 1 else 'less'}"
    room = f"{left:.0f} mm were left" if left > 0 else "none was left"
    sunk = ""
    if advice.perch_up_m > 0.0005:
        sunk = (
            f" With the perch left where it is, the car would stand "
            f"{advice.perch_up_m * 1000:.0f} mm nearer to the bump stop, at the damper."
        )
    return (
        f"Of {gap * 1000:.0f} mm bump travel the drive used {max(used):.0f} mm, {room}; load, "
        f"braking and cornering will use {more} on the other springs.{sunk}"
    )


def _why_close(advice: SpringAdvice, measured: Estimate, target: float) -> str:
    """Say why no other spring is advised."""
    if measured.low <= target <= measured.high:
        return "the target lies inside, no other spring."
    ideal = "" if advice.ideal_rate_n_per_m is None else rate_words(advice.ideal_rate_n_per_m)
    return (
        f"{percent_words(measured.value / target)}, but no spring one can buy comes so much "
        f"nearer that it is worth the money (ideal {ideal})."
    )


def _change_reasons(advice: SpringAdvice, axle: Axle, *, knob_first: bool) -> tuple[str, ...]:
    """Say which spring, what it gives and what the ride height does."""
    following, predicted, ideal = (
        advice.next_n_per_m,
        advice.predicted_frequency_hz,
        advice.ideal_rate_n_per_m,
    )
    if following is None or predicted is None or ideal is None:
        return ()
    own_list = axle.springs_on_sale or axle.available_spring_rates_n_per_m
    listed = "of your list" if own_list else "of the usual 25 lbf/in"
    listed += " that fits" if advice.refused else ""
    money = "Springs cost money, the knobs nothing: knobs first. " if knob_first else ""
    tyre = ""
    if advice.tyre is not None and advice.tyre.source != "from the car file":
        tyre = f" Tyre rate {rate_words(advice.tyre.rate_n_per_m)}, {advice.tyre.source}."
    way = "rises" if advice.sink_m < 0 else "sinks"
    perch = "down" if advice.perch_up_m < 0 else "up"
    turns = ""
    if axle.perch_thread_pitch_m:
        turns = f", {abs(advice.perch_up_m) / axle.perch_thread_pitch_m:.1f} turns"
    main = " for the main spring" if axle.spring_stack else ""
    length = "With the same free length"
    free = advice.next_spring and advice.next_spring.free_length_m
    if free and axle.spring_stack and axle.spring_stack.free_length_m:
        length = f"With its free length of {free * 1000:.0f} mm"
    return (
        f"{money}Ideal would be {rate_words(ideal)}{main}; nearest {listed} is "
        f"{rate_words(following)}, which should give {frequency_words(predicted)}.{tyre}",
        f"{length} the body {way} {abs(advice.sink_m) * 1000:.0f} mm at the "
        f"wheel; move the perch {perch} {abs(advice.perch_up_m) * 1000:.0f} mm{turns} to keep the "
        "height.",
    )


def _finding(advice: SpringAdvice, axle: Axle) -> tuple[str, ...]:
    """Say that the fitted spring is not what the catalogue says, where it shows."""
    measured = advice.measured_rate_n_per_m
    if measured is None:
        return ()
    stated = advice.stated_rate_n_per_m or advice.now_n_per_m
    ratio = measured / stated
    if abs(ratio - 1) < FINDING_RATIO:
        return ()
    following = ""
    if advice.verdict == "change":
        following = " The next one may stray as far, which the interval allows for."
    return (
        f"The spring measures {rate_words(measured)} at a motion ratio of {axle.motion_ratio:g}, "
        f"{abs(ratio - 1) * 100:.0f} % {'more' if ratio > 1 else 'less'} than the "
        f"{rate_words(stated)} stated (3-5 % is usual; more points to a wrong motion "
        f"ratio or mass).{following}",
    )
