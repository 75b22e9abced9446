"""Recordings read as logs: readings, times, losses, boots, delays, clock, marks."""

from __future__ import annotations

import gzip
import re

import numpy as np
import pytest

from ridelog.car.description import ChannelMapping, Logger
from ridelog.errors import UnknownLayoutError
from ridelog.ingest.frame_counts import SampleCounts
from ridelog.ingest.frame_remarks import sum_counts
from ridelog.ingest.frame_table import take_apart
from ridelog.ingest.open_log import open_log
from ridelog.ingest.read import read_log
from ridelog.wire.framing import frame
from ridelog.wire.messages import HOST_MARK, HostEvent, HostTime
from ridelog.wire.pack import RECORDING_BODY, pack_host_event, pack_host_time
from tests.record.logger_frames import LSB_G, LSB_MM, MadeUpLogger, readings

START = frame(RECORDING_BODY)
G = 9.80665  # standard gravity (ISO 80000-3, and NIST SP 811)


def host_time(steady_s: float) -> bytes:
    steady_ns = round(1e9 * steady_s)
    return frame(
        pack_host_time(HostTime(utc_ns=1_790_000_000 * 10**9 + steady_ns, steady_ns=steady_ns))
    )


@pytest.fixture
def read(tmp_path):
    def write_and_read(content: bytes, logger: Logger | None = None):
        path = tmp_path / "drive.rec"
        path.write_bytes(content)
        return read_log(path, logger or Logger())

    return write_and_read


@pytest.fixture
def counts(tmp_path):
    def write_and_count(content: bytes) -> SampleCounts:
        path = tmp_path / "drive.rec"
        path.write_bytes(content)
        log = open_log(path, is_welcome=lambda head: True)
        with log.handle:
            return sum_counts(take_apart(log).frames.runs)

    return write_and_count


def test_readings_and_times(read):
    logger = MadeUpLogger()
    table = readings(500, logger.channels)
    raw = read(START + logger.describe() + logger.samples(table))
    np.testing.assert_allclose(raw.time_s, np.arange(500) / 500, atol=1e-12)
    np.testing.assert_allclose(raw.channels["travel_fl"], (table[:, 0] * LSB_MM - 64) / 1000)
    np.testing.assert_allclose(raw.channels["body_fr"], table[:, 3] * LSB_G * G)
    assert set(raw.channels) == {"travel_fl", "travel_fr", "body_fl", "body_fr"}
    assert raw.source.remarks == ("all 500 samples of the logger are there",)


def test_what_came_down_the_line_is_read_without_any_record_of_a_host(read):
    logger = MadeUpLogger()
    table = readings(100, logger.channels)
    half_a_frame = logger.sample(table[0])[7:]
    raw = read(half_a_frame + logger.samples(table) + logger.describe())
    assert raw.source.rows_read == 100
    np.testing.assert_allclose(raw.channels["body_fl"], table[:, 2] * LSB_G * G)


def test_a_packed_recording(tmp_path):
    logger = MadeUpLogger()
    path = tmp_path / "drive.rec.gz"
    path.write_bytes(
        gzip.compress(logger.describe() + logger.samples(readings(50, logger.channels)))
    )
    assert read_log(path, Logger()).source.rows_read == 50


def test_a_failed_reading_is_missing(read):
    logger = MadeUpLogger()
    table = readings(40, logger.channels)
    table[7, 0], table[9, 2] = 0xFFFF, -0x8000
    raw = read(logger.describe() + logger.samples(table))
    assert np.flatnonzero(np.isnan(raw.channels["travel_fl"])).tolist() == [7]
    assert np.flatnonzero(np.isnan(raw.channels["body_fl"])).tolist() == [9]


def test_ticks_and_sequence_wrap(read, counts):
    logger = MadeUpLogger(ticks=(1 << 32) - 20_000, due=65_500)
    line = START + logger.describe() + logger.samples(readings(100, logger.channels))
    raw = read(line)
    np.testing.assert_allclose(np.diff(raw.time_s), 0.002, atol=1e-12)
    assert counts(line) == SampleCounts(received=100)


