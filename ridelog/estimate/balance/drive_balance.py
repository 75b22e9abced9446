"""Force balance of one drive: pick samples and stretches, find stops, judge left against right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ridelog.car.description import Car
from ridelog.condition.stretches import widen
from ridelog.errors import NotEnoughDataError, SignalError
from ridelog.estimate.balance.clipped_hubs import cut_off, mend_cut_off_hubs
from ridelog.estimate.balance.doubt import DEFAULT_DOUBT, random_deviation
from ridelog.estimate.balance.evidence import weigh_damper_shapes
from ridelog.estimate.balance.fit import BalanceFit, BalanceSettings, fit_balance
from ridelog.estimate.balance.quantities import side_difference
from ridelog.estimate.balance.signals import CornerSignals
from ridelog.estimate.balance.unstated_gaps import all_gaps_stated, unstated_gaps
from ridelog.estimate.result import Estimate
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
    BoolArray,
    FloatArray,
    Recording,
)

_TWIST_NOTE = (
    "the body twists between the axles: the four body sensors do not move in one plane; a soft or "
    "rusty body, a loose sensor mount; frequencies are a little less sure"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveSettings:
    """Which samples count, how long stretches are, and when a pair of dampers counts as unequal."""

    stop_clearance_m: float = 0.001
    unknown_stop_share: float = 0.01  # outermost travel kept out while a gap is unknown
    longest_stretch_s: float = 60.0
    # Two lively minutes leave less doubt than the sensors do; more of a long log only takes time.
    longest_whole_s: float = 200.0
    lively_total_s: float = 120.0
    shortest_s: float = 12.0
    # Difference of left and right over their sum; 0.1 is a damper at four fifths of its partner.
    # With travel sensors 48 healthy simulated axles never showed 0.04, nor one standard deviation;
    # hubs alone called one of 48 weak at 2.6. Of 72 dampers at 0.3 to 0.7 of their partners 70 are
    # named at either.
    unequal_deviations: float = 3.2
    unequal_share: float = 0.04
    weak_share: float = 0.1
    most_unexplained_ratio: float = 0.5  # drives leave 0.01 to 0.2; a standing car leaves all
    # Kept from lost readings, and from a hub's at its limit, where there is no travel: the push it
    # missed, integrated twice, spoils travel until it has faded.
    hole_clearance_s: float = 0.5
    clipped_clearance_s: float = 2.0
    # Of what is left, where that much clearance leaves too little: chosen, not measured. One log at
    # 0.43 read 70 % high; none was met that lies nearer.
    most_spoilt_share: float = 0.3
    unseen_travel_m: float = 0.006  # slow travel that hubs and body do not show
    slowest_without_travel_hz: float = 150.0  # friction turns within a sample; hubs alone miss it


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DriveBalance:
    """The fit to report, gaps found from the drive [mm] by corner, and remarks.

    `weak_corner` names a corner whose damper gives clearly less than its partner's.
    """

    fit: BalanceFit
    bump_gap_mm: Mapping[str, Estimate] = field(default_factory=dict)
    droop_gap_mm: Mapping[str, Estimate] = field(default_factory=dict)
    weak_corner: Mapping[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


def drive_balance(
    recording: Recording,
    car: Car,
    *,
    settings: BalanceSettings | None = None,
    drive: DriveSettings | None = None,
) -> DriveBalance:
    """Fit the force balance to one drive.

    Parameters
    ----------
    recording : Recording
        Needs the four body channels and all four travels, all four hubs or both.
    car : Car
        Masses, lever ratios, stated gaps.
    settings : BalanceSettings, optional
        Those of the fit.
    drive : DriveSettings, optional
        Samples and stretches.

    Raises
    ------
    NotEnoughDataError
        If too little of the log is usable.
    SignalError
        If there is no travel and the log is sampled too slowly or its hubs are at their limit too
        often, or if springs and dampers do not explain how the body moves.

    Notes
    -----
    Samples past a stop are kept out, for the stop's force is none of the fit's; where the owner
    states no gap the outermost travel is kept out first, the gap is sought in what the fit leaves,
    and the fit repeated.

    References
    ----------
    Derived here; see `fit_balance` and `find_gaps`.
    """
    settings = settings or BalanceSettings()
    drive = drive or DriveSettings()
    slowest_hz = drive.slowest_without_travel_hz
    if not recording.has(*TRAVEL_CHANNELS) and recording.sample_rate_hz < slowest_hz:
        raise SignalError(
            f"force balance: without travel sensors it takes {slowest_hz:g} samples a second, "
            f"the log has {recording.sample_rate_hz:.4g}; log faster"
        )
    use = _usable(recording, car, drive, {}, {})
    parts = _stretches(recording, car, use, drive)
    fit = fit_balance(parts, car, settings)
    if fit.residual_ratio > drive.most_unexplained_ratio:
        raise SignalError(
            "force balance: springs and dampers do not explain how the body moves; the car stands, "
            "or the sensors do not sit where the car file says"
        )
    if not recording.has(*TRAVEL_CHANNELS):
        fit = fit_balance(_without_contacts(parts, fit, car, drive), car, settings)
    bump, droop = dict[str, Estimate](), dict[str, Estimate]()
    if recording.has(*TRAVEL_CHANNELS) and not all_gaps_stated(car):
        whole = _stretches(recording, car, recording.valid, drive)
        bump, droop = unstated_gaps(fit, whole, car)
    if bump or droop:
        use = _usable(recording, car, drive, bump, droop)
        fit = fit_balance(_stretches(recording, car, use, drive), car, settings)
    fit, weak, notes = _judge_sides(fit, car, settings, drive)
    if fit.calibration.body_twists:
        notes = (*notes, _TWIST_NOTE)
    notes = (*notes, *_share_notes(recording, parts))
    return DriveBalance(
        fit=fit, bump_gap_mm=bump, droop_gap_mm=droop, weak_corner=weak, notes=notes
    )


def _share_notes(recording: Recording, parts: Sequence[CornerSignals]) -> tuple[str, ...]:
    """Say so where springs and dampers rest on part of a long log."""
    used_s = sum(part.sample_count for part in parts) / recording.sample_rate_hz
    if used_s > 0.95 * recording.duration_s:
        return ()
    return (
        f"springs and dampers are measured in the liveliest {used_s:.0f} s of the log's "
        f"{recording.duration_s:.0f} s; more would not tell them better",
    )


def _usable(
    recording: Recording,
    car: Car,
    drive: DriveSettings,
    bump_mm: Mapping[str, Estimate],
    droop_mm: Mapping[str, Estimate],
) -> BoolArray:
    """Samples whose forces are springs, dampers and friction alone."""
    use = recording.valid.copy()
    for name in (*BODY_CHANNELS, *HUB_CHANNELS):
        if recording.has(name):
            use &= ~cut_off(recording.channels[name])
    if not recording.has(*TRAVEL_CHANNELS):
        use = _clear_of_holes(recording, use, drive)
    for number, corner in enumerate(CORNERS):
        if not recording.has(TRAVEL_CHANNELS[number]):
            continue
        axle = car.front if number < 2 else car.rear
        travel = recording.channels[TRAVEL_CHANNELS[number]]
        highest = _limit(axle.bump_gap_m, bump_mm.get(corner), travel, use, drive)
        lowest = _limit(axle.droop_gap_m, droop_mm.get(corner), -travel, use, drive)
        use &= (travel < highest) & (-travel < lowest)
    return use


def _clear_of_holes(recording: Recording, use: BoolArray, drive: DriveSettings) -> BoolArray:
    """Keep clear of readings that are missing, and further of pushes that were cut off."""
    rate = recording.sample_rate_hz
    clear = ~widen(~use, round(drive.hole_clearance_s * rate))
    clipped = recording.valid & ~use
    further = clear & ~widen(clipped, round(drive.clipped_clearance_s * rate))
    if float(further.sum()) / rate > 2 * drive.shortest_s:
        return further
    enough = float(clear.sum()) / rate >= drive.shortest_s
    if enough and further.sum() < (1 - drive.most_spoilt_share) * clear.sum():
        raise SignalError(
            "force balance: the hub sensors are at their limit so often that speed without travel "
            "sensors is lost; take hub sensors of a wider range, travel sensors, or a smoother road"
        )
    return clear


def _without_contacts(
    parts: tuple[CornerSignals, ...], fit: BalanceFit, car: Car, drive: DriveSettings
) -> tuple[CornerSignals, ...]:
    """Keep out where the integrated travel comes near a stop; slow travel is not in it."""
    kept = []
    for part, block in zip(parts, fit.blocks, strict=True):
        use = part.use.copy()
        for number, travel in enumerate(block.motion.travel_m()):
            axle = car.front if number < 2 else car.rear
            highest = _limit(axle.bump_gap_m, None, travel, part.use, drive)
            lowest = _limit(axle.droop_gap_m, None, -travel, part.use, drive)
            use &= travel < highest - drive.unseen_travel_m * (axle.bump_gap_m is not None)
            use &= -travel < lowest - drive.unseen_travel_m * (axle.droop_gap_m is not None)
        if use.any():
            kept.append(replace(part, use=use))
    free_s = sum(float(part.use.sum()) / part.sample_rate_hz for part in kept)
    if free_s < drive.shortest_s:
        raise NotEnoughDataError(
            "force balance",
            needed=drive.shortest_s,
            found=round(free_s, 1),
            unit="s of log clear of the stops",
        )
    return tuple(kept)


def _limit(
    stated_m: float | None,
    found_mm: Estimate | None,
    travel: FloatArray,
    use: BoolArray,
    drive: DriveSettings,
) -> float:
    """Travel beyond which a stop may touch."""
    if found_mm is not None:
        return found_mm.low / 1000 - drive.stop_clearance_m
    if stated_m is not None:
        return stated_m - drive.stop_clearance_m
    used = travel[use]
    return float(np.quantile(used, 1 - drive.unknown_stop_share)) if used.size else np.inf


def _stretches(
    recording: Recording, car: Car, use: BoolArray, drive: DriveSettings
) -> tuple[CornerSignals, ...]:
    """Equal stretches of the log; the liveliest where it is longer than needed."""
    rate = recording.sample_rate_hz
    usable_s = float(use.sum()) / rate
    if usable_s < drive.shortest_s:
        raise NotEnoughDataError(
            "force balance", needed=drive.shortest_s, found=round(usable_s, 1), unit="s of log"
        )
    count = int(np.ceil(recording.duration_s / drive.longest_stretch_s))
    length = recording.sample_count // count
    starts = [number * length for number in range(count)]
    if recording.duration_s > drive.longest_whole_s:
        most = max(1, round(drive.lively_total_s * rate / length))
        body = recording.channels[BODY_CHANNELS[0]]
        lively = [np.std(np.diff(body[start : start + length : 4])) for start in starts]
        starts = sorted(np.array(starts)[np.argsort(lively)[::-1][:most]].tolist())
    return tuple(_cut(recording, car, use, start, start + length) for start in starts)


def _cut(recording: Recording, car: Car, use: BoolArray, start: int, stop: int) -> CornerSignals:
    part = slice(start, stop)
    travel = hub = at_limit = None
    if recording.has(*TRAVEL_CHANNELS):
        travel = np.stack([recording.channels[name][part] for name in TRAVEL_CHANNELS])
    if recording.has(*HUB_CHANNELS):
        hub = np.stack([recording.channels[name][part] for name in HUB_CHANNELS])
    body = np.stack([recording.channels[name][part] for name in BODY_CHANNELS])
    if hub is not None:
        at_limit = np.stack([cut_off(each) for each in hub])
        hub = mend_cut_off_hubs(hub, body, travel, car, recording.sample_rate_hz)
    return CornerSignals(
        sample_rate_hz=recording.sample_rate_hz,
        body_m_per_s2=body,
        travel_m=travel,
        hub_m_per_s2=hub,
        hub_cut_off=at_limit,
        use=use[part],
    )


def _judge_sides(
    fit: BalanceFit, car: Car, settings: BalanceSettings, drive: DriveSettings
) -> tuple[BalanceFit, dict[str, str], tuple[str, ...]]:
    """Read the log anew with left and right free; keep that only where they do differ."""
    free = weigh_damper_shapes(fit, car, settings, one_side_may_be_tired=True)
    unequal = False
    weak: dict[str, str] = {}
    notes: list[str] = []
    for number in range(2):
        difference, deviation = _side_difference(free, number)
        clear = abs(difference) > max(drive.unequal_share, drive.unequal_deviations * deviation)
        unequal |= clear
        if clear and abs(difference) > drive.weak_share:
            pair = CORNERS[2 * number : 2 * number + 2]
            corner = pair[0] if difference < 0 else pair[1]
            partner = pair[1] if difference < 0 else pair[0]
            share = 100 * max(1 - abs(difference), 0.0) / (1 + abs(difference))
            weak[AXLES[number]] = corner
            notes.append(
                f"the {corner} damper gives {share:.0f} % of what {partner} gives: worn, leaking, "
                "or its knob not where the other one is; look before turning anything"
            )
    if not unequal:
        fit = weigh_damper_shapes(fit, car, settings, one_side_may_be_tired=False)
    return (free if unequal else fit), weak, tuple(notes)


def _side_difference(fit: BalanceFit, number: int) -> tuple[float, float]:
    """Left less right damping of an axle over their sum, and its standard deviation."""

    def difference(parameters: FloatArray) -> FloatArray:
        return side_difference(parameters, fit.layout, number)

    value = float(difference(fit.parameters[None])[0])
    return value, float(random_deviation(fit, difference, DEFAULT_DOUBT))
