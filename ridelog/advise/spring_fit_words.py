"""How springs sit in the damper's travel, in plain words: coil bind, full droop, helpers."""

from __future__ import annotations

from ridelog.advise.spring_fit import RateAtTravel, SpringFit
from ridelog.advise.springs import SpringAdvice
from ridelog.advise.wording import rate_words
from ridelog.car.description import Axle
from ridelog.car.springs import SpringOnSale

SPARE_M = 0.005
"""Room beyond the stop's own squash that is told as little [m] (common practice, no source)."""
SAME_RATE = 0.01
"""Rates nearer than this are told once [1]."""
DISAGREE = 0.10
"""A stated rate further from the sheet's points than this is told [1]."""


def fit_reasons(advice: SpringAdvice, axle: Axle) -> tuple[str, ...]:
    """Say how the springs fitted, and the next ones, sit in the damper's travel.

    Parameters
    ----------
    advice : SpringAdvice
        The spring advice.
    axle : Axle
        The axle.
    """
    reasons: list[str | None] = [_disagreement(axle)]
    if advice.fit_now is not None:
        reasons.extend((_over_travel(advice.fit_now), _faults(advice.fit_now)))
    if advice.fit_next is not None and advice.next_spring is not None:
        reasons.append(_next(advice, advice.next_spring, advice.fit_next, axle))
    if advice.refused is not None:
        spring, fit = advice.refused
        reasons.append(
            f"{spring_name(spring).capitalize()} would come nearer to the target, but does not "
            f"fit: {_why(fit)}."
        )
    return tuple(reason for reason in reasons if reason)


def spring_name(spring: SpringOnSale) -> str:
    """Name a spring on sale: its rate, and what its list calls it.

    Parameters
    ----------
    spring : SpringOnSale
        The spring.
    """
    name = f' "{spring.name}"' if spring.name else ""
    return f"the spring{name} of {rate_words(spring.rate_n_per_m)}"


def _next(advice: SpringAdvice, spring: SpringOnSale, fit: SpringFit, axle: Axle) -> str | None:
    """Say how the next spring sits, and what is not known of it."""
    parts = []
    if spring.name or spring.price is not None:
        price = "" if spring.price is None else f", price {spring.price:g}"
        parts.append(f"that is {spring_name(spring)}{price}")
    if fit.bind_travel_m is not None:
        room = f"its coils touch {fit.bind_travel_m * 1000:.0f} mm into bump"
        if fit.needed_travel_m is not None and axle.bump_gap_m is not None:
            room += (
                f", the bump stop begins at {axle.bump_gap_m * 1000:.0f} mm and is taken to be "
                f"squashed to {fit.needed_travel_m * 1000:.0f} mm"
            )
        parts.append(room)
    if fit.droop_load_n is not None and not fit.loose:
        parts.append(f"at full droop it still carries {fit.droop_load_n:.0f} N")
    now = advice.fit_now
    if fit.helper_closes_m is not None and now is not None and now.helper_closes_m is not None:
        parts.append(
            f"the helper closes {_side(fit.helper_closes_m)} instead of "
            f"{_side(now.helper_closes_m)}"
        )
    if fit.bind_travel_m is None:
        parts.append(
            "free and block length are not known: before you buy, see that free length less block "
            f"length is more than {_needed_mm(fit)} mm"
        )
    return f"The next spring: {'; '.join(parts)}." if parts else None


def _needed_mm(fit: SpringFit) -> str:
    """Squash that a spring must stand without binding [mm]."""
    bump = 0.05 + 0.01 if fit.needed_travel_m is None else fit.needed_travel_m
    return f"{(fit.squash_m + bump) * 1000:.0f}"


def _faults(fit: SpringFit) -> str | None:
    """Say what is wrong with the springs fitted."""
    if fit.binds or fit.loose:
        return f"The springs fitted do not suit the damper's travel: {_why(fit)}."
    spare = None
    if fit.bind_travel_m is not None and fit.needed_travel_m is not None:
        spare = fit.bind_travel_m - fit.needed_travel_m
    if spare is not None and spare < SPARE_M:
        return (
            f"The springs fitted have little room: their coils touch {spare * 1000:.0f} mm after "
            "the bump stop is squashed."
        )
    return None


def _why(fit: SpringFit) -> str:
    """Say why springs do not fit."""
    parts = []
    if fit.binds and fit.bind_travel_m is not None and fit.needed_travel_m is not None:
        parts.append(
            f"the coils touch {fit.bind_travel_m * 1000:.0f} mm into bump, before the bump stop is "
            f"squashed at some {fit.needed_travel_m * 1000:.0f} mm, which breaks perches and "
            "dampers"
        )
    if fit.loose and fit.loose_m is not None:
        parts.append(
            f"loose by {fit.loose_m * 1000:.0f} mm at full droop, so that it can leave its seat; a "
            "longer spring does not help, a helper spring or a droop limit does"
        )
    return "; ".join(parts)


def _side(travel_m: float) -> str:
    """Say a travel from ride height."""
    if abs(travel_m) < 0.0005:
        return "at ride height"
    return f"{abs(travel_m) * 1000:.0f} mm {'into bump' if travel_m > 0 else 'into droop'}"


def _over_travel(fit: SpringFit) -> str | None:
    """Say how rate and frequency change with travel."""
    if not fit.over_travel:
        return None
    rows = "; ".join(f"{_side(row.travel_m)} {_rate(row)}" for row in _telling(fit.over_travel))
    closing = fit.helper_closes_m
    begin = "The spring's rate changes with travel"
    if closing is not None:
        state = "closed" if closing <= 0 else "open"
        begin = (
            f"The helper is {state} at ride height and closes {_side(closing)} at the damper, with "
            "the cross-over there"
        )
    end = ""
    if closing is not None and abs(closing) < _NEAR_M:
        end = (
            " So near to ride height the rate jumps in the middle of every drive: the measured "
            "frequency is a mean of both sides, and the car may feel different over small and "
            "large bumps."
        )
    return f"{begin}: {rows} (for small motions about that travel; ride height as stated).{end}"


def _telling(rows: tuple[RateAtTravel, ...]) -> tuple[RateAtTravel, ...]:
    """Leave out travels at which the rate is that of the neighbour towards ride height."""
    middle = min(range(len(rows)), key=lambda place: abs(rows[place].travel_m))

    def differs(place: int) -> bool:
        inner = rows[place + (1 if place < middle else -1)]
        return abs(rows[place].rate_n_per_m / inner.rate_n_per_m - 1) > SAME_RATE

    return tuple(r for place, r in enumerate(rows) if place == middle or differs(place))


_NEAR_M = 0.012
"""A cross-over nearer to ride height than this [m] is passed all the time: the rms travel of
ordinary roads at the damper (common practice, no source)."""


def _rate(row: RateAtTravel) -> str:
    return f"{row.rate_n_per_m / 1000:.1f} N/mm, {row.body_frequency_hz:.2f} Hz"


def _disagreement(axle: Axle) -> str | None:
    """Say where the stated rate does not follow from the points of a progressive spring."""
    stack = axle.spring_stack
    if stack is None or not stack.progressive or stack.helper or stack.inner:
        return None
    ratio = stack.stated_rate_n_per_m / axle.spring_rate_n_per_m
    if abs(ratio - 1) < DISAGREE:
        return None
    return (
        f"By the spring's points it has {rate_words(axle.spring_rate_n_per_m)} at ride height, the "
        f"car file's spring_rate says {rate_words(stack.stated_rate_n_per_m)}: the points are "
        "used. Check them, the sprung mass and the motion ratio."
    )
