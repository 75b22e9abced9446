"""The simulated car against published quarter cars, and against exact properties of one."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.simulate.march import march
from ridelog.simulate.matrices import STATES, car_matrices
from ridelog.simulate.stepping import READINGS, make_batch

# Heave of the body and of all four wheels together, and their rates, within the state.
HEAVE = [[0], [8], [4, 5, 6, 7], [12, 13, 14, 15]]

# Golden car of the International Roughness Index, per kg of sprung mass. Source: Sayers, Gillespie
# & Queiroz, World Bank Technical Papers 45 and 46 (1986); constants as printed in the public code
# of Sroubek, Sorel & Zak, Int. J. Pavement Res. Technol. (2021), doi 10.1007/s42947-021-00097-z.
GOLDEN = {"sprung_kg": 300.0, "unsprung_kg": 45.0, "spring": 18990.0, "tyre": 195900.0}
GOLDEN_DAMPING = 1800.0
GOLDEN_POLES = (-2.590074 + 7.323397j, -20.409926 + 64.422626j)
SPEED_M_PER_S = 80 / 3.6

# World Bank Technical Papers 45/46: ST and PR for one step of dx at 80 km/h, as printed.
TRANSITIONS = {
    0.05: (
        [
            [0.9998452, 2.235208e-3, 1.062545e-4, 1.476399e-5],
            [-0.1352583, 0.9870245, 7.098568e-2, 1.292695e-2],
            [1.030173e-3, 9.842664e-5, 0.9882941, 2.143501e-3],
            [0.8983268, 8.617964e-2, -10.2297, 0.9031446],
        ],
        [4.858894e-5, 6.427258e-2, 1.067582e-2, 9.331372],
    ),
    0.25: (
        [
            [0.9966071, 1.091514e-2, -2.083274e-3, 3.190145e-4],
            [-0.5563044, 0.9438768, -0.8324718, 5.064701e-2],
            [2.153176e-2, 2.126763e-3, 0.7508714, 8.221888e-3],
            [3.335013, 0.3376467, -39.12762, 0.4347564],
        ],
        [5.476107e-3, 1.388776, 0.2275968, 35.79262],
    ),
}


@pytest.mark.parametrize("pole", GOLDEN_POLES, ids=["body", "wheel hop"])
def test_golden_car_has_the_published_poles(make_quarter_car, pole):
    car = make_quarter_car(**GOLDEN, damping=GOLDEN_DAMPING)
    poles = np.linalg.eigvals(car_matrices(car).state)
    assert np.min(np.abs(poles - pole)) < 2e-6 * abs(pole)


@pytest.mark.parametrize("dx_m", TRANSITIONS)
def test_one_step_of_the_golden_car_is_the_published_matrix(make_quarter_car, dx_m):
    published, response = TRANSITIONS[dx_m]
    car = make_quarter_car(**GOLDEN, damping=GOLDEN_DAMPING)
    batch = make_batch([car], dx_m / SPEED_M_PER_S)
    start = np.zeros((STATES, 4))
    for column, places in enumerate(HEAVE):
        start[places, column] = 1.0
    step = batch.step.march[0, READINGS:, :STATES] @ start
    road = (batch.step.before + batch.step.after)[0, READINGS:, :4].sum(axis=1)
    first = [places[0] for places in HEAVE]
    np.testing.assert_allclose(step[first], published, rtol=2e-6, atol=1e-9)
    # The print's first entry carries the rounding of a single-precision run (up to 7e-4).
    assert road[first][0] == pytest.approx(response[0], rel=1e-3)
    np.testing.assert_allclose(road[first][1:], response[1:], rtol=1e-5)


def test_barton_fieldhouse_rear_corner(make_quarter_car):
    # Barton & Fieldhouse, Automotive Chassis Engineering, p. 209: 317.5 and 45.4 kg, 22 and
    # 192 kN/m; printed 7.87 and 68.73 rad/s, wheel/body amplitude 0.104 in the first mode.
    car = make_quarter_car(sprung_kg=317.5, unsprung_kg=45.4, spring=22e3, tyre=192e3)
    values, vectors = np.linalg.eig(car_matrices(car).state)
    body = np.argmin(np.abs(values - 7.87j))
    assert abs(values[body]) == pytest.approx(7.87, rel=2e-3)
    assert np.min(np.abs(values - 68.73j)) < 2e-3 * 68.73
    assert (vectors[4, body] / vectors[0, body]).real == pytest.approx(0.104, abs=6e-4)


def test_barton_fieldhouse_front_wheel_hop(make_quarter_car):
    # Same book, p. 213: 40 kg between 20.63 and 300 kN/m hops at 14.25 Hz (the body held still).
    car = make_quarter_car(sprung_kg=1e6, unsprung_kg=40, spring=20630, tyre=300e3)
    frequencies = np.abs(np.linalg.eigvals(car_matrices(car).state).imag) / (2 * np.pi)
    assert np.min(np.abs(frequencies - 14.25)) < 0.005


def test_invariant_points_do_not_depend_on_spring_or_damper(make_quarter_car):
    # At sqrt(kt/mu) body/road = mu/ms; at sqrt(kt/(ms+mu)) travel/road = 1 + mu/ms (Hedrick &
    # Butsuen, Proc. IMechE D 204 (1990), from memory; follows from momentum alone).
    ms, mu, kt = 300.0, 60.0, 190e3
    cars = [
        make_quarter_car(sprung_kg=ms, unsprung_kg=mu, spring=spring, tyre=kt, damping=damping)
        for spring, damping in ((16e3, 1500.0), (30e3, 2500.0), (9e3, 3000.0))
    ]
    step_s, road_m = 0.001, 0.001
    time = np.arange(5000) * step_s
    settled = time > 3.5
    for frequency, read, expected in (
        (np.sqrt(kt / mu), "body", mu / ms),
        (np.sqrt(kt / (ms + mu)), "travel", 1 + mu / ms),
    ):
        inputs = np.zeros((3, len(time), 10))
        inputs[..., :4] = road_m * np.sin(frequency * time)[:, None]
        motion = march(make_batch(cars, step_s), inputs)
        signals = (
            motion.body_acceleration[..., 0] / frequency**2
            if read == "body"
            else motion.damper_travel[..., 0] / 0.8
        )
        waves = np.stack([np.sin(frequency * time), np.cos(frequency * time)], axis=1)[settled]
        amplitudes = np.linalg.norm(np.linalg.lstsq(waves, signals[:, settled].T)[0], axis=0)
        np.testing.assert_allclose(amplitudes / road_m, expected, rtol=1e-3)


def test_decay_with_viscous_and_dry_friction_follows_the_published_recursion(make_quarter_car):
    # X(i+1) = X(i) e^(-pi b) - (F/k)(1 + e^(-pi b)): Feeny & Liang, J. Sound Vib. 195 (1996)
    # 149-154. For 300 kg, 20 kN/m, 1000 N s/m, 100 N from 100 mm: 44.3437, 15.4354, 0.4202 mm.
    car = make_quarter_car(
        sprung_kg=300,
        unsprung_kg=50,
        spring=20e3,
        tyre=1e9,
        damping=1000,
        friction_n=100,
        width=0.0005,
    )
    step_s = 1e-4
    start = np.zeros((1, STATES))
    start[0, 0] = -0.1
    motion = march(make_batch([car], step_s), np.zeros((1, 12000, 10)), initial_state=start)
    travel = motion.damper_travel[0, :, 0] / 0.8 * 1000
    turns = np.flatnonzero(np.diff(np.sign(motion.damper_speed[0, :, 0]))) + 1
    peaks = np.abs(travel[turns[turns > 1000]])[:2]
    np.testing.assert_allclose(peaks, [44.3437, 15.4354], atol=0.05)
    assert abs(travel[-1]) == pytest.approx(0.4202, abs=0.1)
