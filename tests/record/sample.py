"""Turn a simulated log into the recording that a serial logger would have made of it.

``python -m tests.record.sample`` writes sample_logs/simulated_recording anew.
"""

from __future__ import annotations

import gzip
import hashlib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.interpolate import CubicSpline

from ridelog.wire.framing import frame
from ridelog.wire.messages import HOST_MARK, PORT_OPENED, HostEvent, HostTime
from ridelog.wire.pack import RECORDING_BODY, pack_host_event, pack_host_time
from tests.record.logger_frames import MadeUpLogger

ROOT = Path(__file__).parents[2] / "sample_logs"
SOURCE = ROOT / "simulated_estate" / "estate_bounce_sim.csv.gz"
FOLDER = ROOT / "simulated_recording"
SCAN_STEP_S = 130e-6
START_UTC_NS = 1_778_320_800 * 10**9
_COLUMNS = {"travel": "travel_{}_mm", "body": "body_{}_mps2"}
_G = 9.80665

SIDE_FILE = """\
kind = "simulated"
origin = "the log {source} of the folder simulated_estate, as a serial logger would have sent it"
generator = "tests.record.sample"
seed = 225
fault = "50 samples lost on the line at 3 s, one mark"
licence = "MIT, as the program"
sha256 = "{digest}"
"""


def recording_of(table: pd.DataFrame, seed: int = 225) -> bytes:
    """Sample a log's columns with a scan that takes its time, and send it."""
    random = np.random.default_rng(seed)
    time_s = table["time_s"].to_numpy()
    rate_hz = round(1 / float(np.median(np.diff(time_s))), 3)
    logger = MadeUpLogger(
        rate_hz=rate_hz,
        travel_count=4 if "travel_fl_mm" in table else 0,
        body_count=4,
        scan_step_s=SCAN_STEP_S,
        name="bench logger",
    )
    columns = []
    for index, channel in enumerate(logger.channels):
        values = table[_COLUMNS[channel.measure].format(channel.place)].to_numpy()
        values = values / _G if channel.unit == "g" else values
        spline = CubicSpline(time_s, values)
        counts = (spline(time_s + channel.instant_s) - channel.offset) / channel.scale
        limits = (channel.zero_scale, channel.full_scale)
        columns.append(np.clip(np.rint(counts), *limits).astype(int))
        logger.channels[index] = replace(channel, name=f"A{index}")
    rows = np.stack(columns, axis=1)
    line = frame(RECORDING_BODY) + host_time(0.0)
    line += frame(pack_host_event(HostEvent(code=PORT_OPENED, number=0, words="bench port")))
    line += logger.describe() + logger.status()
    for begin in range(0, len(rows), 25):
        batch = logger.samples(rows[begin : begin + 25])
        if begin == 10 * 25:
            line += frame(pack_host_event(HostEvent(code=HOST_MARK, number=1, words="")))
            line += logger.mark(1)
        if begin not in (30 * 25, 31 * 25):  # the line was bad for a moment
            line += host_time((begin + 25) / rate_hz + random.exponential(0.002)) + batch
        if begin % 250 == 225:
            line += logger.status()
    return line + logger.status()


def host_time(steady_s: float) -> bytes:
    steady_ns = round(1e9 * steady_s)
    return frame(pack_host_time(HostTime(utc_ns=START_UTC_NS + steady_ns, steady_ns=steady_ns)))


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    content = recording_of(pd.read_csv(SOURCE))
    packed = gzip.compress(content, mtime=0)
    (FOLDER / "estate_bounce_sim.rec.gz").write_bytes(packed)
    digest = hashlib.sha256(packed).hexdigest()
    side = SIDE_FILE.format(source=SOURCE.name, digest=digest)
    (FOLDER / "estate_bounce_sim.toml").write_text(side, encoding="utf-8")
    (FOLDER / "car.toml").write_bytes((SOURCE.parent / "car.toml").read_bytes())


if __name__ == "__main__":
    main()
