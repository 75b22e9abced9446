"""What the board saw is what comes down the line, at the time that the description says."""

from itertools import pairwise

import numpy as np
import pytest

from ridelog.wire.decode import decode
from ridelog.wire.messages import SAMPLE, ChannelFrame, StatusFrame
from ridelog.wire.readings import physical, raw_readings, sample_heads
from ridelog.wire.unpack import unpack
from tests.firmware.emulated import CLOCK_HZ, CYCLES_PER_TICK, started
from tests.firmware.line_frames import SET_RATE, STOP, command

TICKS_PER_SECOND = CLOCK_HZ / CYCLES_PER_TICK
# Columns of the diary, in the order of the default channel table.
ANALOG, DIGITAL = (0, 1, 2, 3, 6, 7), (18, 16, 17, 21)
ASKED_SPI, ASKED_I2C = 64, 65


@pytest.fixture(scope="module")
def ran(bench, waves):
    path, _, _ = waves
    commands = (started(), (2.5, command(STOP)))
    return bench.run("--waves", str(path), "--seconds", "3", commands=commands, diary=True)


def scan_diary(ran, what, count):
    """The readings of one input while sampling; at boot nothing but the supply is measured."""
    time_s, value = ran.read_at(what)
    assert len(value) == count
    return time_s, value


def test_every_reading_arrives_as_it_was_taken(ran):
    samples = ran.line.samples()
    assert len(samples) == 1225  # 2.45 s at 500 Hz
    assert ran.line.bad == 0
    assert [sequence for sequence, _, _ in samples] == list(range(len(samples)))
    readings = np.array([values for _, _, values in samples])
    for column, what in enumerate((*ANALOG, *DIGITAL)):
        _, value = scan_diary(ran, what, len(samples))
        np.testing.assert_array_equal(readings[:, column], value)
        assert np.ptp(value) > 100


def test_values_are_the_waveform_within_quantisation(ran, waves):
    _, wave_time_s, columns = waves
    line = ran.line
    readings = np.array([values for _, _, values in line.samples()])
    for place, what in enumerate((*ANALOG, *DIGITAL)):
        time_s, _ = ran.read_at(what)
        column = what if what < 8 else what - 8
        true = np.interp(time_s, wave_time_s, columns[column])
        counts = np.floor(true * 1024 / 5) if what < 8 else np.rint(true * 4096)
        # The table is single precision: a value on the edge of a count may fall to either side.
        assert np.abs(readings[:, place] - counts).max() <= 1
        assert np.mean(readings[:, place] == counts) > 0.98


def test_analog_instants_are_those_described_without_jitter(ran):
    line = ran.line
    ticks_s = np.array([ticks for _, ticks, _ in line.samples()]) / TICKS_PER_SECOND
    assert {b[1] - a[1] for a, b in pairwise(line.samples())} == {500}
    # Boot and the timer's start come a constant after the emulator's first cycle.
    filters_s = [100e-6] * 4 + [1060e-6] * 2
    for channel, what, filter_s in zip(line.channels, ANALOG, filters_s, strict=False):
        late_s = ran.read_at(what)[0] - ticks_s
        assert np.ptp(late_s) < 1e-9  # the timer itself starts every conversion
        assert late_s[0] == pytest.approx(channel.instant_ns * 1e-9 + filter_s, abs=1e-9)


def test_digital_instants_are_those_described_within_microseconds(ran):
    line = ran.line
    ticks_s = np.array([ticks for _, ticks, _ in line.samples()]) / TICKS_PER_SECOND
    for index, what in ((6, ASKED_SPI), (9, ASKED_I2C)):
        late_s = ran.read_at(what)[0] - ticks_s
        described_s = line.channels[index].instant_ns * 1e-9 + 900e-6
        assert np.mean(late_s) == pytest.approx(described_s, abs=10e-6)
        assert np.ptp(late_s) < 30e-6  # waits its turn behind other interrupts
        # The value is older by the part's filter and by up to one of its own intervals.
        true_s = ran.read_at(DIGITAL[index - 6])[0] - ticks_s
        assert np.mean(true_s) == pytest.approx(line.channels[index].instant_ns * 1e-9, abs=20e-6)


def test_ridelogs_own_codec_reads_the_same(ran):
    decoded, line = decode(ran.data), ran.line
    assert decoded.bad_count == 0
    frames = [unpack(bytes(body)) for _, body in decoded.in_order(frozenset({0x12, 0x14}))]
    channels = {f.index: f for f in frames if isinstance(f, ChannelFrame)}
    channels = [channels[index] for index in range(10)]
    group = next(g for g in decoded.groups if SAMPLE in g.kinds)
    group = group.only(group.kinds == SAMPLE)
    raw = np.stack(raw_readings(group, channels), axis=1)
    np.testing.assert_array_equal(raw, [values for _, _, values in line.samples()])
    np.testing.assert_array_equal(sample_heads(group).ticks, [t for _, t, _ in line.samples()])
    true = [(c.scale, c.offset) for c in line.channels]
    assert [(c.scale, c.offset) for c in channels] == true
    assert np.ptp(physical(raw[:, 0], channels[0])) == pytest.approx(0.125 * np.ptp(raw[:, 0]))
    statuses = [(f.due, f.missed, f.dropped) for f in frames if isinstance(f, StatusFrame)]
    assert statuses == [(s.due, s.missed, s.dropped) for s in line.statuses]


def test_status_comes_every_second_and_accounts_for_every_sample(ran):
    statuses = ran.line.statuses
    assert len(statuses) >= 5
    assert [s.sampling for s in statuses[-3:]] == [True, True, False]
    assert statuses[-1].due == 1225
    assert all(s.missed == s.dropped == s.refused == 0 for s in statuses)
    # 5 V measured against a 1.1 V reference in ten bits: one count is 22 mV.
    assert all(abs(s.supply_mv - 5000) < 25 for s in statuses)


def test_the_stack_has_room_and_no_byte_was_overrun(ran):
    assert ran.summary["stack_margin"] > 500
    # Two bytes wait in the receiver while a third comes in: 40 us at 500 kbaud.
    assert ran.summary["longest_interrupt_us"] < 20
    assert ran.summary["overruns"] == ran.summary["collisions"] == 0


@pytest.mark.parametrize("rate_hz", [10, 100, 250, 1000])
def test_another_rate_is_told_before_its_first_sample(bench, rate_hz):
    commands = (started(), (0.2, command(SET_RATE, rate_hz * 1000)))
    line = bench.run("--seconds", "1", commands=commands).line
    kinds = [frame.kind for frame in line.frames]
    told = max(place for place, kind in enumerate(kinds) if kind == 0x13)
    assert line.rates_hz == [500.0, float(rate_hz)]
    ticks = [(place, f.ticks) for place, f in enumerate(line.frames) if f.kind == 0x11]
    before = np.diff([t for place, t in ticks if place < told])
    after = np.diff([t for place, t in ticks if place > told])
    assert set(before) == {500}
    assert set(after) == {250_000 // rate_hz}
    assert [sequence for sequence, _, _ in line.samples()] == list(range(len(ticks)))