def test_every_sample_is_accounted_for(read, counts):
    logger = MadeUpLogger()
    table = readings(600, logger.channels)
    line = START + logger.describe() + logger.status() + logger.samples(table[:100])
    logger.skip(3, missed=True)
    line += logger.samples(table[100:200])
    logger.skip(5, dropped=True)
    line += logger.samples(table[200:300])
    logger.samples(table[300:337])  # sent, and lost on the line
    line += logger.samples(table[337:400]) + logger.status()
    assert counts(line) == SampleCounts(received=363, missed=3, dropped=5, lost=37)
    logger.skip(11)
    line += logger.samples(table[400:500])  # cut off before the next status
    assert counts(line) == SampleCounts(received=463, missed=3, dropped=5, lost=37, untold=11)
    raw = read(line)
    assert raw.source.remarks[0] == (
        "of 519 samples of the logger 463 are there; 3 missed by the logger (it was not done with"
        " the one before), 5 dropped by the logger (no room to send them), 37 lost on the line,"
        " 11 missing, nobody can say where"
    )
    assert raw.time_s[-1] == pytest.approx(518 / 500)


@pytest.mark.parametrize("skipped", [65_535, 65_536, 200_000])
def test_a_gap_longer_than_the_sequence_counts(counts, skipped):
    logger = MadeUpLogger()
    table = readings(100, logger.channels)
    begin = START + logger.describe() + logger.status() + logger.samples(table)
    logger.skip(skipped)
    assert counts(begin + logger.samples(table)).untold == skipped
    assert counts(begin + logger.samples(table) + logger.status()).lost == skipped + 100
    quiet = MadeUpLogger()
    line = quiet.describe() + quiet.samples(table)
    quiet.skip(skipped)
    assert counts(line + quiet.samples(table)).untold == skipped


def test_a_stop_is_no_loss(read, counts):
    logger = MadeUpLogger()
    table = readings(100, logger.channels)
    line = START + logger.describe() + logger.status() + logger.samples(table) + logger.status()
    logger.ticks += 200 * 250_000  # 200 s without sampling
    line += logger.status() + logger.samples(table) + logger.status()
    assert counts(line) == SampleCounts(received=200)
    assert read(line).time_s[100] == pytest.approx(200.2)


def test_another_boot_is_another_run_placed_by_the_hosts_clock(read):
    first, second = MadeUpLogger(run=42), MadeUpLogger(run=43, ticks=12_345)
    table = readings(500, first.channels)
    line = START + first.describe()
    for index in range(10):
        line += host_time(100.1 + index / 10) + first.samples(table[50 * index : 50 * index + 50])
    line += second.describe()
    for index in range(10):
        line += host_time(107.6 + index / 10) + second.samples(table[50 * index : 50 * index + 50])
    raw = read(line)
    assert raw.source.rows_read == 1000
    assert raw.time_s[500] == pytest.approx(7.5, abs=1e-6)
    assert "the logger was started 2 times; it began anew at 7.5 s" in raw.source.remarks


def test_a_boot_with_the_same_run_number_is_seen_by_its_ticks(read):
    first, second = MadeUpLogger(ticks=900_000), MadeUpLogger(ticks=100)
    table = readings(100, first.channels)
    raw = read(first.describe() + first.samples(table) + second.samples(table))
    assert raw.time_s[100] == pytest.approx(99 / 500 + 1.0)
    assert raw.source.remarks[-1] == (
        "the logger was started 2 times; it began anew at 1.2 s (no clock tells how long it was"
        " away; 1 s was left)"
    )


def test_a_run_that_never_said_what_it_sends_is_left_out_and_told(read):
    known, unknown = MadeUpLogger(run=1), MadeUpLogger(run=2)
    table = readings(50, known.channels)
    raw = read(known.describe() + known.samples(table) + unknown.samples(table))
    assert raw.source.rows_read == 50
    assert raw.source.remarks[-1] == (
        "50 samples of run 2 are left out: the logger never said what they are"
    )
    with pytest.raises(UnknownLayoutError, match="holds 50 samples, but the logger never said"):
        read(unknown.samples(table))


def test_a_recording_of_nothing_is_refused_in_one_line(read):
    with pytest.raises(UnknownLayoutError, match=r"^drive.rec: holds no samples \(1 other frames"):
        read(START)


def test_the_scans_delays_are_handed_on_to_be_undone(read):
    logger = MadeUpLogger(scan_step_s=104e-6)
    line = logger.describe() + logger.samples(readings(50, logger.channels))
    raw = read(line)
    # A reading taken later than its stamp looks early: its delay is negative.
    assert raw.delays_s == {
        "travel_fr": pytest.approx(-104e-6),
        "body_fl": pytest.approx(-208e-6),
        "body_fr": pytest.approx(-312e-6),
    }
    mapping = ChannelMapping(column="body_fl_g", unit="g", delay_s=0.001)
    raw = read(line, Logger(channels={"body_fl": mapping}))
    assert raw.delays_s["body_fl"] == pytest.approx(0.001 - 208e-6)


