"""What is going on in a recording, twice a second: for the screen and the dialog."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from ridelog.record.channel_state import ChannelState, ChannelWindow, channel_states, windows_of
from ridelog.wire.decode import Decoded, FrameGroup, decode
from ridelog.wire.messages import (
    CHANNEL,
    LOGGER,
    MARK,
    SAMPLE,
    STATUS,
    ChannelFrame,
    LoggerFrame,
    StatusFrame,
)
from ridelog.wire.pack import HEAD
from ridelog.wire.readings import sample_body_bytes, sample_heads
from ridelog.wire.unpack import unpack

WARN_OVER_S = 5.0
_RATE_OVER_S = 2.0


@dataclass(slots=True, kw_only=True, eq=False)
class RunState:
    """What is known of the logger's present run."""

    number: int
    logger: LoggerFrame | None = None
    channels: dict[int, ChannelFrame] = field(default_factory=dict)
    first_status: StatusFrame | None = None
    status: StatusFrame | None = None
    last_sequence: int | None = None

    @property
    def described(self) -> bool:
        """Whether the logger has said all of itself."""
        return self.logger is not None and len(self.channels) >= self.logger.channel_count

    def ordered_channels(self) -> tuple[ChannelFrame, ...]:
        """Return the channels in the order of the sample frame; none before all are known."""
        count = self.logger.channel_count if self.logger and self.described else 0
        return tuple(self.channels[index] for index in range(count) if index in self.channels)


class LiveState:
    """Follows the frames that come in. Nothing that is recorded depends on it."""

    def __init__(self) -> None:
        self.run: RunState | None = None
        self.run_count = 0
        self.received = 0
        self.missing = 0
        self.gap_count = 0
        self.bad_frames = 0
        self.last_sample_s = -np.inf
        self._earlier_missed = 0
        self._earlier_dropped = 0
        self._arrivals: deque[tuple[float, int]] = deque()
        self._windows: deque[tuple[float, tuple[ChannelWindow, ...]]] = deque()

    def feed(self, data: bytes, now_s: float) -> None:
        """Look at what has come.

        Parameters
        ----------
        data : bytes
            Whole frames.
        now_s : float
            The host's steady clock [s].
        """
        decoded = decode(data)
        self.bad_frames += decoded.bad_count
        self._hear(decoded)
        for group in decoded.of_kind(SAMPLE):
            if len(group.bodies) >= HEAD.size:
                self._count(group, now_s)
        for timed in (self._windows, self._arrivals):
            while timed and timed[0][0] < now_s - WARN_OVER_S:
                timed.popleft()

    def interrupt(self) -> None:
        """Forget what was going on when the port was lost."""
        self._windows.clear()
        self._arrivals.clear()

    @property
    def missed(self) -> int:
        """Samples that the logger says it missed, since this recording began."""
        return self._earlier_missed + self._since_first("missed")

    @property
    def dropped(self) -> int:
        """Samples that the logger says it had no room to send."""
        return self._earlier_dropped + self._since_first("dropped")

    def rate_hz(self, now_s: float) -> float:
        """Samples per second that came of late.

        Parameters
        ----------
        now_s : float
            The host's steady clock [s].
        """
        recent = [each for each in self._arrivals if each[0] >= now_s - _RATE_OVER_S]
        if len(recent) < 2:
            return 0.0
        return sum(count for _, count in recent[1:]) / (recent[-1][0] - recent[0][0])

    def channel_states(self) -> tuple[ChannelState, ...]:
        """What each channel has done of late."""
        if self.run is None or not self._windows:
            return ()
        return channel_states(
            self.run.ordered_channels(), [windows for _, windows in self._windows]
        )

    def _since_first(self, what: str) -> int:
        if self.run is None or self.run.status is None:
            return 0
        return int(getattr(self.run.status, what) - getattr(self.run.first_status, what))

    def _hear(self, decoded: Decoded) -> None:
        """Take in descriptions and statuses."""
        for _, body in decoded.in_order(frozenset({LOGGER, CHANNEL, STATUS, MARK})):
            message = unpack(body)
            match message:
                case LoggerFrame():
                    self._run(message.head.run).logger = message
                case ChannelFrame():
                    self._run(message.head.run).channels.setdefault(message.index, message)
                case StatusFrame():
                    run = self._run(message.head.run)
                    run.first_status = run.first_status or message
                    run.status = message

    def _run(self, number: int) -> RunState:
        """Return the state of a run; another number is another run."""
        if self.run is None or self.run.number != number:
            self._earlier_missed, self._earlier_dropped = self.missed, self.dropped
            self.run = RunState(number=number)
            self.run_count += 1
            self.interrupt()
        return self.run

    def _count(self, group: FrameGroup, now_s: float) -> None:
        """Count samples, and look at their readings where it is known what they are."""
        heads = sample_heads(group)
        run = self._run(int(heads.runs[-1]))
        of_run = heads.runs == run.number
        sequences = heads.sequences[of_run].astype(np.int64)
        self.received += len(heads.runs)
        self.last_sample_s = now_s
        if run.last_sequence is not None:
            sequences = np.concatenate([[run.last_sequence], sequences])
        skipped = (np.diff(sequences) - 1) % (1 << 16)
        self.missing += int(skipped.sum())
        self.gap_count += int(np.count_nonzero(skipped))
        run.last_sequence = int(sequences[-1])
        self._arrivals.append((now_s, len(heads.runs)))
        channels = run.ordered_channels()
        if channels and sample_body_bytes(channels) == len(group.bodies):
            self._windows.append((now_s, windows_of(group.only(of_run), channels)))
