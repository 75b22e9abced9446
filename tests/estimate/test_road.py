"""Road level from a quarter car solved in closed form on a road drawn to a known spectrum."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest

from ridelog.car.description import Axle, Car
from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.road import road_level
from ridelog.estimate.road_profile import road_of_recording
from ridelog.estimate.road_speed import speed_from_road
from ridelog.estimate.road_wheels import road_under_wheels
from ridelog.recording import CORNERS, Recording, Source

RATE_HZ = 250.0
SPEED = 16.0
SPRUNG, UNSPRUNG, WHEEL_RATE, TYRE_RATE, DAMPING = 300.0, 36.0, 21e3, 210e3, 1300.0
RATIO = 0.7
CAR_WHEELBASE = 2.6


def drawn_road(level_m3: float, exponent: float, count: int, seed: int) -> np.ndarray:
    """Road height [m] in time at SPEED, ISO 8608 spectrum, by random phases and sizes."""
    rng = np.random.default_rng(seed)
    frequency = np.fft.rfftfreq(count, 1 / RATE_HZ)
    wave = np.maximum(frequency / SPEED, 0.008)
    density = level_m3 * (wave / 0.1) ** -exponent / SPEED
    real, imaginary = rng.normal(size=(2, len(frequency)))
    spectrum = np.sqrt(density * RATE_HZ * count / 4) * (real + 1j * imaginary)
    spectrum[0] = 0
    return np.fft.irfft(spectrum, count)


@dataclass
class Corner:
    road: np.ndarray
    body: np.ndarray
    hub: np.ndarray
    travel: np.ndarray


def ride(road: np.ndarray) -> Corner:
    """Quarter car on the road, stationary solution bin by bin (2 x 2 equations solved)."""
    count = len(road)
    omega = 2 * np.pi * np.fft.rfftfreq(count, 1 / RATE_HZ)
    link = WHEEL_RATE + 1j * omega * DAMPING
    a11, a22 = link - SPRUNG * omega**2, link + TYRE_RATE - UNSPRUNG * omega**2
    height = np.fft.rfft(road)
    determinant = a11 * a22 - link**2
    body, wheel = link * TYRE_RATE * height / determinant, a11 * TYRE_RATE * height / determinant
    back = lambda spectrum: np.fft.irfft(spectrum, count)  # noqa: E731
    return Corner(
        road=road,
        body=back(-(omega**2) * body),
        hub=back(-(omega**2) * wheel),
        travel=back(RATIO * (wheel - body)),
    )


def make_car(**changes: object) -> Car:
    axle = Axle(
        layout="independent",
        track_m=1.5,
        sprung_mass_kg=2 * SPRUNG,
        unsprung_mass_kg=2 * UNSPRUNG,
        spring_rate_n_per_m=WHEEL_RATE / RATIO**2,
        motion_ratio=RATIO,
        tyre_rate_n_per_m=TYRE_RATE,
    )
    return Car(name="made up", wheelbase_m=CAR_WHEELBASE, front=axle, rear=replace(axle, **changes))


def log_of(kinds: tuple[str, ...], *, level: float = 64e-6, exponent: float = 2.0, seed: int = 1):
    count = int(120 * RATE_HZ)
    channels = {"speed": np.full(count, SPEED)}
    for place, corner in enumerate(CORNERS):
        wheel = ride(drawn_road(level, exponent, count, 10 * seed + place % 2))
        channels |= {f"{kind}_{corner}": getattr(wheel, kind) for kind in kinds}
    return Recording(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        valid=np.ones(count, dtype=bool),
        source=Source(file="made up", layout="made up"),
    )


@pytest.mark.parametrize("kinds", [("hub", "body"), ("travel", "body"), ("travel", "hub")])
def test_any_two_kinds_of_sensor_give_back_the_road_under_the_wheel(kinds):
    log = log_of(kinds)
    profile = road_under_wheels(log, make_car())
    truth = drawn_road(64e-6, 2.0, log.sample_count, 10)
    assert profile.corners == CORNERS

    # compare between 1.5 and 12 Hz, where the height is claimed to be right
    def band(signal):
        spectrum = np.fft.rfft(signal)
        frequency = np.fft.rfftfreq(len(signal), 1 / RATE_HZ)
        spectrum[(frequency < 1.5) | (frequency > 12)] = 0
        return np.fft.irfft(spectrum, len(signal))[500:-500]

    error = band(profile.height_m[0]) - band(truth)
    assert np.std(error) < 0.02 * np.std(band(truth))


@pytest.mark.parametrize(
    ("level", "exponent", "letter"),
    [(16e-6, 2.0, "A"), (64e-6, 2.0, "B"), (256e-6, 1.8, "C"), (1024e-6, 2.2, "D")],
)
def test_level_class_and_exponent_of_a_drawn_road(level, exponent, letter):
    found = road_of_recording(log_of(("hub", "body"), level=level, exponent=exponent), make_car())
    assert found.iso8608_class == letter
    assert found.gd_n0_m3.value == pytest.approx(level, rel=0.15)
    assert found.gd_n0_m3.low < level < found.gd_n0_m3.high
    assert found.waviness.value == pytest.approx(exponent, abs=0.1)


@pytest.mark.slow
def test_the_interval_holds_the_truth_on_most_roads():
    inside = 0
    for seed in range(12):
        level = road_of_recording(log_of(("hub", "body"), seed=seed), make_car()).gd_n0_m3
        inside += level.low < 64e-6 < level.high
    assert inside >= 11


@pytest.mark.slow
def test_a_welch_spectrum_agrees():
    # second opinion: scipy's Welch estimate of the drawn road itself, read at 0.1 cycle/m
    from scipy.signal import welch

    log = log_of(("hub", "body"))
    road = drawn_road(64e-6, 2.0, log.sample_count, 10)
    frequency, density = welch(road, RATE_HZ, nperseg=2048)
    band = (frequency > 1.2) & (frequency < 20)
    wave = frequency[band] / SPEED
    reading = np.exp(np.mean(np.log(density[band] * SPEED * (wave / 0.1) ** 2)))
    found = road_of_recording(log, make_car())
    assert found.gd_n0_m3.value == pytest.approx(reading, rel=0.12)


def test_kerbs_do_not_pass_for_road():
    count = int(120 * RATE_HZ)
    road = drawn_road(64e-6, 2.0, count, 3)
    for start in range(1500, count - 100, 4000):
        road[start : start + 12] += 0.08 * np.hanning(12)
    plain = drawn_road(64e-6, 2.0, count, 3)
    speed = np.full(count, SPEED)
    with_kerbs = road_level(road[None], speed, RATE_HZ)
    without = road_level(plain[None], speed, RATE_HZ)
    assert with_kerbs.gd_n0_m3.value == pytest.approx(without.gd_n0_m3.value, rel=0.15)
    assert any("as obstacles" in remark for remark in with_kerbs.remarks)


def test_a_road_driven_at_two_speeds_is_one_road():
    slow, fast = 10.0, 20.0
    fine = drawn_road(64e-6, 2.0, int(300 * RATE_HZ), 4)  # along the road at 16 m/s
    metres = np.arange(len(fine)) * SPEED / RATE_HZ
    speed = np.concatenate((np.full(15_000, slow), np.full(15_000, fast)))
    at = np.cumsum(speed) / RATE_HZ
    found = road_level(np.interp(at, metres, fine)[None], speed, RATE_HZ)
    assert found.gd_n0_m3.value == pytest.approx(64e-6, rel=0.15)


def test_an_unknown_tyre_rate_narrows_the_band_but_not_the_answer():
    log = log_of(("hub", "body"))
    car = make_car(tyre_rate_n_per_m=None)
    blind = replace(car, front=car.rear)
    assert road_under_wheels(log, blind).highest_hz == 5.0
    assert road_of_recording(log, blind).gd_n0_m3.value == pytest.approx(64e-6, rel=0.2)


def test_a_live_axle_is_left_out_where_the_other_axle_tells_more():
    profile = road_under_wheels(log_of(("hub", "body")), make_car(layout="solid"))
    assert profile.corners == ("fl", "fr")


def without_speed(log: Recording) -> Recording:
    channels = {name: data for name, data in log.channels.items() if name != "speed"}
    return replace(log, channels=channels)


def test_without_a_speed_column_the_rear_wheels_tell_the_speed():
    log = without_speed(log_of(("hub", "body")))
    late = round(CAR_WHEELBASE / SPEED * RATE_HZ)
    channels = {
        name: np.roll(data, late) if name[-2] == "r" else data
        for name, data in log.channels.items()
    }
    found = road_of_recording(replace(log, channels=channels), make_car())
    assert found.gd_n0_m3.value == pytest.approx(64e-6, rel=0.15)
    assert any("time between front and rear wheels" in remark for remark in found.remarks)


@pytest.mark.parametrize("speed", [6.0, 16.0, 30.0])
def test_speed_from_the_delay_of_the_rear_wheels(speed):
    front = np.stack([drawn_road(64e-6, 2.0, int(60 * RATE_HZ), seed) for seed in (5, 6)])
    delay = CAR_WHEELBASE / speed * RATE_HZ
    index = np.arange(front.shape[1])
    noise = np.random.default_rng(1).normal(scale=2e-4, size=front.shape)
    rear = np.stack([np.interp(index - delay, index, row) for row in front]) + noise
    found = speed_from_road(front, rear, CAR_WHEELBASE, RATE_HZ)
    assert np.nanmedian(found) == pytest.approx(speed, rel=0.01)
    assert np.nanmax(np.abs(found / speed - 1)) < 0.05


def test_wheels_on_different_roads_tell_no_speed():
    front = np.stack([drawn_road(64e-6, 2.0, int(60 * RATE_HZ), seed) for seed in (5, 6)])
    rear = np.stack([drawn_road(64e-6, 2.0, int(60 * RATE_HZ), seed) for seed in (7, 8)])
    with pytest.raises(SignalError, match="do not show the same road"):
        speed_from_road(front, rear, CAR_WHEELBASE, RATE_HZ)


def test_no_speed_and_one_axle_is_no_road():
    log = without_speed(log_of(("hub", "body")))
    channels = {name: data for name, data in log.channels.items() if name[-2] == "f"}
    with pytest.raises(SignalError, match="the log has no speed, and waves"):
        road_of_recording(replace(log, channels=channels), make_car())


def test_one_kind_of_sensor_is_not_enough():
    with pytest.raises(SignalError, match="needs two of travel, body and hub"):
        road_of_recording(log_of(("body",)), make_car())


def test_driving_that_is_never_steady_is_declined():
    log = log_of(("hub", "body"))
    speed = SPEED * (1 + 0.5 * np.sin(np.arange(log.sample_count) / 300))
    with pytest.raises(NotEnoughDataError, match="road: steady driving: needs"):
        road_of_recording(replace(log, channels={**log.channels, "speed": speed}), make_car())
