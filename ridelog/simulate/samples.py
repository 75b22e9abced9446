"""The simulated sample logs: one made-up car, four small logs, each with its truth beside it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ridelog.recording import BODY_CHANNELS
from ridelog.simulate.demo import DRIVE_CHANNELS, LOGGER_SEED, demo_bounce, demo_car
from ridelog.simulate.drive import Drive, Engine, Pulse
from ridelog.simulate.files import car_toml, setup_toml, write_log_csv, write_new
from ridelog.simulate.log import Scene, SimulatedLog, simulate_logs
from ridelog.simulate.road import Bump, Road
from ridelog.simulate.sensors import SensorKit

FRONT_CLICKS, REAR_CLICKS = 6, 9
DATE = "2026-05-09"
UPSIDE_DOWN = "body_fr"

CAR_REMARK = """\
A made-up car for the simulated logs in this folder. Every number is invented. What is really true
of it stands in the .toml file beside each log."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One sample log: file stem, what is kept of it, and a line for its owner's note."""

    stem: str
    note: str
    duration_s: float
    channels: tuple[str, ...]
    seed: int
    sample_rate_hz: float = 250.0
    bounce: bool = False
    fault: str = ""


SAMPLES = (
    Sample(
        stem="estate_drive_sim",
        note="all sensors, rough country road with one hump",
        duration_s=30.0,
        channels=DRIVE_CHANNELS,
        seed=11,
    ),
    Sample(
        stem="estate_bounce_sim",
        note="standing, engine off, pushed at the bumpers and let go",
        duration_s=36.0,
        channels=BODY_CHANNELS,
        seed=12,
        bounce=True,
    ),
    Sample(
        stem="estate_two_accel_sim",
        note="only two accelerometers, over the left front and left rear wheel",
        duration_s=60.0,
        channels=("body_fl", "body_rl"),
        seed=13,
    ),
    Sample(
        stem="estate_upside_down_sim",
        note="all sensors, and one of them screwed on upside down",
        duration_s=30.0,
        channels=DRIVE_CHANNELS,
        seed=14,
        fault=f"{UPSIDE_DOWN} is screwed on upside down",
    ),
)


def write_samples(folder: Path) -> tuple[Path, ...]:
    """Simulate all sample logs and write them with car, setups and side files.

    Parameters
    ----------
    folder : Path
        Where to; files of the same names must not exist yet.

    Returns
    -------
    tuple[Path, ...]
        The logs.
    """
    folder.mkdir(parents=True, exist_ok=True)
    paths = []
    for sample in SAMPLES:
        log = sample_log(sample)
        path = folder / f"{sample.stem}.csv.gz"
        digest = write_log_csv(path, log, decimals=3)
        setup = setup_toml(log, date=DATE, note=sample.note)
        write_new(folder / f"{sample.stem}.setup.toml", setup)
        write_new(folder / f"{sample.stem}.toml", _side_file(sample, log, digest))
        paths.append(path)
    write_new(folder / "car.toml", car_toml(log.car, CAR_REMARK))
    return tuple(paths)


def sample_log(sample: Sample) -> SimulatedLog:
    """Simulate one sample log."""
    scene = Scene(
        car=demo_car().with_clicks(front=FRONT_CLICKS, rear=REAR_CLICKS),
        drive=demo_bounce(sample.duration_s) if sample.bounce else _drive(sample.duration_s),
        kit=SensorKit(sample_rate_hz=sample.sample_rate_hz),
        seed=sample.seed,
        logger_seed=LOGGER_SEED,
        channels=sample.channels,
        name=sample.stem,
    )
    log = simulate_logs([scene])[0]
    if not sample.fault:
        return log
    channels = {n: -v if n == UPSIDE_DOWN else v for n, v in log.channels.items()}
    return replace(log, channels=channels)


def _drive(duration_s: float) -> Drive:
    hump = Bump(place_m=150.0, length_m=2.0, height_m=0.06)
    return Drive(
        duration_s=duration_s,
        road=Road(gd_n0_m3=150e-6, exponent=2.0, wander_m=0.05, bumps=(hump,)),
        forward=(
            Pulse(start_s=3.0, length_s=8.0, height=3.5),
            Pulse(start_s=20.0, length_s=3.0, height=-2.5),
            Pulse(start_s=34.0, length_s=6.0, height=1.6),
        ),
        sideways=(
            Pulse(start_s=15.0, length_s=4.0, height=1.6),
            Pulse(start_s=40.0, length_s=4.0, height=-2.0),
        ),
        engine=Engine(level_m_per_s2=0.08),
    )


def _side_file(sample: Sample, log: SimulatedLog, digest: str) -> str:
    head = {
        "kind": "simulated",
        "origin": "invented car, simulated drive; no real car was measured",
        "generator": "ridelog.simulate.samples.write_samples",
        "seed": sample.seed,
        "logger_seed": LOGGER_SEED,
        "sample_rate_hz": sample.sample_rate_hz,
        "fault": sample.fault or "none",
        "licence": "MIT, as the program",
        "sha256": digest,
    }
    lines = [f"{key} = {json.dumps(value)}" for key, value in head.items()]
    return "\n".join([*lines, *_tables("truth", log.truth.as_json())]) + "\n"


def _tables(name: str, values: Mapping[str, Any]) -> list[str]:
    """Nested plain data as TOML tables; what is None is left out."""
    plain = {k: _short(v) for k, v in values.items() if v is not None and not isinstance(v, dict)}
    lines = ["", f"[{name}]"] if plain else []
    # JSON's numbers, strings and lists are TOML's as well; keys may hold a sign or a dot.
    lines += [f"{json.dumps(key)} = {json.dumps(value)}" for key, value in plain.items()]
    for key, value in values.items():
        if isinstance(value, dict):
            lines += _tables(f"{name}.{key}", value)
    return lines


def _short(value: Any) -> Any:
    """Nine digits are enough; also in lists."""
    if isinstance(value, float):
        return float(f"{value:.9g}")
    return [_short(v) for v in value] if isinstance(value, list | tuple) else value
