"""The steps of a planned measurement in words."""

from __future__ import annotations

from collections.abc import Sequence

from ridelog.advise.knob_part import KNOBS, knob_label
from ridelog.advise.plan_result import HumpPlan, Plan, PlanStep
from ridelog.advise.plan_table import typical
from ridelog.car.description import Car
from ridelog.recording import AXLES, CORNERS_OF_AXLE

BOUNCE_S = 60
CLICK_SENSORS = ("travel+body+hub", "travel+body", "body+hub")
"""Sensors that read damping well enough for half a drive to tell a third of a knob's travel."""


def plan_steps(plan: Plan, channels: Sequence[str], car: Car | None = None) -> tuple[PlanStep, ...]:
    """Put the steps in order.

    Parameters
    ----------
    plan : Plan
        What was chosen.
    channels : sequence of str
        What will be logged.
    car : Car, optional
        The car, where none of its knobs has been turned in an earlier run.

    References
    ----------
    Order and manner are common practice, no source.
    """
    steps = [_before(), _bounce(channels), _stand(), _drive(plan)]
    knobs = None if car is None or plan.sensors not in CLICK_SENSORS else _knobs(car)
    steps.extend((*((knobs,) if knobs else ()), _hump(plan.hump), _corners(channels)))
    steps.append(
        PlanStep(
            name="At home",
            do="Write clicks, springs, pressures, heights and load into the setup file beside the "
            "log. Then `ridelog check`, then `ridelog analyze`, then plan again.",
            tells="whether the drive was long enough",
        )
    )
    return tuple(steps)


def _before() -> PlanStep:
    return PlanStep(
        name="Before",
        do="Pressures cold, fuel and load as usual, knobs counted and written down. Logger "
        "fastened, cables clear of wheels, shafts and exhaust. Start recording before anything.",
        tells="that the next drive can be compared with this one",
    )


def _bounce(channels: Sequence[str]) -> PlanStep:
    if not bounce_tells(channels):
        return PlanStep(
            name="Bounce test",
            do="Leave it out: it takes a body accelerometer over each axle.",
            tells="nothing with these sensors",
        )
    said = []
    for quantity, words in (("body_frequency_hz", "body frequency"), ("damping_ratio", "damping")):
        usual = typical("bounce", "-", quantity)
        if usual is not None:
            width = (usual.shrinking**2 + usual.stuck**2 + usual.systematic**2) ** 0.5
            said.append(f"{words} to +-{100 * width:.2g} %")
    return PlanStep(
        name="Bounce test",
        do=f"Level ground, engine off, brake off, wheels chocked; {BOUNCE_S} s, a log of its own. "
        "Pump a bumper three times in the car's own rhythm, let go at the lowest point, hands off "
        "for 5 s. Three times in front, three times behind, twice in the middle.",
        tells="; ".join((*said, "friction apart from damping")),
    )


def bounce_tells(channels: Sequence[str]) -> bool:
    """Tell whether a bounce test says anything: it takes a body accelerometer over each axle.

    Parameters
    ----------
    channels : sequence of str
        What will be logged.

    References
    ----------
    `ridelog.estimate.free_decay`.
    """
    return all(any(f"body_{c}" in channels for c in CORNERS_OF_AXLE[name]) for name in AXLES)


def _stand() -> PlanStep:
    return PlanStep(
        name="Stand",
        do="Level ground, engine idling, nobody moving: 10 s. Again at the end.",
        tells="zero of the travel sensors, which way is down",
    )


def _drive(plan: Plan) -> PlanStep:
    kph = round(3.6 * plan.speed_m_per_s / 5) * 5
    metres = plan.speed_m_per_s * plan.seconds
    often = {1: "once", 2: "twice"}.get(plan.repeats, f"{plan.repeats} times")
    times = often if plan.repeats == 1 else f"{often}, the same stretch and way"
    return PlanStep(
        name="Drive",
        do=f"Class {plan.road} by ISO 8608: {plan.road_words}. {plan.seconds:.0f} s at about "
        f"{kph} km/h where that is lawful and safe, slower where not; {metres / 1000:.1f} km, "
        f"{times}. Vary the speed by a fifth, no hard braking; straight for the most part.",
        tells=_expected(plan),
    )


def third_of(last: int) -> int:
    """Clicks in a third of a knob's travel, at least one.

    Parameters
    ----------
    last : int
        Highest click [1].
    """
    return max(1, round(last / 3))


def _knobs(car: Car) -> PlanStep | None:
    """Drive the second half at other clicks, so that the first drive tells what a click does."""
    turns: list[str] = []
    for name in AXLES:
        axle = car.axle(name)
        turns.extend(
            f"{name} {knob_label(axle, knob)}{third_of(last)} of {last} clicks"
            for knob in KNOBS
            if (last := getattr(axle, knob))
        )
    if not turns:
        return None
    return PlanStep(
        name="Knobs",
        do="The first time, drive it in two halves, each a log of its own with a setup file of its "
        "own. In between stop where it is safe and turn every knob a third of its travel, away "
        f"from the end that is nearer, left and right alike ({', '.join(turns)}); the same stretch "
        "and way again, gently until the car is known to behave.",
        tells="what a click does: on simulated cars 7 in 10 then stood right on both axles in the "
        "second drive, instead of 4 in 10",
    )


def _expected(plan: Plan) -> str:
    words = {"damping_ratio": "damping ratio", "body_frequency_hz": "body frequency"}
    said = [
        f"{words[need.width.quantity]} ({need.width.place}) to "
        f"+-{100 * need.width.after(plan.total_s):.2g} %"
        for need in plan.needs
    ]
    return "; ".join(said) or "bounce of the car as a whole"


def _hump(hump: HumpPlan) -> PlanStep:
    kph = round(3.6 * hump.speed_m_per_s)
    travel = ", ".join(f"{name} {1000 * hump.travel_m[name]:.0f} mm" for name in AXLES)
    speed = max(hump.damper_speed_m_per_s.values())
    doubt = "" if hump.gap_known else " The car file states no bump_gap, so a short one is taken."
    return PlanStep(
        name="One hump",
        do="A rounded traffic hump (some 75 mm high, 3.7 m long), both wheels alike: first at "
        f"half the speed, then at {kph} km/h and no more.{doubt}",
        tells=f"dampers at up to {speed:.2f} m/s; bump travel about {travel}",
    )


def _corners(channels: Sequence[str]) -> PlanStep:
    pair = any(all(f"travel_{c}" in channels for c in CORNERS_OF_AXLE[name]) for name in AXLES)
    if not pair or "body_lat" not in channels:
        return PlanStep(
            name="Corners",
            do="Not needed: the roll gradient takes lateral acceleration and both travels of an "
            "axle.",
            tells="nothing with these sensors",
        )
    return PlanStep(
        name="Corners",
        do="Three long steady bends each way, or a roundabout twice round, well below the grip of "
        "the tyres and only where nobody else is.",
        tells="roll gradient in degrees per g",
    )
