"""What there is to show of a recording at one moment."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.record.channel_state import ChannelState
from ridelog.record.live import LiveState
from ridelog.record.recognise import Speech


@dataclass(frozen=True, slots=True, kw_only=True)
class Snapshot:
    """A recording at one moment. `waiting_for` is empty while samples or lines come.

    `missing` counts all samples that are not there; `missed` and `dropped` are those of them that
    the logger itself owns up to.
    """

    elapsed_s: float
    speech: Speech
    connected: bool
    waiting_for: str
    logger: str
    run_count: int
    rate_hz: float
    stated_rate_hz: float | None
    received: int
    missing: int
    gap_count: int
    missed: int
    dropped: int
    bad_frames: int
    supply_v: float | None
    channels: tuple[ChannelState, ...]
    line_count: int
    last_words: str
    mark_count: int
    size_bytes: int


def take_snapshot(
    live: LiveState,
    *,
    now_s: float,
    elapsed_s: float,
    speech: Speech,
    waiting_for: str,
    connected: bool,
    line_count: int,
    last_words: str,
    mark_count: int,
    size_bytes: int,
) -> Snapshot:
    """Put together what there is to show.

    Parameters
    ----------
    live : LiveState
        What the frames say.
    now_s : float
        The host's steady clock [s].
    elapsed_s : float
        Time since the recording began [s].
    speech : Speech
        How the logger speaks.
    waiting_for : str
        What is being waited for; empty while samples or lines come.
    connected : bool
        Whether the port is open.
    line_count : int
        Lines of a logger that prints lines.
    last_words : str
        The last of them.
    mark_count : int
        Marks set.
    size_bytes : int
        Length of the file.
    """
    run = live.run
    logger = run.logger if run else None
    status = run.status if run else None
    return Snapshot(
        elapsed_s=elapsed_s,
        speech=speech,
        connected=connected,
        waiting_for=waiting_for,
        logger=logger.name if logger else "",
        run_count=live.run_count,
        rate_hz=live.rate_hz(now_s),
        stated_rate_hz=logger.rate_hz if logger else None,
        received=live.received,
        missing=live.missing,
        gap_count=live.gap_count,
        missed=live.missed,
        dropped=live.dropped,
        bad_frames=live.bad_frames,
        supply_v=status.supply_v if status else None,
        channels=live.channel_states(),
        line_count=line_count,
        last_words="".join(mark for mark in last_words if mark.isprintable()),
        mark_count=mark_count,
        size_bytes=size_bytes,
    )
