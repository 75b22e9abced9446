"""What cannot be sent or read is counted and reported, never hidden."""

import numpy as np
import pytest

from tests.firmware.emulated import Ran, started
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
        line = bench.run("--seconds", "2.5", "--supply", str(supply_v), commands=(started(),)).line
        count_mv = 1000 * supply_v**2 / (1.1 * 1024)
        assert line.statuses[-1].supply_mv == pytest.approx(1000 * supply_v, abs=count_mv + 1)
        assert line.statuses[-1].missed == 0
