"""How two clocks were matched, in words."""

from __future__ import annotations

from ridelog.ingest.two_clocks import ClockMatch


def match_remarks(match: ClockMatch) -> tuple[str, ...]:
    """Word the offset and drift between two loggers' clocks, with their intervals.

    Parameters
    ----------
    match : ClockMatch
        What was found.
    """
    offset = match.offset_s
    half_ms = 500 * (offset.high - offset.low)
    by = f"{match.overlap_s:.0f} s of common motion, correlation {match.correlation:.2f}"
    if match.bumps:
        by = f"{match.bumps} common bump{'s' if match.bumps > 1 else ''}"
    remarks = [f"the second clock is set {offset.value:+.4f} s (+-{half_ms:.1f} ms) by {by}"]
    if match.bumps:
        remarks.append(
            "bumps close together tell no drift: clocks of 100 parts per million are 6 ms apart"
            " after a minute; bumps at both ends of the drive, or --same-motion, show it"
        )
        return tuple(remarks)
    if match.drift is None:
        remarks.append("no drift between the clocks can be seen; none was taken off")
    else:
        drift, low, high = (
            1e6 * each for each in (match.drift.value, match.drift.low, match.drift.high)
        )
        remarks.append(
            f"the second clock drifts by {drift:.0f} parts per million ({low:.0f} to {high:.0f});"
            " that was taken off"
        )
    remarks.append(
        "what one sensor always feels later than the other is part of the offset: name two on the"
        " same part of the car, body and body, not body and wheel (that is 10 to 20 ms off)"
    )
    return tuple(remarks)
