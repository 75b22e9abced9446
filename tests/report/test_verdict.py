"""Plain verdicts: decided by the interval, worded once."""

import dataclasses

import pytest

from ridelog.estimate.result import Contact, CornerResult, Estimate, StopContacts
from ridelog.report.verdict import against_target, headlines
from tests.report import examples


@pytest.mark.parametrize(
    ("value", "low", "high", "target", "words"),
    [
        (0.40, 0.38, 0.42, 0.35, "14 % above"),
        (0.30, 0.28, 0.32, 0.35, "14 % below"),
        (0.36, 0.34, 0.38, 0.35, "on target"),
        (0.40, 0.35, 0.45, 0.35, "on target"),  # the target on the edge is not ruled out
        (0.40, 0.20, 0.60, 0.35, "too uncertain"),
        (0.40, 0.38, 0.42, None, ""),
    ],
)
def test_against_target(value, low, high, target, words):
    assert against_target(Estimate(value=value, low=low, high=high), target).words == words


def test_headlines_of_a_full_log():
    said = [line.sentence for line in headlines(examples.full_result(), examples.car())]
    assert said == [
        "Front: 17 % more damping than you want. Damping ratio 0.408 (0.396 to 0.420), "
        "target 0.35; body frequency 1.312 Hz (1.306 to 1.318), target 1.3 Hz.",
        "Rear: 23 % less damping than you want. Damping ratio 0.271 (0.262 to 0.280), "
        "target 0.35; body frequency 1.498 Hz (1.490 to 1.506), target 1.42 Hz.",
        "Bump stop hit: left front. Left front 3 times, deepest 6.0 mm.",
    ]


def test_headline_of_one_accelerometer():
    (line,) = headlines(examples.body_only_result(), examples.car())
    assert line.sentence == (
        "The car as a whole bounces. 1.37 Hz (1.32 to 1.42), damping ratio 0.29 (0.25 to 0.33)."
    )


def test_headline_of_nothing():
    (line,) = headlines(examples.empty_result(), examples.car())
    assert line.sentence == "This log cannot tell frequency or damping; the notes say why."


def test_one_axle_unknown_is_said_beside_the_other():
    full = examples.full_result()
    rear = dataclasses.replace(full.axles["rear"], damping_ratio=None, body_frequency_hz=None)
    result = dataclasses.replace(full, axles={**full.axles, "rear": rear})
    assert headlines(result, examples.car())[1].sentence == (
        "Rear: this log cannot tell the damping."
    )


def test_a_contact_told_by_its_jolt_is_not_called_sure():
    full = examples.full_result()
    contact = Contact(start_s=3.0, end_s=3.1, depth_mm=None, probability=0.8)
    corner = CornerResult(bump_stop=StopContacts(contacts=(contact,)))
    result = dataclasses.replace(full, corners={"rl": corner})
    assert headlines(result, examples.car())[2].sentence == (
        "Bump stop seems hit: left rear. Left rear once, told by the jolt."
    )


def test_a_weak_damper_is_said():
    result = dataclasses.replace(examples.full_result(), weak_corner={"rear": "rr"})
    assert headlines(result, examples.car())[2].sentence == (
        "The right rear damper gives clearly less than its partner."
    )
