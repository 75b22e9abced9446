"""One fault in a log with all sensors: the right code, the right channel, and nothing else."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.condition.usable import usable_channels
from ridelog.recording import PROBLEM_CODES, TRAVEL_CHANNELS, Problem
from tests.bench.fleet_cache import cached_fleet
from tests.broken_logs.faults import WAYS, break_log

CARS = 3
MENDED = {"sign", "swapped", "late", "spikes", "gap", "clock", "zero"}  # the contract's list


@pytest.fixture(scope="module")
def fleet():
    return (
        *cached_fleet("nonlinear", seed=131, count=2, duration_s=30.0),
        *cached_fleet("unkind", seed=133, count=1, duration_s=30.0),
    )


def named(problem: Problem) -> tuple[str, ...]:
    return problem.channels or ((problem.channel,) if problem.channel else ())


@pytest.mark.parametrize("car", range(CARS))
def test_a_sound_log_raises_no_alarm(fleet, car):
    prepared = prepare(fleet[car].recording(), fleet[car].car)
    assert [problem.text for problem in prepared.problems] == []


@pytest.mark.parametrize("car", range(CARS))
@pytest.mark.parametrize("way", sorted(WAYS))
def test_one_fault_is_named_and_nothing_else(fleet, way, car):
    log = fleet[car]
    rng = np.random.default_rng([car, *way.encode()])
    broken = break_log(log.recording(), way, rng)
    prepared = prepare(broken.raw, log.car)
    found = [(problem.code, named(problem)) for problem in prepared.problems]
    assert found == [(broken.code, broken.channels)]
    assert prepared.problems[0].mended == (broken.code in MENDED)


def test_every_code_of_the_contract_is_tried():
    fired = {way.split("_")[0].replace("dead", "flat") for way in WAYS}
    assert fired == set(PROBLEM_CODES)


@pytest.mark.parametrize("way", ["sign", "swapped", "late", "spikes", "zero"])
def test_what_is_mended_comes_close_to_the_sound_log(fleet, way):
    log = fleet[0]
    sound = prepare(log.recording(), log.car).recording
    rng = np.random.default_rng([9, *way.encode()])
    broken = break_log(log.recording(), way, rng)
    spoilt = prepare(broken.raw, log.car).recording
    for name in broken.channels:
        # the delay is known to some ms, a spike is bridged by a straight line
        error = np.std(spoilt.channels[name] - sound.channels[name])
        assert error < 0.25 * np.std(sound.channels[name])
        raw = broken.raw.channels[name] - np.mean(broken.raw.channels[name])
        before = np.hypot(
            np.std(raw - sound.channels[name]),
            np.mean(broken.raw.channels[name] - log.recording().channels[name]),
        )
        assert error < 0.7 * before


def test_a_gain_that_is_off_makes_its_channel_unusable(fleet):
    log = fleet[0]
    raw = log.recording()
    channels = {**raw.channels, "travel_rl": 1.25 * raw.channels["travel_rl"]}
    prepared = prepare(type(raw)(time_s=raw.time_s, channels=channels, source=raw.source), log.car)
    usable = usable_channels(prepared.recording, prepared.problems)
    assert set(prepared.recording.channels) - usable == {"travel_rl"}


def test_travel_counted_positive_in_droop_is_told_for_all_four(fleet):
    log = fleet[0]
    raw = log.recording()
    travel = {name: -raw.channels[name] for name in TRAVEL_CHANNELS}
    broken = type(raw)(time_s=raw.time_s, channels={**raw.channels, **travel}, source=raw.source)
    found = [(problem.code, named(problem)) for problem in prepare(broken, log.car).problems]
    assert found == [("sign", TRAVEL_CHANNELS)]


@pytest.mark.parametrize("samples", [5, 20])
def test_travel_from_a_slower_card_is_told_for_all_four_and_shifted(fleet, samples):
    log = fleet[1]
    raw = log.recording()
    travel = {
        name: np.r_[np.full(samples, raw.channels[name][0]), raw.channels[name][:-samples]]
        for name in TRAVEL_CHANNELS
    }
    broken = type(raw)(time_s=raw.time_s, channels={**raw.channels, **travel}, source=raw.source)
    prepared = prepare(broken, log.car)
    found = [(problem.code, named(problem)) for problem in prepared.problems]
    assert found == [("late", TRAVEL_CHANNELS)]
    sound = prepare(raw, log.car).recording.channels["travel_fl"]
    left = prepared.recording.channels["travel_fl"] - sound
    assert np.std(left) < 0.5 * np.std(travel["travel_fl"] - raw.channels["travel_fl"])


def test_two_faults_are_both_named(fleet):
    log = fleet[0]
    raw = log.recording()
    channels = {
        **raw.channels,
        "travel_fl": -raw.channels["travel_fl"],
        "hub_rr": raw.channels["hub_rl"],
        "hub_rl": raw.channels["hub_rr"],
    }
    prepared = prepare(type(raw)(time_s=raw.time_s, channels=channels, source=raw.source), log.car)
    found = {(problem.code, named(problem)) for problem in prepared.problems}
    assert found == {("sign", ("travel_fl",)), ("swapped", ("hub_rl", "hub_rr"))}
