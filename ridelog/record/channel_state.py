"""What a channel has done in the last seconds, and whether it looks healthy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridelog.recording import STANDARD_GRAVITY_M_PER_S2
from ridelog.wire.decode import FrameGroup
from ridelog.wire.messages import ChannelFrame
from ridelog.wire.readings import failed_reading, raw_readings

# Within this, standard deviation over seconds, a car counts as standing [m/s2].
_STANDING_M_PER_S2 = 0.4
# Other channels of the kind that move this share of their range prove that the car moves.
_MOVES_SHARE = 0.02
_G_PER_UNIT = {
    "g": 1.0,
    "m/s^2": 1 / STANDARD_GRAVITY_M_PER_S2,
    "m/s2": 1 / STANDARD_GRAVITY_M_PER_S2,
}
_VERTICAL = ("body", "hub", "cabin", "seat")
_ALWAYS_NOISY = (*_VERTICAL, "body_long", "body_lat")


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelWindow:
    """One channel in half a second: numbers sent, summed up, and failed readings."""

    lowest: int
    highest: int
    last: int
    count: int
    failed: int
    total: float
    total_squared: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelState:
    """One channel over the last seconds, in its unit; `warning` is empty where all is well.

    `bottom` and `top` are the sensor's limits.
    """

    name: str
    unit: str
    now: float
    lowest: float
    highest: float
    bottom: float
    top: float
    warning: str


def windows_of(group: FrameGroup, channels: Sequence[ChannelFrame]) -> tuple[ChannelWindow, ...]:
    """Sum up some samples, channel by channel.

    Parameters
    ----------
    group : FrameGroup
        The samples, one at least.
    channels : sequence of ChannelFrame
        The channels.
    """
    windows = []
    for channel, raw in zip(channels, raw_readings(group, channels), strict=True):
        answered = raw[raw != failed_reading(channel)]
        numbers = (answered if len(answered) else raw).astype(np.float64)
        windows.append(
            ChannelWindow(
                lowest=int(numbers.min()),
                highest=int(numbers.max()),
                last=int(numbers[-1]),
                count=len(numbers),
                failed=len(raw) - len(answered),
                total=float(numbers.sum()),
                total_squared=float(numbers @ numbers),
            )
        )
    return tuple(windows)


def channel_states(
    channels: Sequence[ChannelFrame], windows: Sequence[Sequence[ChannelWindow]]
) -> tuple[ChannelState, ...]:
    """Judge the channels by their last seconds.

    Parameters
    ----------
    channels : sequence of ChannelFrame
        The channels.
    windows : sequence of sequence of ChannelWindow
        The last half seconds, oldest first, each with one window for each channel.
    """
    sums = [_together([each[index] for each in windows]) for index in range(len(channels))]
    moving = any(map(_moves, channels, sums))
    return tuple(
        _state(channel, window, moving) for channel, window in zip(channels, sums, strict=True)
    )


def _together(windows: Sequence[ChannelWindow]) -> ChannelWindow:
    """Put windows of one channel together."""
    return ChannelWindow(
        lowest=min(each.lowest for each in windows),
        highest=max(each.highest for each in windows),
        last=windows[-1].last,
        count=sum(each.count for each in windows),
        failed=sum(each.failed for each in windows),
        total=sum(each.total for each in windows),
        total_squared=sum(each.total_squared for each in windows),
    )


def _state(channel: ChannelFrame, window: ChannelWindow, moving: bool) -> ChannelState:
    """Turn numbers into the channel's unit."""
    ends = sorted(channel.offset + channel.scale * n for n in (window.lowest, window.highest))
    limits = sorted(
        channel.offset + channel.scale * n for n in (channel.zero_scale, channel.full_scale)
    )
    place = f"_{channel.place}" if channel.place else ""
    named = f"{channel.measure}{place}"
    return ChannelState(
        name=channel.name or named if channel.measure == "other" else named,
        unit=channel.unit,
        now=channel.offset + channel.scale * window.last,
        lowest=ends[0],
        highest=ends[1],
        bottom=limits[0],
        top=limits[1],
        warning=_warning(channel, window, moving),
    )


def _warning(channel: ChannelFrame, window: ChannelWindow, moving: bool) -> str:
    """Say what is wrong with a channel, the worst first."""
    if window.failed:
        return "no answer" if window.failed >= window.count else "answers now and then"
    if window.lowest == window.highest and (moving or channel.measure in _ALWAYS_NOISY):
        return "flat"
    if window.lowest <= channel.zero_scale or window.highest >= channel.full_scale:
        return "clipped"
    per_unit = _G_PER_UNIT.get(channel.unit)
    if per_unit is None or channel.measure not in _VERTICAL:
        return ""
    mean_g = per_unit * (channel.offset + channel.scale * window.total / window.count)
    noise_g = per_unit * abs(channel.scale) * _spread(window)
    if noise_g * STANDARD_GRAVITY_M_PER_S2 > _STANDING_M_PER_S2 or mean_g > 0.7:
        return ""
    return "upside down" if mean_g < -0.7 else f"not upright ({round(mean_g, 1) + 0.0:.1f} g)"


def _spread(window: ChannelWindow) -> float:
    """Standard deviation of the numbers sent."""
    mean = window.total / window.count
    return float(np.sqrt(max(window.total_squared / window.count - mean**2, 0.0)))


def _moves(channel: ChannelFrame, window: ChannelWindow) -> bool:
    """Tell whether a channel shows that the car moves."""
    reach = channel.full_scale - channel.zero_scale
    return window.highest - window.lowest > _MOVES_SHARE * max(reach, 1)
