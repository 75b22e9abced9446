"""What cannot be sent or read is counted and reported, never hidden."""

import numpy as np
import pytest

from tests.firmware.emulated import SOURCE, Ran, started
from tests.firmware.line_frames import DESCRIBE, SET_RATE, STOP, command


def accounts_for_every_sample(ran: Ran) -> bool:
    """At each status: samples before it + missed + dropped = due, as the format promises."""
    line, received = ran.line, 0
    for frame in line.frames:
        if frame.kind == 0x11:
            received += 1
        elif frame.kind == 0x12:
            due, missed, dropped = np.frombuffer(frame.rest[:12], "<u4").tolist()
            if due != received + missed + dropped or frame.sequence != due % 65536:
                return False
    return True


@pytest.fixture(scope="module")
def flooded(bench):
    """As many samples as the line carries, and descriptions asked for on top of them."""
    slow = bench.firmware("-DBAUD=115200 -DDEFAULT_RATE_HZ=250")
    asking = tuple((0.4 + 0.1 * turn, command(DESCRIBE)) for turn in range(20))
    commands = ((0.2, command(SET_RATE, 345_000)), started(0.3), *asking, (3.0, command(STOP)))
    return bench.run("--seconds", "3.5", firmware=slow, commands=commands)


def test_a_line_too_full_drops_samples_and_says_how_many(flooded):
    line = flooded.line
    last = line.statuses[-1]
    assert last.dropped > 100
    assert last.missed == 0
    assert line.bad == 0
    assert last.due == len(line.of(0x11)) + last.dropped
    assert accounts_for_every_sample(flooded)


def test_gaps_in_the_sequence_are_the_samples_dropped(flooded):
    sequences = np.array([sequence for sequence, _, _ in flooded.line.samples()])
    ticks = np.array([ticks for _, ticks, _ in flooded.line.samples()])
    steps = np.diff(sequences)
    assert np.all(steps >= 1)
    due_after_last = flooded.line.statuses[-1].due - 1 - sequences[-1]
    assert (steps - 1).sum() + due_after_last == flooded.line.statuses[-1].dropped
    # Ticks go on through the gaps: the samples that are there stand at their own time.
    np.testing.assert_array_equal(np.diff(ticks), steps * round(250_000 / 345))


def test_a_part_that_is_pulled_out_fails_alone_and_comes_back(bench, waves):
    words = ("--spi-absent", "0.5:1.2", "--i2c-absent", "0.8:1.4", "--waves", str(waves[0]))
    ran = bench.run("--seconds", "2.9", *words, commands=(started(),))
    assert accounts_for_every_sample(ran)
    assert ran.line.statuses[-1].missed == 0
    time_s = np.array([ticks for _, ticks, _ in ran.line.samples()]) * 4e-6
    readings = np.array([values for _, _, values in ran.line.samples()])
    failed = readings == -32768
    assert not failed[:, :6].any()
    for columns, gone, back in (((6, 7, 8), 0.5, 1.2), ((9,), 0.8, 1.4)):
        for column in columns:
            assert failed[(time_s > gone + 0.01) & (time_s < back), column].all()
            # Looked for once a second.
            assert not failed[(time_s < gone - 0.01) | (time_s > back + 1.05), column].any()


def test_a_bus_that_hangs_costs_no_sample(bench, waves):
    ran = bench.run(
        *("--seconds", "2.9", "--i2c-stuck", "0.5:1.1", "--waves", str(waves[0])),
        commands=(started(),),
    )
    status = ran.line.statuses[-1]
    assert (status.missed, status.dropped) == (0, 0)
    assert accounts_for_every_sample(ran)
    readings = np.array([values for _, _, values in ran.line.samples()])
    assert (readings[:, 9] == -32768).any()
    assert (readings[-100:, 9] != -32768).all()
    assert (readings[:, :9] != -32768).all()


def test_the_supply_is_measured_between_samples(bench):
    for supply_v in (4.5, 5.2):
        words = ("--seconds", "2.5", "--supply", str(supply_v))
        ran = bench.run(*words, commands=(started(),), diary=True)
        line = ran.line
        count_mv = 1000 * supply_v**2 / (1.1 * 1024)
        assert line.statuses[-1].supply_mv == pytest.approx(1000 * supply_v, abs=count_mv + 1)
        assert line.statuses[-1].missed == 0
        measured_s, _ = ran.read_at(14)
        assert np.sum(measured_s > 0.1) == 2  # once a second, sampling or not


@pytest.mark.parametrize(("options", "rate_hz"), [("", 1050), ("-DADC_DIVIDER=64", 1500)])
def test_the_fastest_rates_accepted_are_kept(bench, waves, options, rate_hz):
    commands = (started(), (0.1, command(SET_RATE, rate_hz * 1000)), (1.1, command(STOP)))
    ran = bench.run(
        *("--seconds", "1.2", "--waves", str(waves[0])),
        firmware=bench.firmware(options),
        commands=commands,
    )
    status = ran.line.statuses[-1]
    assert (status.missed, status.dropped, status.refused) == (0, 0, 0)
    assert status.due == len(ran.line.of(0x11)) == pytest.approx(rate_hz + 25, abs=5)
    assert ran.line.rates_hz[-1] == pytest.approx(rate_hz, rel=0.003)
    assert accounts_for_every_sample(ran)
    assert ran.summary["awake"] < 0.85
    # A conversion not taken away before the next begins, 36 us later, costs the sample.
    assert ran.summary["longest_wait_us"] < 32


@pytest.mark.parametrize("options", ["", "-DADC_DIVIDER=64"])
def test_few_pins_leave_the_digital_parts_their_time(bench, waves, options):
    table = (SOURCE / "channel_table.h").read_text().splitlines(keepends=True)
    few = "".join(line for line in table if not line.startswith("ANALOG(") or "A0" in line)
    ran = bench.run(
        *("--seconds", "1", "--waves", str(waves[0])),
        firmware=bench.firmware(options, few),
        commands=(started(),),
    )
    readings = np.array([values for _, _, values in ran.line.samples()])
    assert readings.shape == (475, 5)
    assert not np.any(readings == -32768)
    assert np.all(np.ptp(readings, axis=0) > 100)
    assert accounts_for_every_sample(ran)
