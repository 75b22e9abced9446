"""Accuracy of roll stiffness, its front share, bar rates and roll gradient on simulated cars.

Run as ``python -m tests.bench.accuracy_rolling [cars] [seed]``. Truth comes from the simulated
car's own equations held still; links couple on the tyres with an arm of 0 to 0.3 m.
"""

import sys
from dataclasses import dataclass, replace

import numpy as np

from ridelog.condition.prepare import prepare
from ridelog.recording import AXLES, BODY_CHANNELS, HUB_CHANNELS, TRAVEL_CHANNELS
from ridelog.runs.analyze import results_of
from ridelog.simulate.fleet import fleet_scenes
from ridelog.simulate.log import simulate_logs
from ridelog.simulate.matrices import COORDINATES, car_matrices

CHANNELS = (*TRAVEL_CHANNELS, *BODY_CHANNELS, *HUB_CHANNELS, "speed", "body_lat")
SETS = {
    "travel+body+hub": CHANNELS,
    "travel+body": tuple(name for name in CHANNELS if name not in HUB_CHANNELS),
    "body+hub": tuple(name for name in CHANNELS if name not in TRAVEL_CHANNELS),
    "travel + lateral": (*TRAVEL_CHANNELS, "speed", "body_lat"),
}


@dataclass(frozen=True)
class Row:
    """One number of one car: relative error (share: plain), half-width over value, held."""

    name: str
    error: float
    width: float
    held: bool


def rolling_fleet(*, seed, cars, seconds=75.0):
    """Simulate random cars that corner, with lateral acceleration logged."""
    scenes = []
    for index, scene in enumerate(
        fleet_scenes("nonlinear", seed=seed, count=cars, duration_s=seconds)
    ):
        rng = np.random.default_rng([seed, 7, index])
        arms = (float(rng.uniform(0.0, 0.3)), float(rng.uniform(0.0, 0.3)))
        scenes.append(replace(scene, car=replace(scene.car, link_arm_m=arms), channels=CHANNELS))
    return simulate_logs(scenes)


def true_gradient(car):
    """Steady lean against the road [deg/g] by the simulator's stiffness and cornering load."""
    matrices = car_matrices(car)
    rates = slice(COORDINATES, 2 * COORDINATES)
    stiffness = matrices.state[rates, :COORDINATES]
    lean = np.linalg.solve(stiffness, -matrices.input[rates, 9])[2]
    return float(np.rad2deg(lean) * 9.80665)


def true_stiffness(axle):
    """Roll stiffness of springs and bar on their tyres [N m/deg]."""
    lever = axle.roll_lever_ratio**2 / 2
    soft = axle.track_m**2 * (axle.wheel_rate_n_per_m * lever + axle.bar_rate_n_per_m)
    hard = axle.track_m**2 * axle.tyre_rate_n_per_m / 2
    return float(np.deg2rad(1) * soft * hard / (soft + hard))


def findings(log, channels=CHANNELS):
    """Compare what one log tells of rolling with the truth."""
    reduced = log.with_channels(channels)
    result = results_of(prepare(reduced.recording(), log.car), log.car)
    car, rows = log.true_car, []
    stiffness = [true_stiffness(car.axle(name)) for name in AXLES]
    for name, true in zip(AXLES, stiffness, strict=True):
        axle = result.axles[name]
        rows.append(_row("suspension", axle.roll_stiffness_n_m_per_deg, true))
        bar = axle.bar_rate_n_per_m
        if bar is not None:
            scale = car.axle(name).wheel_rate_n_per_m
            true_bar = car.axle(name).bar_rate_n_per_m
            held = bar.low <= true_bar <= bar.high
            width = (bar.high - bar.low) / 2 / scale
            rows.append(Row("bar / wheel rate", (bar.value - true_bar) / scale, width, held))
    share = result.whole_car.front_roll_stiffness_share
    rows.append(_row("share", share, stiffness[0] / sum(stiffness), relative=False))
    rows.append(_row("gradient", result.whole_car.roll_gradient_deg_per_g, true_gradient(car)))
    return [row for row in rows if row is not None]


def _row(name, estimate, true, *, relative=True):
    if estimate is None:
        return None
    scale = true if relative else 1.0
    half = (estimate.high - estimate.low) / 2
    held = estimate.low <= true <= estimate.high
    return Row(name, (estimate.value - true) / scale, half / scale, held)


def main(cars, seed):
    """Print rms error, bias, middle half-width and coverage by sensors and number."""
    logs = rolling_fleet(seed=seed, cars=cars)
    for sensors, channels in SETS.items():
        rows = [row for log in logs for row in findings(log, channels)]
        for name in dict.fromkeys(row.name for row in rows):
            mine = [row for row in rows if row.name == name]
            errors = 100 * np.array([row.error for row in mine])
            width = 100 * np.median([row.width for row in mine])
            sys.stdout.write(
                f"{sensors:<18}{name:<18}{len(mine):>4}  rms {np.sqrt(np.mean(errors**2)):6.2f} %  "
                f"bias {errors.mean():+6.2f} %  +-{width:5.2f} %  "
                f"held {100 * np.mean([row.held for row in mine]):3.0f} %\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    words = [int(word) for word in sys.argv[1:]]
    main(*(words + [12, 81][len(words) :]))
