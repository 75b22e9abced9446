"""Travel used, stops hit and speeds seen at each corner."""

from __future__ import annotations

from ridelog.car.description import Car
from ridelog.condition.integrate import differentiate
from ridelog.estimate.curves import SpeedCurve, TravelCurve
from ridelog.estimate.result import CornerResult, StopContacts
from ridelog.estimate.stop_contacts import MeasuredGaps, stop_contacts
from ridelog.estimate.travel_use import speed_curve, travel_curve, travel_use
from ridelog.recording import CORNERS, Recording

# Damper speed from travel: wheel hop and its first overtone, not the sensor's noise.
SPEED_BAND_HZ = 30.0


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
            speed = differentiate(travel, recording.sample_rate_hz, high_hz=SPEED_BAND_HZ)
            speeds.append(speed_curve(corner, speed, valid))
        results[corner] = result
    return results, tuple(travels), tuple(speeds), tuple(notes)


def _gap_m(stop: StopContacts | None) -> float | None:
    return None if stop is None or stop.gap_mm is None else stop.gap_mm.value / 1000
