"""From what the file said to what the estimators see: the one entry of this room."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ridelog.car.description import Car
from ridelog.condition.axle_exchange import check_axle_exchange
from ridelog.condition.clipped import find_clipped
from ridelog.condition.disagreement import check_identity, covered
from ridelog.condition.flat import find_flat
from ridelog.condition.force_check import check_force, force_channels
from ridelog.condition.gravity import check_gravity
from ridelog.condition.road_relations import check_road_relations
from ridelog.condition.roughness import find_noise
from ridelog.condition.side_delays import check_side_delays
from ridelog.condition.signals import KINDS, Checked, Signals
from ridelog.condition.spikes import mend_spikes
from ridelog.condition.standing import standing_mask
from ridelog.condition.stated_delays import undo_stated_delays
from ridelog.condition.timebase import TimeBase, on_even_base
from ridelog.condition.zero import mend_zero
from ridelog.errors import NotEnoughDataError
from ridelog.recording import (
    HORIZONTAL_ACCELERATION_CHANNELS,
    FloatArray,
    Problem,
    RawRecording,
    Recording,
    Step,
    channel_kind,
)

_SINGLE_CHANNEL_CHECKS: tuple[Callable[[Signals], Checked], ...] = (
    find_flat,
    mend_spikes,
    check_gravity,
    find_noise,
    find_clipped,
    mend_zero,
)


FEWEST_ROWS = 16


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prepared:
    """A log made ready: signals on one even time base, what was wrong, and what was done."""

    recording: Recording
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]


def prepare(raw: RawRecording, car: Car) -> Prepared:
    """Check a log, mend what can be mended, and put it on one even time base.

    Parameters
    ----------
    raw : RawRecording
        The log as recorded, calibrated to SI.
    car : Car
        The car, for the relations between its sensors.

    Returns
    -------
    Prepared

    Raises
    ------
    NotEnoughDataError
        If the log has fewer rows than any check needs.
    SignalError
        If the time column does not advance.

    Notes
    -----
    Order: clock and gaps; each channel alone (flat, spikes, unit and gravity, noise, limit, zero);
    delays that the car file states; then the channels against each other. Each check sees what the
    checks before it mended. Signals are neither smoothed nor thinned; a log sampled too slowly is
    put on its base and not checked further. What a check cannot mend stays in the recording and is
    named in `problems`: `usable_channels` tells which channels a result may rest on.
    """
    if len(raw.time_s) < FEWEST_ROWS:
        found = len(raw.time_s)
        raise NotEnoughDataError("the log", needed=FEWEST_ROWS, found=found, unit="rows")
    base = on_even_base(raw)
    problems = list(base.problems)
    notes: list[str] = []
    signals = base.signals
    if not any(problem.code == "slow" for problem in problems):
        for check in _SINGLE_CHANNEL_CHECKS:
            checked = check(signals)
            signals = checked.signals
            problems.extend(checked.problems)
            notes.extend(checked.notes)
        stated = undo_stated_delays(signals, raw.delays_s)
        signals = stated.signals
        notes.extend(stated.notes)
        problems = _one_cause(problems)
        spoilt = {
            p.channel or "" for p in problems if not p.mended and p.code not in ("unit", "flat")
        }
        spoilt |= {p.channel or "" for p in problems if p.code == "flat" and p.start_s is None}
        trusted = set(signals.channels) - spoilt
        for checked in _against_each_other(signals, car, trusted):
            signals = checked.signals
            problems.extend(checked.problems)
            notes.extend(checked.notes)
    return Prepared(
        recording=_recording(raw, base, signals, problems),
        problems=tuple(problems),
        notes=tuple(notes),
    )


def _against_each_other(signals: Signals, car: Car, trusted: set[str]) -> Iterator[Checked]:
    """Check by the exact identities first, then what those do not cover by road and forces."""
    by_identity = check_identity(signals, car, trusted)
    yield by_identity
    kinds = [kind for kind in KINDS if not covered(car, kind, trusted)]
    bound = force_channels(signals, trusted) if kinds else ()
    by_road = check_road_relations(
        by_identity.signals, car, kinds, trusted, compare_gains=not bound
    )
    yield by_road
    if not all(problem.mended for problem in (*by_identity.problems, *by_road.problems)):
        return
    if bound:
        yield check_force(by_road.signals, car, bound)
        return
    if kinds and not by_identity.problems:
        across = check_axle_exchange(by_road.signals, car, trusted)
        yield across
        yield check_side_delays(across.signals, trusted)


def _one_cause(problems: list[Problem]) -> list[Problem]:
    """Leave out the wild readings of a channel that is noisy or loose as a whole."""
    noisy = {p.channel for p in problems if p.code in ("noise", "loose")}
    return [p for p in problems if not (p.code == "spikes" and p.channel in noisy)]


def _recording(
    raw: RawRecording, base: TimeBase, signals: Signals, problems: list[Problem]
) -> Recording:
    valid = ~signals.missing
    standing = standing_mask(signals.channels, valid, signals.sample_rate_hz)
    channels: dict[str, FloatArray] = {}
    whole = bool(valid.all())
    for name, values in signals.channels.items():
        offset = 0.0
        if channel_kind(name) == "acceleration" and valid.any():
            at_rest = name in HORIZONTAL_ACCELERATION_CHANNELS and standing.any()
            where = standing if at_rest else valid
            offset = float((values if whole and not at_rest else values[where]).mean())
        channels[name] = values - offset if offset else values
    steps = [
        Step(
            name="interpolated to an even base" if base.interpolated else "put on an even base",
            settings=(("sample_rate_hz", signals.sample_rate_hz),),
        )
    ]
    steps += [
        Step(name=f"mended {p.code}", settings=(("channel", p.channel or " ".join(p.channels)),))
        for p in problems
        if p.mended
    ]
    return Recording(
        sample_rate_hz=signals.sample_rate_hz,
        channels=channels,
        valid=valid,
        source=raw.source,
        start_s=base.start_s,
        gaps=base.gaps,
        steps=(*steps, Step(name="gravity and offset taken off")),
    )
