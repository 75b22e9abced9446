"""Two runs side by side."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from ridelog.estimate.result import Estimate, RoadResult
from ridelog.recording import CORNERS, Recording, Source
from ridelog.runs.compare import compare_runs
from ridelog.runs.compare_contacts import chance_of_split
from ridelog.runs.same_stretch import comfort_blocks
from ridelog.runs.setup import RunSetup
from ridelog.runs.setup_change import setup_changes
from tests.advise import builders

RATE = 100.0


def told(value: float, own: float = 0.02) -> Estimate:
    """An estimate good to 2 % by itself and 5 % in all."""
    return Estimate(value=value, low=0.95 * value, high=1.05 * value, random_half_width=own * value)


def drive(
    road_seed: int,
    *,
    start_m: float = 0.0,
    damping: float = 0.3,
    speed: float = 15.0,
    with_speed: bool = True,
    length_s: float = 150.0,
    noise_seed: int = 0,
) -> Recording:
    """One mass on its spring and damper over a made-up road, by its transfer function.

    The road is rough in patches, as roads are; the car is 1.3 Hz with the given damping ratio.
    """
    rng = np.random.default_rng(road_seed)
    spacing = 0.05
    count = int(8000 / spacing)
    patches = np.interp(
        np.arange(count) * spacing, np.arange(0, 8001, 20.0), rng.normal(0, 0.6, 401)
    )
    slope = rng.standard_normal(count) * np.exp(patches) * 0.01
    road = np.cumsum(slope * spacing)
    road -= np.linspace(road[0], road[-1], count)
    noise = np.random.default_rng(1000 + noise_seed)
    ends = int(5 * RATE)  # cut off again: the transform takes the road for periodic
    steps = int(length_s * RATE) + 2 * ends
    pace = speed * (1 + 0.03 * np.sin(np.arange(steps) / RATE / 7 + noise_seed))
    place = 100.0 + start_m + np.cumsum(pace) / RATE
    height = np.interp(place, np.arange(count) * spacing, road)
    frequency = np.fft.rfftfreq(steps, 1 / RATE)
    s, w = 2j * np.pi * frequency, 2 * np.pi * 1.3
    body = s**2 * (2 * damping * w * s + w**2) / (s**2 + 2 * damping * w * s + w**2)
    height -= np.linspace(height[0], height[-1], steps)
    acceleration = np.fft.irfft(body * np.fft.rfft(height), steps)[ends:-ends]
    acceleration += noise.normal(0, 0.02, len(acceleration))
    channels = {"cabin": acceleration}
    if with_speed:
        channels["speed"] = pace[ends:-ends]
    return Recording(
        sample_rate_hz=RATE,
        channels=channels,
        valid=np.ones(len(acceleration), dtype=bool),
        source=Source(file="made up", layout="test"),
    )


def test_same_stretch_is_found_and_paired() -> None:
    blocks = comfort_blocks(drive(1), drive(1, start_m=130.0, noise_seed=1))
    assert blocks is not None
    assert blocks.paired
    assert blocks.place == "cabin"
    assert len(blocks.first) >= 12
    # The same car on the same road: blocks agree though the road itself varies.
    alike = np.std(np.log(blocks.second / blocks.first))
    assert alike < 0.5 * np.std(np.log(blocks.first))


def test_other_road_is_not_paired() -> None:
    blocks = comfort_blocks(drive(1), drive(2, noise_seed=1))
    assert blocks is not None
    assert not blocks.paired
    assert "not alike" in blocks.why_unpaired


def test_without_speed_nothing_is_paired() -> None:
    blocks = comfort_blocks(drive(1, with_speed=False), drive(1))
    assert blocks is not None
    assert not blocks.paired
    assert "speed channel" in blocks.why_unpaired


def test_other_speed_is_left_out() -> None:
    blocks = comfort_blocks(drive(1, length_s=200), drive(1, speed=20.0, noise_seed=1))
    assert blocks is not None
    assert not blocks.paired


def test_no_common_sensor_no_comfort() -> None:
    first = drive(1)
    other = replace(first, channels={"seat": first.channels["cabin"]})
    assert comfort_blocks(first, other) is None


def runs(first: float, second: float, own: float = 0.02, method: str = "spectral fit"):
    """Two runs of one car, measured in a way that tells its own part of the interval."""
    return (
        builders.run("a.csv", 6, builders.axle_result(told(first, own), method=method)),
        builders.run("b.csv", 9, builders.axle_result(told(second, own), method=method)),
    )


def by_name(comparison, name: str, place: str = "front"):
    """One quantity of a comparison."""
    return next(q for q in comparison.quantities if (q.name, q.place) == (name, place))


@pytest.mark.parametrize(
    ("first", "second", "verdict"),
    [
        (0.25, 0.34, "better"),
        (0.34, 0.25, "worse"),
        (0.45, 0.36, "better"),
        (0.30, 0.31, "cannot tell"),
        (0.31, 0.39, "changed"),  # from one side of 0.35 to the other
    ],
)
def test_damping_is_judged_by_its_target(first: float, second: float, verdict: str) -> None:
    found = by_name(compare_runs(*runs(first, second), builders.car()), "damping ratio")
    assert found.verdict == verdict
    assert found.change.value == pytest.approx(second / first - 1)
    assert found.change.low < found.change.value < found.change.high
    assert (found.minutes_to_settle is None) or verdict == "cannot tell"


def test_a_force_balance_tells_smaller_changes() -> None:
    """7 % with intervals of 5 %, three tenths of which are new in each drive."""
    pair = runs(0.28, 0.30, own=0.05, method="force balance (all sensors)")
    assert by_name(compare_runs(*pair, builders.car()), "damping ratio").verdict == "better"
    other = compare_runs(*runs(0.28, 0.30, own=0.05), builders.car())
    assert by_name(other, "damping ratio").verdict == "cannot tell"


def test_cannot_tell_says_what_would() -> None:
    found = by_name(compare_runs(*runs(0.28, 0.31, own=0.12), builders.car()), "damping ratio")
    assert found.verdict == "cannot tell"
    assert found.smallest_detectable > 0.11
    assert found.minutes_to_settle is not None
    assert found.minutes_to_settle > 6  # as long as both drives
    assert "cannot tell; such drives surely show changes from" in found.text


def test_a_quantity_that_stayed_says_what_would_have_shown() -> None:
    found = by_name(compare_runs(*runs(0.3100, 0.3099), builders.car()), "damping ratio")
    assert found.verdict == "cannot tell"
    assert ", +0 % (" in found.text
    assert "-0 %" not in found.text
    assert found.text.endswith("or more would have shown.")


def test_nothing_in_common_is_said() -> None:
    blind = builders.axle_result(None, body_frequency_hz=None)
    comparison = compare_runs(
        builders.run("a.csv", 6, blind), builders.run("b.csv", 6, blind), builders.car()
    )
    assert comparison.quantities == ()
    assert "Nothing to compare" in comparison.notes[-1]


def test_contacts_by_the_binomial_table() -> None:
    """Ten of ten in the first of two equal drives: 2 x 0.5^10; five and five: certain."""
    assert chance_of_split(10, 0, 3.0, 3.0) == pytest.approx(2 / 1024)
    assert chance_of_split(0, 10, 3.0, 3.0) == pytest.approx(2 / 1024)
    assert chance_of_split(5, 5, 3.0, 3.0) == 1
    # Two in one minute against one in nine: P(2 or 3 of 3) at a share of 0.1 is 0.028.
    assert chance_of_split(2, 1, 1.0, 9.0) == pytest.approx(2 * (3 * 0.01 * 0.9 + 0.001))


def test_fewer_contacts_are_told() -> None:
    result = builders.axle_result(0.3)
    hit, clean = builders.corner_result(0.3, contacts=9), builders.corner_result(0.3)
    first = builders.run("a.csv", 6, result, corners={"fl": hit, "fr": clean})
    second = builders.run("b.csv", 6, result)
    notes = compare_runs(first, second, builders.car()).notes
    assert notes == (
        "front bump-stop contacts: 9 in 3.0 min -> 0 in 3.0 min: better (on like roads chance does "
        "as much in 1 % of cases).",
    )


def test_run_without_setup_is_told() -> None:
    first, second = runs(0.25, 0.34)
    comparison = compare_runs(replace(first, setup=None), second, builders.car())
    assert comparison.setup == ()
    assert comparison.notes == ("a.csv has no setup file, so what was set for it is not known.",)


def test_frequency_scatters_less_from_day_to_day_than_damping() -> None:
    """A quarter of the spread: 3 % in frequency is proven, 3 % in damping is not."""
    results = [
        builders.axle_result(told(damping, 0.005), body_frequency_hz=None)
        for damping in (0.300, 0.309)
    ]
    pair = [
        builders.run(file, 6, replace(result, body_frequency_hz=told(frequency, 0.005)))
        for file, result, frequency in zip(("a.csv", "b.csv"), results, (1.30, 1.34), strict=True)
    ]
    comparison = compare_runs(pair[0], pair[1], builders.car())
    assert by_name(comparison, "body frequency").verdict != "cannot tell"
    assert by_name(comparison, "damping ratio").verdict == "cannot tell"


def test_softer_damping_on_the_same_stretch_is_smoother() -> None:
    """Above its resonance a car with less damping rides smoother (transmissibility)."""
    recordings = (drive(1, damping=0.9), drive(1, damping=0.4, noise_seed=1))
    comparison = compare_runs(*runs(0.3, 0.3), builders.car(), recordings)
    found = by_name(comparison, "weighted vibration", "cabin")
    assert (found.verdict, found.method) == ("better", "paired blocks")


def test_unchanged_car_on_the_same_stretch_cannot_tell() -> None:
    recordings = (drive(1), drive(1, start_m=60.0, noise_seed=1))
    comparison = compare_runs(*runs(0.3, 0.3), builders.car(), recordings)
    assert by_name(comparison, "weighted vibration", "cabin").verdict == "cannot tell"


def test_other_road_is_scaled_or_not_judged() -> None:
    recordings = (drive(1), drive(2, noise_seed=1))
    first, second = runs(0.3, 0.3)
    unknown = compare_runs(first, second, builders.car(), recordings)
    assert not any(q.name == "weighted vibration" for q in unknown.quantities)
    assert any("not known" in note for note in unknown.notes)
    level = RoadResult(gd_n0_m3=builders.estimate(6e-5, 0.2), iso8608_class="B")
    pair = [replace(r, analysis=replace(r.analysis, road=level)) for r in (first, second)]
    scaled = by_name(
        compare_runs(pair[0], pair[1], builders.car(), recordings), "weighted vibration", "cabin"
    )
    # Four times the power is twice the height: as rough a ride on it is half as rough a car.
    rougher = RoadResult(gd_n0_m3=builders.estimate(24e-5, 0.2), iso8608_class="C")
    pair[1] = replace(pair[1], analysis=replace(pair[1].analysis, road=rougher))
    halved = by_name(
        compare_runs(pair[0], pair[1], builders.car(), recordings), "weighted vibration", "cabin"
    )
    assert (1 + halved.change.value) / (1 + scaled.change.value) == pytest.approx(0.5)
    assert halved.change.high - halved.change.low < scaled.change.high - scaled.change.low


def test_short_drives_are_not_compared() -> None:
    recordings = (drive(1, length_s=50.0), drive(1, length_s=50.0, noise_seed=1))
    comparison = compare_runs(*runs(0.3, 0.3), builders.car(), recordings)
    assert any("less than 60 s" in note for note in comparison.notes)


def test_setup_changes_in_the_owners_counting() -> None:
    car = builders.car(builders.axle(clicks_from="stiff"))
    first = RunSetup(clicks=dict.fromkeys(CORNERS, 6), tyre_pressure_pa={"rl": 2.0e5})
    second = RunSetup(
        clicks={"fl": 9, "fr": 6, "rl": 8},
        tyre_pressure_pa={"rl": 2.2e5},
        spring_rate_n_per_m={"fr": 60e3},
    )
    assert setup_changes(first, second, car) == (
        "fl clicks 12 -> 9 (from full stiff)",
        "rl clicks 6 -> 8 (from full soft)",
        "fr spring rate 56.92 -> 60 N/mm",
        "rl tyre pressure 2 -> 2.2 bar",
    )
    assert setup_changes(None, second, car) == ()
