"""Road level and class of one log, with the car file and whatever sensors there are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ridelog.car.description import Car
from ridelog.errors import SignalError
from ridelog.estimate.result import RoadResult
from ridelog.estimate.road import RoadSettings, road_level
from ridelog.estimate.road_speed import speed_from_road
from ridelog.estimate.road_wheels import road_under_wheels
from ridelog.recording import CORNERS, FloatArray, Recording

#: Relative change of the road's level per relative change of the tyre rate (found by shifting it).
TYRE_SHARE = 0.3

#: Relative standard deviation of a speed taken from the road; at w = 2 the level goes with it.
ROAD_SPEED_DOUBT = 0.04


def road_of_recording(
    recording: Recording,
    car: Car,
    *,
    tyre_rate_n_per_m: Mapping[str, float] | None = None,
    settings: RoadSettings | None = None,
) -> RoadResult:
    """Level and class of the road of one log.

    Parameters
    ----------
    recording : Recording
        The log; needs two of travel, body and hub at one axle and speed, or these at both axles.
    car : Car
        The car.
    tyre_rate_n_per_m : Mapping, optional
        Tyre rate [N/m] by axle where an estimate is better than the car file's.
    settings : RoadSettings, optional
        Settings.

    Raises
    ------
    SignalError
        If no axle has two kinds of sensor, or there is no speed and none to be had from the road.
    NotEnoughDataError
        If too little steady driving is left.

    Notes
    -----
    See `road_under_wheels`, `road_level` and, without a speed channel, `speed_from_road`.

    References
    ----------
    ISO 8608:2016. Wheel and tyre equation: derived in `road_under_wheels`.
    """
    profile = road_under_wheels(recording, car, tyre_rate_n_per_m=tyre_rate_n_per_m)
    s = settings or RoadSettings()
    s = replace(s, highest_frequency_hz=min(s.highest_frequency_hz, profile.highest_hz))
    tolerance = car.tolerances
    gain = float(np.hypot(tolerance.accelerometer_gain, TYRE_SHARE * tolerance.tyre_rate))
    remarks = [f"road: from {profile.sensors} at {', '.join(profile.corners)}"]
    speed = recording.channels.get("speed")
    if speed is None:
        speed = _speed_by_road(recording, car, tyre_rate_n_per_m)
        gain = float(np.hypot(gain, ROAD_SPEED_DOUBT / 2))
        remarks.append(
            "road: the log has no speed; it was taken from the time between front and rear wheels"
        )
    result = road_level(
        profile.height_m,
        speed,
        recording.sample_rate_hz,
        valid=recording.valid,
        gain_tolerance=gain,
        settings=s,
    )
    return replace(result, remarks=(*remarks, *result.remarks))


def _speed_by_road(
    recording: Recording, car: Car, tyre_rate_n_per_m: Mapping[str, float] | None
) -> FloatArray:
    profile = road_under_wheels(
        recording, car, tyre_rate_n_per_m=tyre_rate_n_per_m, every_axle=True
    )
    if profile.corners != CORNERS:
        raise SignalError(
            "road: the log has no speed, and waves per second become waves per metre only with it; "
            "add a speed column"
        )
    return speed_from_road(
        profile.height_m[:2],
        profile.height_m[2:],
        car.wheelbase_m,
        recording.sample_rate_hz,
        valid=recording.valid,
    )
