"""A made-up car and what its made-up owner logged over one weekend.

An estate car, decades old, comes out of a home garage after a long rebuild: new springs and
adjustable dampers from a catalogue, knobs set by guess. Too soft in front, too stiff behind. Three
drives over the same road, knobs turned in between, and one bounce test in the yard.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from ridelog.car.description import Car
from ridelog.errors import FileError
from ridelog.recording import BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.simulate.dampers import DamperCurve, Knob
from ridelog.simulate.drive import Drive, Engine, Pulse, Push
from ridelog.simulate.files import car_toml, setup_toml, truth_json, write_log_csv, write_new
from ridelog.simulate.log import Scene, SimulatedLog, simulate_logs
from ridelog.simulate.road import Bump, Road
from ridelog.simulate.sensors import SensorKit
from ridelog.simulate.true_car import StatedErrors, Stops, TrueAxle, TrueCar, TrueDamper

DURATION_S = 60.0
# Smooth friction and soft stops: twice the fleets' step is close enough here, and twice as quick.
STEP_S = 0.001
FRONT_THREAD_M, REAR_THREAD_M = 0.0015, 0.002
ROAD_SEED, LOGGER_SEED = 20260502, 7
DRIVE_CHANNELS = (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS, "speed")

CAR_REMARK = """\
A made-up car, written by `ridelog demo`. Every number here is invented, and so are the logs
beside it; what is really true of the car lies in the folder `truth`, for checking afterwards."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoRun:
    """One log of the story: file stem, clicks front and rear, and the owner's own words."""

    stem: str
    front_clicks: int
    rear_clicks: int
    date: str
    note: str
    bounce: bool = False


