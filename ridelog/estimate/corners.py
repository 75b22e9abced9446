"""Travel used, stops hit and speeds seen at each corner."""

from __future__ import annotations

from ridelog.car.description import Car
from ridelog.condition.integrate import differentiate
from ridelog.estimate.curves import SpeedCurve, TravelCurve
from ridelog.estimate.result import CornerResult, StopContacts
from ridelog.estimate.stop_contacts import MeasuredGaps, stop_contacts
from ridelog.estimate.travel_use import ENOUGH_SAMPLES, speed_curve, travel_curve, travel_use
from ridelog.recording import CORNERS, Recording

# Damper speed from travel: wheel hop and its first overtone, not the sensor's noise.
SPEED_BAND_HZ = 30.0
# Half of this times the band is kept where a long log's speed is thinned: what folds back from
# above is a thousandth of what moves there.
_LEAST_RATE_RATIO = 5.0


def corner_results(
    recording: Recording, car: Car, gaps: MeasuredGaps, kind: str
) -> tuple[
    dict[str, CornerResult], tuple[TravelCurve, ...], tuple[SpeedCurve, ...], tuple[str, ...]
]:
    """Results of all corners that rest on travel or jolts, their curves, and notes.

    Parameters
    ----------
    recording : Recording
        The log.
    car : Car
        Gaps as stated.
    gaps : MeasuredGaps
        Gaps found from the drive.
    kind : str
        ``drive`` or ``bounce``; a bounce test hits no stops.

    References
    ----------
    See `travel_use` and `stop_contacts`.
    """
    stops = stop_contacts(recording, car, measured=gaps) if kind == "drive" else {}
    results: dict[str, CornerResult] = {}
    travels: list[TravelCurve] = []
    speeds: list[SpeedCurve] = []
    notes: list[str] = []
    for corner in CORNERS:
        found = stops.get(corner)
        result = CornerResult(
            bump_stop=found.bump if found else None, top_out=found.droop if found else None
        )
        notes.extend(found.notes if found else ())
        travel = recording.channels.get(f"travel_{corner}")
        valid = recording.valid
        if travel is not None and valid.any():
            result = CornerResult(
                bump_stop=result.bump_stop,
                top_out=result.top_out,
                travel_mm=travel_use(travel, valid),
            )
            travels.append(
                travel_curve(
                    corner,
                    travel,
                    bump_gap=_gap_m(result.bump_stop),
                    droop_gap=_gap_m(result.top_out),
                    valid=valid,
                )
            )
            every = _speed_step(recording)
            rate_hz = recording.sample_rate_hz
            speed = differentiate(travel, rate_hz, high_hz=SPEED_BAND_HZ, every=every)
            speeds.append(speed_curve(corner, speed, valid[::every]))
        results[corner] = result
    return results, tuple(travels), tuple(speeds), tuple(notes)


def _speed_step(recording: Recording) -> int:
    """One sample of so many tells the shares of time at each speed of a long log."""
    fastest = int(recording.sample_rate_hz / (_LEAST_RATE_RATIO * SPEED_BAND_HZ))
    every = max(1, min(fastest, recording.sample_count // ENOUGH_SAMPLES))
    return every if recording.valid[::every].any() else 1


def _gap_m(stop: StopContacts | None) -> float | None:
    return None if stop is None or stop.gap_mm is None else stop.gap_mm.value / 1000
