"""Work out anew the odds by which a jolt of the body is taken for a contact with a bump stop.

Run ``python -m tests.bench.train_contact_odds [--cars N] [--seed S]``; the weights printed belong
into `SignatureSettings`. Simulated cars with five kinds of stops: as drawn, softer, stiffer, with a
soft start, and so near that the car lives on them. Seeds from 200 on; the last column judges cars
that the weights have not seen.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from ridelog.condition.prepare import prepare
from ridelog.estimate.contact_signature import find_jolts, touch_acceleration
from ridelog.estimate.stop_contacts import hub_clues
from ridelog.recording import AXLE_OF_CORNER, CORNERS
from ridelog.simulate.fleet import fleet_scenes
from ridelog.simulate.log import STEP_S, simulate_logs

LAWS = ("as drawn", "soft", "stiff", "soft start", "near")
SLACK_S = 0.01
RIDGE = 3.0


def stops_by(law, stops, rng):
    """Stops of another kind [N/m, N/m3, m]."""
    if law == "soft":
        rate, cubic = rng.uniform(6e3, 15e3), rng.uniform(15e6, 80e6)
    elif law == "stiff":
        rate, cubic = rng.uniform(120e3, 300e3), rng.uniform(300e6, 900e6)
    elif law == "soft start":
        rate, cubic = rng.uniform(1e3, 5e3), rng.uniform(100e6, 600e6)
    else:
        rate, cubic = stops.bump_rate_n_per_m, stops.bump_cubic_n_per_m3
    changed = replace(stops, bump_rate_n_per_m=rate, bump_cubic_n_per_m3=cubic)
    if law == "near":
        gap = rng.uniform(0.010, 0.022)
        changed = replace(changed, bump_gap_m=gap, droop_gap_m=gap * rng.uniform(1.5, 3.0))
    return changed


def fleet(law, seed, count):
    scenes = []
    for index, scene in enumerate(fleet_scenes("stops", seed=seed, count=count)):
        rng = np.random.default_rng([seed, index, LAWS.index(law)])
        axles = {
            name: replace(axle, stops=stops_by(law, axle.stops, rng))
            for name, axle in (("front", scene.car.front), ("rear", scene.car.rear))
        }
        scenes.append(replace(scene, car=replace(scene.car, **axles)))
    return simulate_logs(tuple(scenes), step_s=STEP_S)


def table(logs):
    """Clues of the body, clues with hubs, whether a contact; shapes (n, 5), (n, 5), (n,)."""
    body, hub, true = [], [], []
    for log in logs:
        recording = prepare(log.recording(), log.car).recording
        jolts = find_jolts(
            {corner: recording.channels[f"body_{corner}"] for corner in CORNERS},
            {c: touch_acceleration(log.car.axle(AXLE_OF_CORNER[c])) for c in CORNERS},
            recording.sample_rate_hz,
            hubs=hub_clues(recording, log.car),
            valid=np.asarray(recording.valid),
        )
        for corner in CORNERS:
            contacts = log.truth.corners[corner].bump_stop
            for jolt in jolts[corner]:
                body.append(jolt.body_clues)
                hub.append(jolt.hub_clues)
                true.append(
                    any(
                        jolt.start_s < end + SLACK_S and jolt.end_s > start - SLACK_S
                        for start, end, _ in contacts
                    )
                )
    return np.array(body), np.array(hub), np.array(true, dtype=float)


def logistic(clues, true, weight):
    """Constant and weights of a ridge logistic regression."""
    middle, spread = clues.mean(axis=0), clues.std(axis=0)
    columns = np.column_stack([np.ones(len(clues)), (clues - middle) / spread])

    def loss(strength):
        odds = columns @ strength
        miss = 1 / (1 + np.exp(-odds)) - true
        slope = columns.T @ (weight * miss) + np.r_[0.0, RIDGE * strength[1:]]
        value = np.sum(weight * (np.logaddexp(0, odds) - true * odds))
        return value + RIDGE / 2 * strength[1:] @ strength[1:], slope

    found = minimize(loss, np.zeros(columns.shape[1]), jac=True, method="BFGS").x
    scaled = found[1:] / spread
    return np.r_[found[0] - scaled @ middle, scaled]


def main():
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=12)
    parser.add_argument("--seed", type=int, default=200)
    chosen = parser.parse_args()
    say = sys.stdout.write
    learnt = [table(fleet(law, chosen.seed + n, chosen.cars)) for n, law in enumerate(LAWS)]
    fresh = [
        table(fleet(law, chosen.seed + 20 + n, chosen.cars // 2)) for n, law in enumerate(LAWS)
    ]
    true = np.concatenate([each[2] for each in learnt])
    # A kind with many peaks is not to outweigh the others.
    weight = np.concatenate([np.full(len(each[2]), len(each[2]) ** -0.5) for each in learnt])
    weight /= weight.mean()
    for place, name in enumerate(("body_weights", "hub_weights")):
        strength = logistic(np.concatenate([each[place] for each in learnt]), true, weight)
        say(f"{name}: {tuple(np.round(strength, 2).tolist())}\n")
        for law, each in zip(LAWS, fresh, strict=True):
            odds = strength[0] + each[place] @ strength[1:]
            told = odds > 0
            say(
                f"  {law}: {100 * told[each[2] > 0].mean():.0f} % of jolts by contacts told, "
                f"{100 * each[2][told].mean():.0f} % of those told true\n"
            )


if __name__ == "__main__":
    main()