RUNS = (
    DemoRun(
        stem="1-baseline",
        front_clicks=3,
        rear_clicks=15,
        date="2026-05-02",
        note="first drive after the rebuild, knobs where they came, half a tank, alone",
    ),
    DemoRun(
        stem="2-bounce",
        front_clicks=3,
        rear_clicks=15,
        date="2026-05-02",
        note="in the yard, engine off: pushed at the bumpers and let go",
        bounce=True,
    ),
    DemoRun(
        stem="3-second-drive",
        front_clicks=14,
        rear_clicks=2,
        date="2026-05-02",
        note="same road again, front much stiffer, rear as soft as I dared",
    ),
    DemoRun(
        stem="4-third-drive",
        front_clicks=11,
        rear_clicks=6,
        date="2026-05-03",
        note="same road, both knobs somewhere in between",
    ),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoFiles:
    """What was written."""

    folder: Path
    car_path: Path
    log_paths: tuple[Path, ...]
    truth_paths: tuple[Path, ...]


def write_demo(folder: Path, progress: Callable[[float], None] | None = None) -> DemoFiles:
    """Write the made-up car with its logs, setups and hidden truth into a folder.

    Parameters
    ----------
    folder : Path
        A folder that does not exist yet, or an empty one.
    progress : Callable[[float], None], optional
        Told the share done, 0 to 1.

    Raises
    ------
    FileError
        If the folder holds anything already, or cannot be written to.
    """
    _claim(folder)
    logs = demo_logs(progress)
    car_path = folder / "car.toml"
    write_new(car_path, car_toml(_with_threads(logs[0].car), CAR_REMARK))
    log_paths, truth_paths = [], []
    for run, log in zip(RUNS, logs, strict=True):
        path = folder / f"{run.stem}.csv"
        write_log_csv(path, log)
        write_new(folder / f"{run.stem}.setup.toml", setup_toml(log, date=run.date, note=run.note))
        truth_path = folder / "truth" / f"{run.stem}.json"
        write_new(truth_path, truth_json(log))
        log_paths.append(path)
        truth_paths.append(truth_path)
    return DemoFiles(
        folder=folder,
        car_path=car_path,
        log_paths=tuple(log_paths),
        truth_paths=tuple(truth_paths),
    )


def _with_threads(car: Car) -> Car:
    """State what no drive can tell: the threads on which the spring perches turn."""
    return replace(
        car,
        front=replace(car.front, perch_thread_pitch_m=FRONT_THREAD_M),
        rear=replace(car.rear, perch_thread_pitch_m=REAR_THREAD_M),
    )


def _claim(folder: Path) -> None:
    """Make the folder, or make sure that it is an empty one."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise FileError(
                folder, "the folder is not empty; name a new or an empty one (nothing was written)"
            )
        (folder / "truth").mkdir()
    except OSError as error:
        raise FileError(folder, f"could not be used as a folder: {error.strerror}") from None


def demo_logs(progress: Callable[[float], None] | None = None) -> tuple[SimulatedLog, ...]:
    """Simulate the logs of `RUNS` together, in their order."""
    scenes = [
        Scene(
            car=demo_car().with_clicks(front=run.front_clicks, rear=run.rear_clicks),
            drive=demo_bounce(DURATION_S) if run.bounce else _drive(),
            kit=SensorKit(),
            seed=index,
            road_seed=ROAD_SEED,
            logger_seed=LOGGER_SEED,
            channels=BODY_CHANNELS if run.bounce else DRIVE_CHANNELS,
            name=run.stem,
        )
        for index, run in enumerate(RUNS)
    ]
    return simulate_logs(scenes, step_s=STEP_S, progress=progress)


def demo_car() -> TrueCar:
    """Return the made-up car as it truly is."""
    return TrueCar(
        name="the estate",
        wheelbase_m=2.68,
        front=_front(),
        rear=_rear(),
        stated=StatedErrors(spring_rate=(1.035, 0.96)),
        target_body_frequency_hz=(1.25, 1.4),
        target_damping_ratio=(0.35, 0.35),
    )


def _front() -> TrueAxle:
    damper = TrueDamper(
        bump=DamperCurve(family="knee", slope_n_s_per_m=1900, knee_m_per_s=0.13),
        rebound=DamperCurve(
            family="saturating", slope_n_s_per_m=3600, knee_m_per_s=0.15, high_speed_ratio=0.4
        ),
        friction_n=32.0,
        friction_width_m_per_s=0.005,
    )
    return TrueAxle(
        track_m=1.46,
        sprung_mass_kg=640.0,
        unsprung_mass_kg=82.0,
        spring_rate_n_per_m=52e3,
        motion_ratio=0.66,
        tyre_rate_n_per_m=210e3,
        bar_rate_n_per_m=8e3,
        dampers=(damper, damper),
        stops=Stops(bump_gap_m=0.038, droop_gap_m=0.045),
        knob=Knob(clicks=16, soft_ratio=0.6, stiff_ratio=2.2, shape=1.1, bump_share=0.85),
    )


def _rear() -> TrueAxle:
    damper = TrueDamper(
        bump=DamperCurve(family="root", slope_n_s_per_m=1300, knee_m_per_s=0.12),
        rebound=DamperCurve(
            family="knee", slope_n_s_per_m=2300, knee_m_per_s=0.11, high_speed_ratio=0.35
        ),
        friction_n=40.0,
        friction_width_m_per_s=0.006,
    )
    return TrueAxle(
        layout="solid",
        track_m=1.42,
        damper_spacing_m=1.02,
        sprung_mass_kg=500.0,
        unsprung_mass_kg=128.0,
        spring_rate_n_per_m=26e3,
        motion_ratio=0.88,
        tyre_rate_n_per_m=210e3,
        dampers=(damper, damper),
        stops=Stops(bump_gap_m=0.045, droop_gap_m=0.055),
        knob=Knob(clicks=20, soft_ratio=0.7, stiff_ratio=2.6, family="linear", bump_share=0.9),
    )


def _drive() -> Drive:
    """Standing, 55 km/h, slower through the village with its humps, faster again, braking."""
    return Drive(
        duration_s=DURATION_S,
        road=Road(
            gd_n0_m3=90e-6,
            exponent=2.05,
            wander_m=0.05,
            bumps=(
                Bump(place_m=330.0, length_m=2.2, height_m=0.055),
                Bump(place_m=470.0, length_m=1.4, height_m=0.03, right=False),
            ),
        ),
        forward=(
            Pulse(start_s=5.0, length_s=12.0, height=2.55),
            Pulse(start_s=24.0, length_s=3.5, height=-2.6),
            Pulse(start_s=36.0, length_s=6.0, height=2.0),
            Pulse(start_s=53.0, length_s=5.0, height=-2.5),
        ),
        sideways=(
            Pulse(start_s=19.0, length_s=4.0, height=1.8),
            Pulse(start_s=31.0, length_s=3.5, height=-1.5),
            Pulse(start_s=45.0, length_s=4.5, height=2.2),
        ),
        engine=Engine(level_m_per_s2=0.08),
    )


def demo_bounce(duration_s: float) -> Drive:
    """Return the bounce test of the made-up owner, as long as asked for [s]."""
    pushes = (
        (5.0, 650.0, 1.7, 0.15),
        (14.0, 700.0, -1.9, -0.1),
        (23.0, 700.0, 1.65, -0.2),
        (32.0, 650.0, -1.85, 0.1),
        (41.0, 750.0, 1.7, 0.0),
        (50.0, 750.0, -1.9, 0.15),
    )
    return Drive(
        duration_s=duration_s,
        pushes=tuple(
            Push(
                start_s=start,
                force_n=force,
                ahead_m=ahead,
                left_m=left,
                pumps=3,
                period_s=0.72 + 0.01 * (index % 3),
                hold_s=0.2,
                release_s=0.08,
            )
            for index, (start, force, ahead, left) in enumerate(pushes)
            if start < duration_s - 4.0
        ),
    )
