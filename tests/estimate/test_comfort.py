"""Comfort of a log: gaps, places, limits, remarks."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.comfort import comfort_of_recording, ride_comfort
from ridelog.recording import Recording, Source

RATE_HZ = 500.0


def rough_ride(duration_s: float = 80.0, rate_hz: float = RATE_HZ, seed: int = 1) -> np.ndarray:
    rng = np.random.default_rng(seed)
    count = int(duration_s * rate_hz)
    spectrum = np.fft.rfft(rng.normal(size=count))
    frequency = np.fft.rfftfreq(count, 1 / rate_hz)
    return np.fft.irfft(spectrum * np.exp(-(((frequency - 3) / 4) ** 2)), count) * 5


def recording(**channels: np.ndarray) -> Recording:
    count = len(next(iter(channels.values())))
    return Recording(
        sample_rate_hz=RATE_HZ,
        channels=channels,
        valid=np.ones(count, dtype=bool),
        source=Source(file="made up", layout="made up"),
    )


def test_gravity_and_offset_do_not_count():
    ride = rough_ride()
    plain = ride_comfort(ride, RATE_HZ, place="seat")
    shifted = ride_comfort(ride + 9.80665, RATE_HZ, place="seat")
    assert shifted.weighted_rms_mps2 == pytest.approx(plain.weighted_rms_mps2, rel=1e-9)


def test_a_gap_with_a_wild_filler_leaves_the_figures_alone():
    ride = rough_ride()
    valid = np.ones(len(ride), dtype=bool)
    valid[15_000:16_000] = False
    spoilt = np.where(valid, ride, 300.0)
    whole = ride_comfort(ride, RATE_HZ, place="seat")
    gapped = ride_comfort(spoilt, RATE_HZ, place="seat", valid=valid)
    assert gapped.weighted_rms_mps2 == pytest.approx(whole.weighted_rms_mps2, rel=0.02)
    assert gapped.crest_factor == pytest.approx(whole.crest_factor, rel=0.15)
    # the dose is that of the time counted, 2 s less
    assert gapped.vdv_mps175 == pytest.approx(whole.vdv_mps175 * (78 / 80) ** 0.25, rel=0.02)


def test_single_lost_samples_are_bridged():
    ride = rough_ride()
    spoilt = ride.copy()
    spoilt[1000::700] = np.nan
    whole = ride_comfort(ride, RATE_HZ, place="seat")
    mended = ride_comfort(spoilt, RATE_HZ, place="seat")
    assert mended.weighted_rms_mps2 == pytest.approx(whole.weighted_rms_mps2, rel=1e-3)
    assert mended.vdv_mps175 == pytest.approx(whole.vdv_mps175, rel=5e-3)


def test_the_same_ride_at_another_log_rate_feels_the_same():
    fast = rough_ride(rate_hz=1000.0)
    fine = ride_comfort(fast, 1000.0, place="seat").weighted_rms_mps2
    # the ride holds nothing above 20 Hz: every fifth sample is a fair log of it
    coarse = ride_comfort(fast[::5], 200.0, place="seat").weighted_rms_mps2
    assert coarse == pytest.approx(fine, rel=1e-3)


def test_the_seat_comes_before_the_floor_and_the_floor_before_the_body():
    ride = rough_ride()
    log = recording(seat=ride, cabin=2 * ride, body_fl=3 * ride, body_rl=3 * ride)
    on_seat = comfort_of_recording(log)
    floor = comfort_of_recording(recording(cabin=2 * ride, body_fl=3 * ride))
    body = comfort_of_recording(recording(body_fl=2 * ride, body_rl=4 * ride))
    assert [on_seat.place, floor.place] == ["seat", "cabin floor"]
    assert body.place == "body over fl, rl (mean)"
    assert floor.weighted_rms_mps2 == pytest.approx(2 * on_seat.weighted_rms_mps2)
    assert body.weighted_rms_mps2 == pytest.approx(3 * on_seat.weighted_rms_mps2)


def test_no_acceleration_no_comfort():
    assert comfort_of_recording(recording(travel_fl=rough_ride())) is None


def test_a_slow_log_says_what_it_misses():
    found = ride_comfort(rough_ride(rate_hz=100.0), 100.0, place="seat")
    assert any("holds nothing above 50 Hz" in remark for remark in found.remarks)


def test_a_very_slow_log_is_declined():
    with pytest.raises(SignalError, match=r"sampled at 16\.7 Hz; needs 40 Hz or more"):
        ride_comfort(np.zeros(1000), 16.7, place="seat")


def test_a_short_log_is_declined():
    with pytest.raises(NotEnoughDataError, match="comfort: needs 5 s, the log has 3 s"):
        ride_comfort(rough_ride(3.0), RATE_HZ, place="seat")


def test_a_kerb_in_a_smooth_ride_calls_for_the_dose():
    ride = 0.05 * rough_ride()
    ride[20_000:20_030] += 15.0 * np.hanning(30)
    found = ride_comfort(ride, RATE_HZ, place="seat")
    assert found.crest_factor > 9
    assert any("vibration dose" in remark for remark in found.remarks)


def test_seconds_of_both_stretches_count_for_the_highest_running_rms():
    calm, rough = 0.1 * rough_ride(30.0), rough_ride(30.0, seed=2)
    both = np.concatenate((calm, rough))
    valid = np.ones(len(both), dtype=bool)
    valid[14_800:15_200] = False
    found = ride_comfort(both, RATE_HZ, place="seat", valid=valid)
    alone = ride_comfort(rough, RATE_HZ, place="seat")
    assert found.mtvv_mps2 == pytest.approx(alone.mtvv_mps2, rel=0.02)


def test_a_log_at_rest_has_no_crest():
    found = comfort_of_recording(recording(seat=np.zeros(10_000)))
    assert found.weighted_rms_mps2 == 0
    assert found.crest_factor == 0
