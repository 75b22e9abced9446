"""Print how well stop contacts and unstated gaps are found on rough drives with sharp bumps.

Run ``python -m tests.bench.accuracy_stops [--cars N] [--seed S]``. Every log is analyzed four
times: with the gaps the owner states, with none stated, and without travel sensors, with hubs and
on the body's jolts alone. Gaps are judged where three contacts or more happened.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace

import numpy as np

from ridelog.condition.prepare import prepare
from ridelog.estimate.drive import estimate_log
from ridelog.estimate.stop_contacts import stop_contacts
from ridelog.recording import CORNERS, Step
from tests.bench.fleet_cache import cached_fleet

LEAST_DEPTH_MM = 0.5
FEWEST_CONTACTS = 3
SLACK_S = 0.01


def overlaps(contact, truth):
    start_s, end_s, _ = truth
    return contact.start_s < end_s + SLACK_S and contact.end_s > start_s - SLACK_S


def tally(found, truth):
    """True contacts found, true contacts, found that are true, found; depth errors [mm]."""
    deep_truth = [each for each in truth if each[2] > LEAST_DEPTH_MM]
    deep = [c for c in found if c.depth_mm is None or c.depth_mm > LEAST_DEPTH_MM]
    depths = [
        c.depth_mm - each[2]
        for each in deep_truth
        for c in found
        if overlaps(c, each) and c.depth_mm is not None
    ]
    counts = np.array(
        [
            sum(any(overlaps(c, each) for c in found) for each in deep_truth),
            len(deep_truth),
            sum(any(overlaps(c, each) for each in truth) for c in deep),
            len(deep),
        ]
    )
    return counts, depths


def without_gaps(car):
    blind = {"bump_gap_m": None, "droop_gap_m": None}
    return replace(car, front=replace(car.front, **blind), rear=replace(car.rear, **blind))


def without_sensors(recording, kinds):
    kept = {n: c for n, c in recording.channels.items() if not n.startswith(kinds)}
    return recording.with_channels(kept, Step(name="sensors taken out"))


def jolt_line(logs, kinds):
    """Contacts with the bump stops where there is no travel sensor."""
    counts, probability = np.zeros(4), []
    for log, recording in logs:
        found = stop_contacts(without_sensors(recording, kinds), log.car)
        for corner in CORNERS:
            contacts = found[corner].bump.contacts
            counts += tally(contacts, log.truth.corners[corner].bump_stop)[0]
            probability += [contact.probability for contact in contacts]
    name = "body alone" if "hub" in kinds else "hubs and body"
    return (
        f"| {name} | {int(counts[0])}/{int(counts[1])} | {int(counts[2])}/{int(counts[3])} | "
        f"{100 * np.mean(probability):.0f} |"
    )


def contact_line(logs, *, stated):
    counts, depths, frequencies = np.zeros(4), [], []
    gaps, inside, told_of = [], [], 0
    for log, recording in logs:
        car = log.car if stated else without_gaps(log.car)
        result = estimate_log(recording, car)
        for corner in CORNERS:
            found, truth = result.corners[corner], log.truth.corners[corner]
            axle = log.true_car.front if corner[0] == "f" else log.true_car.rear
            for stop, past, true_m in (
                (found.bump_stop, truth.bump_stop, axle.stops.bump_gap_m),
                (found.top_out, truth.top_out, axle.stops.droop_gap_m),
            ):
                count, deep = tally(stop.contacts if stop else (), past)
                counts += count
                depths += deep
                often = sum(each[2] > LEAST_DEPTH_MM for each in past) >= FEWEST_CONTACTS
                told_of += often
                if often and stop is not None and stop.gap_mm is not None:
                    gaps.append(stop.gap_mm.value - 1000 * true_m)
                    inside.append(stop.gap_mm.low <= 1000 * true_m <= stop.gap_mm.high)
        for axle in ("front", "rear"):
            frequency = result.axles[axle].body_frequency_hz
            if frequency is not None:
                truth_hz = log.truth.axles[axle].body_frequency_hz
                frequencies.append(100 * (frequency.value / truth_hz - 1))
    rms = [float(np.sqrt(np.mean(np.square(each)))) if each else np.nan for each in (depths, gaps)]
    held = 100 * np.mean(inside) if inside else np.nan
    return (
        f"| {'stated' if stated else 'not stated'} | {int(counts[0])}/{int(counts[1])} | "
        f"{int(counts[2])}/{int(counts[3])} | {rms[0]:.1f} | {len(gaps)}/{told_of} | "
        f"{rms[1]:.1f} | {100 * np.mean(np.abs(gaps) < 2.0):.0f} | "
        f"{held:.0f} | {np.sqrt(np.mean(np.square(frequencies))):.2f} |"
    )


def main():
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cars", type=int, default=12)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    fleet = cached_fleet("stops", seed=chosen.seed, count=12)[: chosen.cars]
    logs = [(log, prepare(log.recording(), log.car).recording) for log in fleet]
    say = sys.stdout.write
    say("| gaps | contacts found | found that are true | depth rms mm | gaps told | gap rms mm ")
    say("| within 2 mm % | held by interval % | frequency rms % |\n" + "|" + " --- |" * 9 + "\n")
    for stated in (True, False):
        say(contact_line(logs, stated=stated) + "\n")
        sys.stdout.flush()
    say("\n| without travel | found | found that are true | mean probability % |\n")
    say("|" + " --- |" * 4 + "\n")
    for kinds in (("travel",), ("travel", "hub")):
        say(jolt_line(logs, kinds) + "\n")


if __name__ == "__main__":
    main()
