"""Frames with a right CRC and anything in them: a result or one line, never anything else."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ridelog.car.description import Logger
from ridelog.errors import RidelogError
from ridelog.ingest.frame_export import read_for_export
from ridelog.ingest.propose import propose
from ridelog.ingest.read import read_log
from ridelog.record.live import LiveState
from ridelog.wire.decode import decode
from ridelog.wire.framing import frame
from tests.record.logger_frames import MadeUpLogger, readings
from tests.record.sample import host_time


def bodies() -> list[bytes]:
    """A small recording, taken apart into bodies."""
    logger = MadeUpLogger(scan_step_s=1e-4)
    table = readings(12, logger.channels)
    line = logger.describe() + logger.status() + host_time(1.0) + logger.samples(table[:6])
    line += logger.mark(1) + host_time(1.1) + logger.samples(table[6:]) + logger.status()
    placed = [
        (start, bytes(body))
        for group in decode(line).groups
        for start, body in zip(group.starts.tolist(), group.bodies.T, strict=True)
    ]
    return [body for _, body in sorted(placed)]


BODIES = bodies()


def refusal_of(read: Callable[[Path], object], path: Path) -> str:
    try:
        read(path)
    except RidelogError as error:
        return str(error)
    return ""


CHANGES = st.lists(
    st.tuples(st.integers(0, len(BODIES) - 1), st.integers(0, 60), st.integers(0, 255)), max_size=8
)
ORDER = st.permutations(range(len(BODIES)))


@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(CHANGES, st.one_of(st.just(list(range(len(BODIES)))), ORDER), st.binary(max_size=40))
def test_any_frames_are_read_or_refused_in_one_line(changes, order, extra):
    odd = [bytearray(body) for body in BODIES]
    for which, place, value in changes:
        odd[which][place % len(odd[which])] = value
    line = b"".join(frame(bytes(odd[index])) for index in order) + frame(b"\x14" + extra)
    live = LiveState()
    live.feed(line, 1.0)
    assert len(live.channel_states()) <= 64
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "odd.rec"
        path.write_bytes(line)
        for read in (lambda p: read_log(p, Logger()), propose, read_for_export):
            assert "\n" not in refusal_of(read, path)


def test_samples_cut_within_their_head_are_told_and_do_not_stop_the_recorder(tmp_path):
    logger = MadeUpLogger()
    sound = logger.describe() + logger.samples(readings(12, logger.channels))
    cut = b"".join(frame(bytes([0x11, *range(1, length)])) for length in range(1, 8))
    path = tmp_path / "cut.rec"
    path.write_bytes(sound + cut)
    raw = read_log(path, Logger())
    assert raw.source.rows_read == 12
    assert any("7 samples do not fit" in remark for remark in raw.source.remarks), raw.source
    live = LiveState()
    live.feed(sound + cut, 0.0)
    assert live.received == 12
