"""A simulated drive as the sensors of the default channel table would show it to their pins."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ridelog.recording import BODY_CHANNELS, TRAVEL_CHANNELS
from ridelog.simulate.demo import demo_car
from ridelog.simulate.drive import Drive, Pulse
from ridelog.simulate.log import Scene, SimulatedLog, simulate_logs
from ridelog.simulate.road import Road
from ridelog.simulate.sensors import SensorKit
from tests.firmware.emulated import write_waves

WAVE_RATE_HZ = 2000
G = 9.80665
# The low passes of the default channel table.
TRAVEL_DELAY_S, ANALOG_BODY_DELAY_S = 100e-6, 1060e-6


@dataclass(frozen=True)
class DriveWaves:
    file: Path
    columns: dict[int, np.ndarray]
    log: SimulatedLog

    @property
    def words(self) -> tuple[str, ...]:
        return ("--waves", str(self.file), "--wave-rate", str(WAVE_RATE_HZ), "--wave-start", "-1")


def simulate_drive(file: Path, seconds: float, seed: int) -> DriveWaves:
    """A made-up estate car on a made-up country road, standing still first; some noise."""
    scene = Scene(
        car=demo_car().with_clicks(front=7, rear=8),
        drive=Drive(
            duration_s=seconds,
            road=Road(gd_n0_m3=100e-6, exponent=2.0, wander_m=0.05),
            forward=(Pulse(start_s=2.0, length_s=6.0, height=3.5),),
            sideways=(Pulse(start_s=12.0, length_s=4.0, height=1.6),),
        ),
        kit=SensorKit(
            sample_rate_hz=WAVE_RATE_HZ,
            travel_bits=16,
            acceleration_step_g=1e-5,
            acceleration_noise_g_per_rthz=150e-6,
            low_pass_hz=None,  # the delays of the filters are added below, exactly
            delay_half_range_s=0.0,
        ),
        seed=seed,
    )
    log = simulate_logs([scene])[0]
    columns = pin_columns(log)
    write_waves(file, columns)
    return DriveWaves(file, columns, log)


def pin_columns(log: SimulatedLog) -> dict[int, np.ndarray]:
    def late(values: np.ndarray, delay_s: float) -> np.ndarray:
        return np.interp(log.time_s - delay_s, log.time_s, values)

    columns = {}
    for pin, name in enumerate(TRAVEL_CHANNELS):
        count = (1000 * log.channels[name] + 64.0) / 0.125
        columns[pin] = late(count * 5 / 1024, TRAVEL_DELAY_S)
    for pin, name in ((6, "body_fr"), (7, "body_rr")):
        columns[pin] = late(2.5 + 0.6 * log.channels[name] / G, ANALOG_BODY_DELAY_S)
    for place, name in ((8, "body_long"), (9, "body_lat"), (10, "body_fl"), (13, "body_rl")):
        columns[place] = log.channels[name] / G
    assert set(BODY_CHANNELS) <= set(log.channels)
    return columns
