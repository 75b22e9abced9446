"""Work out anew the odds by which a jolt of the body is taken for a contact with a bump stop.

Run ``python -m tests.bench.train_contact_odds [--cars N] [--seed S]``. Without arguments it prints
`CONTACT_ODDS` of `ridelog.estimate.jolt_odds` as they stand there. Simulated cars with five kinds
of stops (as drawn, softer, stiffer, with a soft start, and so near that the car lives on them), and
cars on plain roads that hardly reach theirs. Judged on cars that the weights have not seen, with
those kinds and with three that no weight has seen: foam, steel, and near ones of any stiffness.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

import numpy as np
from scipy.optimize import minimize

from ridelog.condition.prepare import prepare
from ridelog.estimate.contact_signature import touch_point
from ridelog.estimate.jolt_odds import contact_odds
from ridelog.estimate.jolts import find_jolts
from ridelog.estimate.stop_contacts import hub_clues
from ridelog.recording import AXLE_OF_CORNER, CORNERS
from ridelog.simulate.fleet import fleet_scenes
from ridelog.simulate.log import STEP_S, simulate_logs

LAWS = ("as drawn", "soft", "stiff", "soft start", "near", "plain road")
UNSEEN_LAWS = ("foam", "steel", "nearer")
SLACK_S = 0.01
RIDGE = 3.0
FRESH_SEEDS_AWAY = 6

ALONE = ("peak", "over_usual", "travel", "swing", "sharpness", "rise")
END = ("other_end", "other_end_squared", "other_end_highest")
SIDE = ("other_side", "other_side_squared", "other_side_before")
CLUES = {
    "alone": ALONE,
    "pair": ALONE + END,
    "all": ALONE + END + SIDE,
    "hubs": (*ALONE, *END, *SIDE, "push", "past", "strike"),
}
SENSORS = {
    "alone": tuple((corner,) for corner in CORNERS),
    "pair": (("fl", "rl"), ("fr", "rr")),
    "all": (CORNERS,),
    "hubs": (CORNERS,),
}


def stops_by(law, stops, rng):
    """Stops of another kind [N/m, N/m3, m]."""
    rates = {
        "soft": ((6e3, 15e3), (15e6, 80e6)),
        "stiff": ((120e3, 300e3), (300e6, 900e6)),
        "soft start": ((1e3, 5e3), (100e6, 600e6)),
        "foam": ((2e3, 8e3), (3e6, 15e6)),
        "steel": ((400e3, 800e3), (0.0, 0.0)),
        "nearer": ((10e3, 100e3), (5e6, 100e6)),
    }
    gaps = {"near": ((0.010, 0.022), (1.5, 3.0)), "nearer": ((0.018, 0.032), (1.0, 2.0))}
    changed = stops
    if law in rates:
        rate, cubic = (rng.uniform(*each) for each in rates[law])
        changed = replace(changed, bump_rate_n_per_m=rate, bump_cubic_n_per_m3=cubic)
    if law in gaps:
        gap, droop = (rng.uniform(*each) for each in gaps[law])
        changed = replace(changed, bump_gap_m=gap, droop_gap_m=gap * droop)
    return changed


def fleet(law, seed, count):
    scenes = []
    situation = "nonlinear" if law == "plain road" else "stops"
    for index, scene in enumerate(fleet_scenes(situation, seed=seed, count=count)):
        rng = np.random.default_rng([seed, index, (LAWS + UNSEEN_LAWS).index(law)])
        axles = {
            name: replace(axle, stops=stops_by(law, axle.stops, rng))
            for name, axle in (("front", scene.car.front), ("rear", scene.car.rear))
        }
        scenes.append(replace(scene, car=replace(scene.car, **axles)))
    return simulate_logs(tuple(scenes), step_s=STEP_S)


def jolts_of(recording, car, odds):
    """Jolts by corner, as a log with these sensors gives them; several where sensors are few."""
    for corners in SENSORS[odds]:
        found = find_jolts(
            {corner: recording.channels[f"body_{corner}"] for corner in corners},
            {corner: touch_point(car.axle(AXLE_OF_CORNER[corner])) for corner in corners},
            recording.sample_rate_hz,
            hubs=hub_clues(recording, car) if odds == "hubs" else None,
            valid=np.asarray(recording.valid),
        )
        yield from found.items()


def is_contact(jolts, contacts):
    """Whether each jolt is a contact, shape (k,)."""
    spans = np.array([each[:2] for each in contacts]).reshape(-1, 2)
    return np.any(
        (jolts.start_s[:, None] < spans[:, 1] + SLACK_S)
        & (jolts.end_s[:, None] > spans[:, 0] - SLACK_S),
        axis=1,
    )


def table(logs, odds):
    """Jolts and whether they are contacts, a pair for each corner and log."""
    pairs = []
    for recording, car, truth in logs:
        for corner, jolts in jolts_of(recording, car, odds):
            if len(jolts.start_s):
                pairs.append((jolts, is_contact(jolts, truth[corner])))
    return pairs


def made_ready(logs):
    """Recording, car and bump stop contacts by corner."""
    return [
        (
            prepare(log.recording(), log.car).recording,
            log.car,
            {corner: log.truth.corners[corner].bump_stop for corner in CORNERS},
        )
        for log in logs
    ]


def logistic(columns, true, weight):
    """Constant and weights of a ridge logistic regression."""
    middle, spread = columns.mean(axis=0), columns.std(axis=0)
    scaled = np.column_stack([np.ones(len(columns)), (columns - middle) / spread])

    def loss(strength):
        odds = scaled @ strength
        miss = 1 / (1 + np.exp(-odds)) - true
        slope = scaled.T @ (weight * miss) + np.r_[0.0, RIDGE * strength[1:]]
        value = np.sum(weight * (np.logaddexp(0, odds) - true * odds))
        return value + RIDGE / 2 * strength[1:] @ strength[1:], slope

    found = minimize(loss, np.zeros(scaled.shape[1]), jac=True, method="BFGS").x
    plain = found[1:] / spread
    return np.r_[found[0] - plain @ middle, plain]


def learn(tables, odds):
    """Weights by clue from one table for each kind of car."""
    columns, true, weight = [], [], []
    for pairs in tables:
        columns += [np.column_stack([j.clues[clue] for clue in CLUES[odds]]) for j, _ in pairs]
        true += [contact for _, contact in pairs]
        # A kind with many peaks is not to outweigh the others.
        count = sum(len(contact) for _, contact in pairs)
        weight.append(np.full(count, count**-0.5))
    weights = np.concatenate(weight)
    strength = logistic(
        np.concatenate(columns), np.concatenate(true).astype(float), weights / weights.mean()
    )
    return dict(zip(("constant", *CLUES[odds]), np.round(strength, 3).tolist(), strict=True))


def judge(pairs, weights, least=0.4):
    """Share of jolts by contacts told, share of those told true, their mean probability."""
    odds = np.concatenate([contact_odds(jolts, weights) for jolts, _ in pairs])
    true = np.concatenate([contact for _, contact in pairs])
    probability = 1 / (1 + np.exp(-odds))
    told = probability >= least
    parts = told[true], true[told], probability[told]
    return [float(part.mean()) if len(part) else np.nan for part in parts]


def main():
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=24)
    parser.add_argument("--seed", type=int, default=600)
    chosen = parser.parse_args()
    say = sys.stdout.write
    learnt = [made_ready(fleet(law, chosen.seed + n, chosen.cars)) for n, law in enumerate(LAWS)]
    weights = {odds: learn([table(logs, odds) for logs in learnt], odds) for odds in CLUES}
    for odds, clues in weights.items():
        lines = "".join(f'        "{clue}": {weight},\n' for clue, weight in clues.items())
        say(f'    "{odds}": {{\n{lines}    }},\n')
    say("\n| stops | sensors | contacts told % | told that are true % | mean probability % |\n")
    say("|" + " --- |" * 5 + "\n")
    for n, law in enumerate(LAWS + UNSEEN_LAWS):
        logs = made_ready(fleet(law, chosen.seed + FRESH_SEEDS_AWAY + n, chosen.cars // 2))
        for odds in CLUES:
            shares = " | ".join(f"{100 * each:.0f}" for each in judge(table(logs, odds), weights))
            say(f"| {law} | {odds} | {shares} |\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
