"""From cars and drives to logs with known truth."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridelog.car.description import Car
from ridelog.recording import FloatArray, RawRecording, Source
from ridelog.simulate.drive import Drive, DriveSignals, drive_signals
from ridelog.simulate.march import Motion, march
from ridelog.simulate.sensors import SensorKit, TrueSignals, read_sensors
from ridelog.simulate.stepping import make_batch
from ridelog.simulate.true_car import TrueCar, stated_car
from ridelog.simulate.truth import Truth, truth_of

# Half a millisecond keeps friction reversals and stop contacts within 0.1 % (see the tests).
STEP_S = 0.0005


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """One car, one drive, one logger; `seed` draws whatever has no seed of its own.

    The same `road_seed` is the same stretch of road, the same `logger_seed` the same sensors, with
    the same gains, offsets and delays. `channels` are the ones kept in the log, in order; empty
    means all. `name` is the log's, where it is not the car's.
    """

    car: TrueCar
    drive: Drive
    kit: SensorKit
    seed: int
    channels: tuple[str, ...] = ()
    road_seed: int | None = None
    logger_seed: int | None = None
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedLog:
    """A log and everything that is true about it.

    `channels` are SI, vertical accelerations with gravity, missing cells NaN; `car` is what the
    owner states; `clicks` count from full soft.
    """

    name: str
    time_s: FloatArray
    channels: dict[str, FloatArray]
    truth: Truth
    car: Car
    scene: Scene
    clicks: dict[str, int]

    @property
    def true_car(self) -> TrueCar:
        """The car as it truly is."""
        return self.scene.car

    @property
    def columns(self) -> dict[str, FloatArray]:
        """The log as the contract's canonical columns, in their units."""
        return {
            "time_s": self.time_s,
            **{column_name(n): values * _scale(n) for n, values in self.channels.items()},
        }

    def recording(self) -> RawRecording:
        """Return the log as the readers would, without going through a file."""
        return RawRecording(
            time_s=self.time_s,
            channels=self.channels,
            source=Source(file=f"{self.name}.csv", layout="canonical", rows_read=len(self.time_s)),
            columns={name: column_name(name) for name in self.channels},
            units={name: column_name(name).rsplit("_", 1)[1] for name in self.channels},
        )

    def with_channels(self, names: Sequence[str]) -> SimulatedLog:
        """Return the log with fewer channels, in the order given."""
        return replace(self, channels={name: self.channels[name] for name in names})


def next_scene(
    scene: Scene, *, seed: int, front: int | None = None, rear: int | None = None
) -> Scene:
    """Return the same car with the same sensors on the same road, knobs turned, driven again.

    Parameters
    ----------
    scene : Scene
        The run before.
    seed : int
        Draws the new run's noise.
    front, rear : int, optional
        Clicks from full soft; as before where left out.
    """
    return replace(
        scene,
        car=scene.car.with_clicks(front=front, rear=rear),
        seed=seed,
        road_seed=scene.seed if scene.road_seed is None else scene.road_seed,
        logger_seed=scene.seed if scene.logger_seed is None else scene.logger_seed,
    )


def column_name(channel: str) -> str:
    """Return the canonical column of a channel."""
    if channel.startswith("travel_"):
        return f"{channel}_mm"
    return "speed_mps" if channel == "speed" else f"{channel}_mps2"


def _scale(channel: str) -> float:
    return 1000.0 if channel.startswith("travel_") else 1.0


def simulate_logs(
    scenes: Sequence[Scene],
    *,
    step_s: float = STEP_S,
    progress: Callable[[float], None] | None = None,
) -> tuple[SimulatedLog, ...]:
    """Simulate many logs together; all drives must last equally long.

    Parameters
    ----------
    scenes : Sequence[Scene]
        What to simulate.
    step_s : float
        Time step [s].
    progress : Callable[[float], None], optional
        Told the share done, 0 to 1.

    Raises
    ------
    ValueError
        If the drives differ in length.
    """
    if len({scene.drive.duration_s for scene in scenes}) != 1:
        raise ValueError("drives simulated together must last equally long")
    drives = [
        drive_signals(scene.car, scene.drive, step_s=step_s, rng=_rng(scene, scene.road_seed, 0))
        for scene in scenes
    ]
    batch = make_batch([scene.car for scene in scenes], step_s)
    motion = march(batch, np.stack([d.inputs for d in drives]), progress=progress)
    return tuple(_log(scene, index, drives[index], motion) for index, scene in enumerate(scenes))


def _rng(scene: Scene, own_seed: int | None, purpose: int) -> np.random.Generator:
    return np.random.default_rng([scene.seed if own_seed is None else own_seed, purpose])


def _log(scene: Scene, index: int, drive: DriveSignals, motion: Motion) -> SimulatedLog:
    signals = TrueSignals(
        step_s=motion.step_s,
        travel=motion.damper_travel[index],
        body=motion.body_acceleration[index],
        hub=motion.hub_acceleration[index],
        forward=drive.forward_m_per_s2,
        sideways=drive.sideways_m_per_s2,
        lean=motion.lean[index],
        speed=drive.speed_m_per_s,
    )
    makers, noise = _rng(scene, scene.logger_seed, 1), _rng(scene, None, 2)
    readings = read_sensors(signals, scene.kit, noise, makers)
    names = scene.channels or tuple(readings.channels)
    return SimulatedLog(
        name=scene.name or scene.car.name.replace(" ", "_"),
        time_s=readings.time_s,
        channels={name: readings.channels[name] for name in names},
        truth=truth_of(
            scene.car,
            road=scene.drive.road,
            time_s=motion.time_s * readings.clock_rate,
            damper_travel_m=signals.travel,
        ),
        car=stated_car(scene.car),
        scene=scene,
        clicks=scene.car.clicks(),
    )