def drifting(drift: float, seconds: int = 30, late_s: float = 0.004) -> bytes:
    """A logger whose clock runs fast by `drift`, read by a host at odd moments."""
    random = np.random.default_rng(223)
    logger = MadeUpLogger(ticks=1_000_000)
    table = readings(50, logger.channels)
    line = START + logger.describe()
    for _ in range(10 * seconds):
        sampled_s = (logger.ticks - 1_000_000) / 250_000 / (1 + drift)
        line += host_time(5000 + sampled_s + random.exponential(late_s)) + logger.samples(table)
    return line


def test_drift_against_the_host_is_told_and_a_crystals_not_corrected(read):
    raw = read(drifting(40e-6))
    assert raw.time_s[-1] == pytest.approx(14_999 / 500)
    words = raw.source.remarks[1]
    told, low, high = (int(word) for word in re.findall(r"[+-]\d+", words))
    assert low < 40 < high
    assert high - low < 100
    assert words == (
        f"the logger's clock runs {told:+} parts per million ({low:+} to {high:+}) against this"
        " computer's"
    )


@pytest.mark.parametrize("drift", [-0.004, 0.004])
def test_a_ceramic_resonators_drift_is_corrected(read, drift):
    raw = read(drifting(drift))
    assert raw.time_s[-1] == pytest.approx(14_999 / 500 / (1 + drift), rel=2e-5)
    assert raw.source.remarks[1].endswith("; sample times are corrected for that")


def test_an_emulators_time_is_left_alone(read):
    raw = read(drifting(6.0))
    assert raw.time_s[-1] == pytest.approx(14_999 / 500)


def test_the_intervals_of_drift_hold(read):
    held = 0
    for seed in range(40):
        random = np.random.default_rng(2230 + seed)
        logger = MadeUpLogger()
        row = readings(1, logger.channels)
        line = START + logger.describe()
        for batch in range(300):
            line += host_time(batch / 5 + random.exponential(0.003)) + logger.sample(row[0])
            logger.skip(99)
        words = next(words for words in read(line).source.remarks if "million" in words)
        _, low, high = (int(word) for word in re.findall(r"[+-]\d+", words))
        held += low <= 0 <= high
    assert held >= 33  # of 40 at 95 %: fewer once in 400 such tests


def test_marks_of_button_command_and_host(read):
    logger = MadeUpLogger()
    table = readings(500, logger.channels)
    line = START + logger.describe() + host_time(50.0) + logger.samples(table[:100])
    line += logger.mark(1) + frame(pack_host_event(HostEvent(code=HOST_MARK, number=1, words="")))
    line += logger.samples(table[100:200])
    line += host_time(50.4) + frame(pack_host_event(HostEvent(code=HOST_MARK, number=2, words="")))
    line += logger.samples(table[200:300]) + logger.mark(1, by_command=False)
    line += logger.samples(table[300:])
    assert read(line).source.remarks[-1] == (
        "marks: mark 1 at 0.20 s, mark 2 at 0.40 s, button 1 at 0.60 s"
    )


def test_cut_at_every_byte_it_reads_all_whole_frames(read):
    logger = MadeUpLogger()
    table = readings(30, logger.channels)
    begin = START + logger.describe()
    line = begin + logger.samples(table)
    for end in range(len(begin) + 40, len(line), 3):
        raw = read(line[:end])
        count = line[len(begin) : end].count(b"\0")
        assert raw.source.rows_read == count
        np.testing.assert_allclose(
            raw.channels["travel_fl"], ((table[:count, 0] * LSB_MM) - 64) / 1000
        )
        cut = "the last frame is cut off and left out" in raw.source.remarks
        assert cut == (line[end - 1] != 0)


def test_a_damaged_frame_that_passes_by_chance_is_known_by_its_time(read):
    logger = MadeUpLogger()
    table = readings(60, logger.channels)
    line = logger.describe() + logger.samples(table[:30])
    stray = MadeUpLogger(ticks=3_000_000_000, due=777)
    raw = read(line + stray.sample(table[0]) + logger.samples(table[30:]))
    assert raw.source.rows_read == 60
    assert raw.source.remarks[-1] == "1 samples have an impossible time; left out"
