"""The drive that will tell most: bounce test, road, speed, length, one hump, repeats."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import ceil, inf

from ridelog.advise.plan_hump import plan_hump
from ridelog.advise.plan_result import Need, Plan, Width
from ridelog.advise.plan_steps import bounce_tells, plan_steps
from ridelog.advise.plan_table import typical
from ridelog.advise.trade_facts import DRIVE_SAFETY
from ridelog.car.description import Car
from ridelog.errors import RidelogError
from ridelog.estimate.result import Estimate
from ridelog.recording import (
    AXLES,
    BODY_CHANNELS,
    CORNERS_OF_AXLE,
    HUB_CHANNELS,
    TRAVEL_CHANNELS,
)
from ridelog.runs.collect import Run
from ridelog.runs.plan_inputs import WantedWidths

# Class, in words, and the speed the table was measured at [m/s]; in the order of preference.
# Nobody is sent onto a class D road: it is hard on the car and reaches the stops.
ROADS = {
    "B": ("an ordinary country road in fair repair", 18.0),
    "C": ("a worn, patched back road", 14.0),
    "A": ("a smooth main road", 22.0),
}
QUANTITIES = ("damping_ratio", "body_frequency_hz")
LONGEST_DRIVE_S = 180.0
SHORTEST_DRIVE_S = 60.0
MOST_REPEATS = 6


def sensor_set(channels: Iterable[str]) -> str | None:
    """Name the set of sensors by which an analysis would go; None where nothing can be told.

    Parameters
    ----------
    channels : iterable of str
        Channels of a log.

    References
    ----------
    The same order of choice as `ridelog.estimate.drive`.
    """
    have = set(channels)
    body, travel, hub = (
        have.issuperset(names) for names in (BODY_CHANNELS, TRAVEL_CHANNELS, HUB_CHANNELS)
    )
    if body and (travel or hub):
        parts = ("travel" if travel else "", "body", "hub" if hub else "")
        return "+".join(part for part in parts if part)
    for kind in ("body", "travel"):
        pairs = ({f"{kind}_{c}" for c in CORNERS_OF_AXLE[name]} for name in AXLES)
        if all(have & pair for pair in pairs):
            return kind
    on_body = have & {*BODY_CHANNELS, "cabin", "seat"}
    return "one" if on_body else None


def plan_drive(
    car: Car, channels: Iterable[str], runs: Sequence[Run] = (), wish: WantedWidths | None = None
) -> Plan:
    """Plan the next measurement.

    Parameters
    ----------
    car : Car
        The car.
    channels : iterable of str
        What will be logged.
    runs : sequence of Run
        Earlier runs; their own intervals take the place of the usual ones.
    wish : WantedWidths, optional
        Half-widths wanted.

    Raises
    ------
    RidelogError
        The sensors can tell neither frequency nor damping.

    Notes
    -----
    The random part of an interval shrinks with one over the root of the driving time, what stays
    does not. How the two share an interval is measured on simulated cars; the sizes come from
    earlier runs where there are any.

    References
    ----------
    ``tests/bench/plan_table.py``; standard error of a mean.
    """
    wish = wish or WantedWidths()
    channels = tuple(channels)
    sensors = sensor_set(channels)
    if sensors is None:
        raise RidelogError(
            "these sensors tell neither frequency nor damping: it takes one accelerometer on the "
            "body at least; name them with --sensors"
        )
    road, needs = _best_road(sensors, runs, wish)
    seconds, repeats = _length(needs)
    hump = plan_hump(car, runs)
    words, speed = ROADS[road]
    plan = Plan(
        sensors=sensors,
        bounce=bounce_tells(channels),
        wish=wish,
        road=road,
        road_words=words,
        speed_m_per_s=speed,
        seconds=seconds,
        repeats=repeats,
        needs=needs,
        hump=hump,
        steps=(),
        safety=DRIVE_SAFETY,
        notes=_notes(sensors, needs),
    )
    return replace(plan, steps=plan_steps(plan, channels, None if _turned(runs) else car))


def _turned(runs: Sequence[Run]) -> bool:
    """Whether earlier drives were made at more than one setting of the knobs."""
    drives = (run.setup for run in runs if run.analysis.log.kind == "drive" and run.setup)
    return len({str((s.clicks, s.bump_clicks, s.rebound_clicks)) for s in drives}) > 1


def _best_road(
    sensors: str, runs: Sequence[Run], wish: WantedWidths
) -> tuple[str, tuple[Need, ...]]:
    """Road on which the slowest wish comes true soonest; by what is left where none does."""
    ranked = []
    for order, road in enumerate(ROADS):
        needs = tuple(_needs(sensors, road, runs, wish))
        if not needs:
            continue
        slowest = max(inf if need.seconds is None else need.seconds for need in needs)
        left = max(need.width.after(LONGEST_DRIVE_S) / need.wanted for need in needs)
        # Within one drive it does not matter which road is a little quicker.
        rank = (max(slowest, LONGEST_DRIVE_S), left if slowest == inf else 0.0, order)
        ranked.append((rank, road, needs))
    if not ranked:
        return next(iter(ROADS)), ()
    _, road, needs = min(ranked, key=lambda each: each[0])
    return road, needs


def _needs(sensors: str, road: str, runs: Sequence[Run], wish: WantedWidths) -> list[Need]:
    found = []
    for quantity in QUANTITIES:
        wanted = getattr(wish, quantity)
        if wanted is None:
            continue
        for width in _widths(sensors, road, runs, quantity):
            room = wanted**2 - width.lasting**2
            seconds = None if room <= 0 else 60.0 * width.shrinking**2 / room
            found.append(Need(width=width, wanted=wanted, seconds=seconds))
    return found


def _widths(sensors: str, road: str, runs: Sequence[Run], quantity: str) -> list[Width]:
    """Widths by axle from earlier runs with the same sensors, else the usual one."""
    usual = typical(sensors, road, quantity)
    if usual is None:
        return []
    own = [_own_width(sensors, road, runs, quantity, axle) for axle in AXLES]
    told = [width for width in own if width is not None]
    if told:
        return told
    place = "the body as a whole" if sensors == "one" else "either axle"
    return [
        Width(
            quantity=quantity,
            place=place,
            shrinking=usual.shrinking,
            lasting=(usual.stuck**2 + usual.systematic**2) ** 0.5,
            source="usual for these sensors",
            remedy=_usual_remedy(sensors, quantity),
            wide=usual.wide,
        )
    ]


def _own_width(
    sensors: str, road: str, runs: Sequence[Run], quantity: str, axle: str
) -> Width | None:
    """Width of the narrowest earlier result, its random part shared out as is usual."""
    usual = typical(sensors, road, quantity)
    best: tuple[float, Run, Estimate] | None = None
    for run in runs:
        result = run.analysis.axles.get(axle)
        estimate: Estimate | None = getattr(result, quantity, None)
        same = sensor_set(run.analysis.log.channels) == sensors
        if estimate is None or not same or run.analysis.log.kind != "drive":
            continue
        width = (estimate.high - estimate.low) / 2 / estimate.value
        if best is None or width < best[0]:
            best = (width, run, estimate)
    if best is None or usual is None:
        return None
    total, run, estimate = best
    random = estimate.random_half_width
    share = total if random is None else random / estimate.value
    systematic = 0.0 if random is None else (estimate.systematic_half_width or 0.0) / estimate.value
    minutes = min(run.analysis.log.duration_s, LONGEST_DRIVE_S) / 60.0
    variance = usual.shrinking**2 / minutes + usual.stuck**2
    shrinks = usual.shrinking**2 / minutes / variance if variance else 1.0
    return Width(
        quantity=quantity,
        place=axle,
        shrinking=share * (shrinks * minutes) ** 0.5,
        lasting=(share**2 * (1 - shrinks) + systematic**2) ** 0.5,
        source=f"measured in {run.file}",
        remedy=estimate.largest_contributor or _usual_remedy(sensors, quantity),
    )


def _usual_remedy(sensors: str, quantity: str) -> str:
    if quantity == "body_frequency_hz":
        return "masses, motion ratio, tyre rate and sensor gains"
    if "+" in sensors:
        return "the damper's first millimetres per second: friction and a soft start look alike"
    return "the shape of the damper's curve, which these sensors do not see"


def _length(needs: Sequence[Need]) -> tuple[float, int]:
    """Length of one drive [s] and how often; twice three minutes where no length will do."""
    reached = [need.seconds for need in needs if need.seconds is not None]
    if len(reached) < len(needs) or not needs:
        return LONGEST_DRIVE_S, 2
    total = max(reached)
    repeats = min(max(1, ceil(total / LONGEST_DRIVE_S - 1e-9)), MOST_REPEATS)
    each = max(SHORTEST_DRIVE_S, min(LONGEST_DRIVE_S, total / repeats))
    return 10.0 * ceil(each / 10.0), repeats


def _notes(sensors: str, needs: Sequence[Need]) -> tuple[str, ...]:
    notes = []
    words = {"damping_ratio": "damping ratio", "body_frequency_hz": "body frequency"}
    for need in needs:
        if need.seconds is None:
            notes.append(
                f"{words[need.width.quantity]}, {need.width.place}: +-{100 * need.wanted:.3g} % is "
                f"out of reach with these sensors, +-{100 * need.width.lasting:.2g} % is left "
                f"however long you drive. What is left: {need.width.remedy}."
            )
        elif need.seconds > MOST_REPEATS * LONGEST_DRIVE_S:
            notes.append(
                f"{words[need.width.quantity]}, {need.width.place}: +-{100 * need.wanted:.3g} % "
                f"would take {need.seconds / 60:.0f} minutes; better sensors are quicker."
            )
    if not needs:
        notes.append("These sensors tell the bounce of the car as a whole at best, and roughly.")
    wide = {need.width.quantity: need.width.wide for need in needs if need.width.wide}
    if wide:
        said = ", ".join(f"+-{100 * width:.2g} % ({words[name]})" for name, width in wide.items())
        notes.append(
            "Usual widths are the middle of simulated cars of all kinds with these sensors; one "
            f"axle in four stays above {said} after a minute. After the first drive plan again: "
            "then the car's own width counts."
        )
    if sensors == "one":
        notes.append("A second accelerometer over the other axle tells the axles apart.")
    return tuple(notes)
