"""A made-up logger: the frames it would send, built one by one from the documented layout."""

from __future__ import annotations

import struct
from dataclasses import dataclass, field, replace

import numpy as np

from ridelog.wire.framing import frame
from ridelog.wire.messages import SAMPLE, ChannelFrame, Head, LoggerFrame, MarkFrame, StatusFrame
from ridelog.wire.pack import pack_channel, pack_logger, pack_mark, pack_status

TICKS_PER_S = 250_000
CORNERS = ("fl", "fr", "rl", "rr")
LSB_G = 1 / 2048
LSB_MM = 0.125


@dataclass
class MadeUpLogger:
    """A logger whose counters the tests may set."""

    rate_hz: float = 500.0
    run: int = 42
    travel_count: int = 2
    body_count: int = 2
    scan_step_s: float = 0.0
    device: int = 7
    name: str = "made-up logger"
    due: int = 0
    ticks: int = 0
    missed: int = 0
    dropped: int = 0
    sampling: bool = True
    channels: list[ChannelFrame] = field(default_factory=list, init=False)

    def __post_init__(self) -> None:
        travel = [("travel", c, "<u2", LSB_MM, -64.0, "mm") for c in CORNERS[: self.travel_count]]
        body = [("body", c, "<i2", LSB_G, 0.0, "g") for c in CORNERS[: self.body_count]]
        for measure, place, kind, scale, offset, unit in travel + body:
            self._add(measure, place, kind, scale, offset, unit)

    def _add(self, measure, place, kind, scale, offset, unit):
        index = len(self.channels)
        self.channels.append(
            ChannelFrame(
                head=self.head(),
                index=index,
                measure=measure,
                place=place,
                format=kind,
                scale=scale,
                offset=offset,
                zero_scale=10 if kind == "<u2" else -32767,
                full_scale=1013 if kind == "<u2" else 32767,
                instant_s=round(index * self.scan_step_s, 9),
                unit=unit,
                name=f"A{index}",
            )
        )

    @property
    def packing(self) -> struct.Struct:
        return struct.Struct(
            "<" + "".join("H" if c.format == "<u2" else "h" for c in self.channels)
        )

    @property
    def ticks_per_sample(self) -> int:
        return round(TICKS_PER_S / self.rate_hz)

    def head(self) -> Head:
        return Head(run=self.run, sequence=self.due % 65_536, ticks=self.ticks % (1 << 32))

    def describe(self) -> bytes:
        logger = LoggerFrame(
            head=self.head(),
            channel_count=len(self.channels),
            ticks_per_s=TICKS_PER_S,
            rate_hz=self.rate_hz,
            device=self.device,
            firmware=(1, 0),
            name=self.name,
        )
        return frame(pack_logger(logger)) + b"".join(
            frame(pack_channel(replace(channel, head=self.head()))) for channel in self.channels
        )

    def status(self) -> bytes:
        return frame(
            pack_status(
                StatusFrame(
                    head=self.head(),
                    due=self.due % (1 << 32),
                    missed=self.missed,
                    dropped=self.dropped,
                    supply_v=4.98,
                    sampling=self.sampling,
                    refused=0,
                )
            )
        )

    def mark(self, number: int, by_command: bool = True) -> bytes:
        return frame(pack_mark(MarkFrame(head=self.head(), by_command=by_command, number=number)))

    def skip(self, count: int, *, missed: bool = False, dropped: bool = False) -> None:
        """Let sampling instants pass without a frame."""
        self.due += count
        self.ticks += count * self.ticks_per_sample
        self.missed += count if missed else 0
        self.dropped += count if dropped else 0

    def sample(self, readings) -> bytes:
        body = struct.pack("<BBHI", SAMPLE, self.run, self.due % 65_536, self.ticks % (1 << 32))
        self.skip(1)
        return frame(body + self.packing.pack(*readings))

    def samples(self, table: np.ndarray) -> bytes:
        return b"".join(self.sample(row) for row in table.tolist())


def readings(count: int, channels: list[ChannelFrame], seed: int = 200) -> np.ndarray:
    """Numbers of a car that rolls along, shape (count, channels)."""
    random = np.random.default_rng(seed)
    time = np.arange(count)[:, None] / 500
    columns = [
        512 + 200 * np.sin(9 * time[:, 0] + index)
        if channel.format == "<u2"
        else 2048 + 900 * np.sin(60 * time[:, 0] + index)
        for index, channel in enumerate(channels)
    ]
    return np.rint(np.stack(columns, axis=1) + random.normal(0, 3, (count, len(columns)))).astype(
        int
    )
