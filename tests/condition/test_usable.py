"""Channels at their limit: for how long a result may still rest on them."""

from __future__ import annotations

import numpy as np
import pytest

from ridelog.condition.prepare import prepare
from ridelog.condition.usable import usable_channels
from ridelog.recording import RawRecording
from tests.bench.fleet_cache import cached_fleet


def cut_to(share: float) -> tuple[RawRecording, object]:
    """A sound drive with one hub cut off above, where it is for a share of the time."""
    log = cached_fleet("nonlinear", seed=131, count=2, duration_s=30.0)[0]
    raw = log.recording()
    hub = raw.channels["hub_fl"]
    channels = {**raw.channels, "hub_fl": np.minimum(hub, np.quantile(hub, 1 - share))}
    return RawRecording(time_s=raw.time_s, channels=channels, source=raw.source), log.car


@pytest.mark.parametrize(("share", "kept"), [(0.008, True), (0.05, False)])
def test_a_channel_is_kept_that_sits_at_its_limit_for_moments_only(share, kept):
    prepared = prepare(*cut_to(share))
    (problem,) = [each for each in prepared.problems if each.code == "clipped"]
    assert problem.channel == "hub_fl"
    assert ("the rest is used" in problem.text) is kept
    assert ("hub_fl" in usable_channels(prepared.recording, prepared.problems)) is kept
