"""The plan in words, shared by terminal and page."""

from __future__ import annotations

from ridelog.advise.plan_result import Need, Plan

QUANTITY_WORDS = {"damping_ratio": "damping ratio", "body_frequency_hz": "body frequency"}
SENSOR_WORDS = {
    "travel+body+hub": "travel, body and hub at all corners",
    "travel+body": "travel and body at all corners",
    "body+hub": "body and hub at all corners",
    "body": "body accelerometers over both axles",
    "travel": "travel sensors alone",
    "one": "one accelerometer on the body",
}

NeedRow = tuple[str, str, str, str, str]


def headline(plan: Plan) -> str:
    """Say the drive in one line.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    kph = round(3.6 * plan.speed_m_per_s / 5) * 5
    times = "one drive" if plan.repeats == 1 else f"{plan.repeats} drives"
    drive = f"{times} of {plan.seconds:.0f} s on a class {plan.road} road at about {kph} km/h"
    return f"Bounce test, then {drive}" if plan.bounce else f"{drive[:1].upper()}{drive[1:]}"


# A drive any shorter meets too little road to judge its own intervals by.
_LEAST_TOLD_S = 30.0


def need_rows(plan: Plan) -> tuple[NeedRow, ...]:
    """Rows of number, wanted, in one minute, after the plan, driving it takes.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    return tuple(
        (
            f"{QUANTITY_WORDS[need.width.quantity]}, {need.width.place}",
            _share(need.wanted),
            _share(need.width.after(60.0)),
            _share(need.width.after(plan.total_s)),
            _time(need),
        )
        for need in plan.needs
    )


def sources(plan: Plan) -> str:
    """Say where the widths come from: ``usual for these sensors`` or the runs' names.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    return "; ".join(dict.fromkeys(f"{need.width.source}" for need in plan.needs))


def _share(value: float) -> str:
    return f"+-{100 * value:.2g} %"


def _time(need: Need) -> str:
    if need.seconds is None:
        return "out of reach"
    if need.seconds < _LEAST_TOLD_S:
        return f"under {_LEAST_TOLD_S:.0f} s"
    return f"{need.seconds:.0f} s" if need.seconds < 600 else f"{need.seconds / 60:.0f} min"
