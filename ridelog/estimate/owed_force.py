"""Forces on the body that spring, damper and friction leave unexplained, with the motion beside."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.recording import BoolArray, FloatArray

#: Axle and sign of travel of each stop: front bump, front droop, rear bump, rear droop.
STOPS = ((0, 1.0), (0, -1.0), (1, 1.0), (1, -1.0))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwedForce:
    """Forces on the body that springs, dampers and friction leave unexplained, of one stretch.

    `owed_n` (rows, n) [N or N m]; `share` (rows, 4) of a force at each damper in them; damper
    travel from ride height and speed (4, n), bump positive; `whole` (n,) False where a reading is
    missing or cut off; `inside` (n,) away from the ends. `fast_m_per_s` (4, 2): speed in rebound
    and bump beyond which the damper's curve is little known. Spring rate and critical damping per
    axle (2,), at the damper, are scales of what may be wrong with the fit.
    """

    sample_rate_hz: float
    owed_n: FloatArray
    share: FloatArray
    travel_m: FloatArray
    speed_m_per_s: FloatArray
    whole: BoolArray
    inside: BoolArray
    fast_m_per_s: FloatArray
    spring_rate_n_per_m: FloatArray
    critical_damping_n_s_per_m: FloatArray
