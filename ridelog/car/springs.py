"""What stands on an axle's springs beyond one rate: sheets, stacks, what is on sale."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from ridelog.car.spring_law import (
    SpringLaw,
    linear_law,
    load_points_law,
    rate_at_load_n_per_m,
    rate_points_law,
    with_inner,
)
from ridelog.recording import STANDARD_GRAVITY_M_PER_S2

if TYPE_CHECKING:
    from ridelog.car.description import Axle


@dataclass(frozen=True, slots=True, kw_only=True)
class HelperSpring:
    """A softer spring on top of the main one; closed once squashed by `travel_m`."""

    rate_n_per_m: float
    travel_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class InnerSpring:
    """A shorter spring inside the main one; carries once that is squashed by `gap_m`."""

    rate_n_per_m: float
    gap_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringStack:
    """The springs of one corner as their sheets describe them.

    `stated_rate_n_per_m` is the main spring's rate in the car file. Points are (squash from free
    length, rate or load) of a progressive main spring; then they and the corner's weight say what
    its rate at ride height is. Lengths are the main spring's own: free, and with its coils
    touching.
    """

    stated_rate_n_per_m: float
    free_length_m: float | None = None
    block_length_m: float | None = None
    rate_points: tuple[tuple[float, float], ...] = ()
    load_points: tuple[tuple[float, float], ...] = ()
    helper: HelperSpring | None = None
    inner: InnerSpring | None = None

    @property
    def progressive(self) -> bool:
        """Whether the main spring's own rate changes with travel."""
        return bool(self.rate_points or self.load_points)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringOnSale:
    """One spring the owner can buy; None where his list does not say."""

    rate_n_per_m: float
    name: str = ""
    free_length_m: float | None = None
    block_length_m: float | None = None
    price: float | None = None


def spring_load_n(axle: Axle) -> float:
    """Load on one corner's spring at ride height [N]: the corner's weight over the motion ratio.

    Parameters
    ----------
    axle : Axle
        Sprung mass and motion ratio.

    References
    ----------
    Virtual work; the body's weight on both springs of the axle.
    """
    return axle.sprung_mass_kg / 2 * STANDARD_GRAVITY_M_PER_S2 / axle.motion_ratio


def main_rate_n_per_m(axle: Axle) -> float:
    """Rate of the main spring at ride height [N/m], by the car file; what a catalogue calls it.

    Parameters
    ----------
    axle : Axle
        The axle.
    """
    stack = axle.spring_stack
    if stack is None:
        return axle.spring_rate_n_per_m
    if not stack.progressive:
        return stack.stated_rate_n_per_m
    alone = replace(law_of(axle), helper_rate_n_per_m=None)
    return float(rate_at_load_n_per_m(alone, spring_load_n(axle)))


def law_of(axle: Axle, main_n_per_m: float | None = None) -> SpringLaw:
    """Force law of an axle's springs, or of the same stack round another, plain main spring.

    Parameters
    ----------
    axle : Axle
        The axle.
    main_n_per_m : float, optional
        Rate of the other main spring [N/m].
    """
    stack = axle.spring_stack
    if stack is None:
        return linear_law(main_n_per_m or axle.spring_rate_n_per_m)
    if main_n_per_m is not None:
        law = linear_law(main_n_per_m)
    elif stack.rate_points:
        law = rate_points_law(stack.rate_points)
    elif stack.load_points:
        law = load_points_law(stack.load_points)
    else:
        law = linear_law(stack.stated_rate_n_per_m)
    if stack.inner is not None:
        law = with_inner(law, stack.inner.rate_n_per_m, stack.inner.gap_m)
    if stack.helper is not None:
        law = replace(
            law,
            helper_rate_n_per_m=stack.helper.rate_n_per_m,
            helper_travel_m=stack.helper.travel_m,
        )
    return law


def rate_at_ride_height_n_per_m(axle: Axle, main_n_per_m: float | None = None) -> float:
    """Rate of the whole stack under the standing car [N/m].

    Parameters
    ----------
    axle : Axle
        The axle.
    main_n_per_m : float, optional
        Rate of another, plain main spring [N/m] in place of the present one.
    """
    return float(rate_at_load_n_per_m(law_of(axle, main_n_per_m), spring_load_n(axle)))


def with_stack(axle: Axle, stack: SpringStack) -> Axle:
    """Return an axle on a stack of springs, its spring rate that at ride height.

    Parameters
    ----------
    axle : Axle
        The axle.
    stack : SpringStack
        Its springs.
    """
    stacked = replace(axle, spring_stack=stack)
    return replace(stacked, spring_rate_n_per_m=rate_at_ride_height_n_per_m(stacked))


def with_main_rate(axle: Axle, rate_n_per_m: float) -> Axle:
    """Return an axle with another main spring of a plain rate; helper and inner spring stay.

    Parameters
    ----------
    axle : Axle
        The axle.
    rate_n_per_m : float
        Rate of the main spring [N/m].
    """
    stack = axle.spring_stack
    if stack is None:
        return replace(axle, spring_rate_n_per_m=rate_n_per_m)
    if any(
        same_rate(rate_n_per_m, r) for r in (stack.stated_rate_n_per_m, main_rate_n_per_m(axle))
    ):
        return axle
    plain = SpringStack(stated_rate_n_per_m=rate_n_per_m, helper=stack.helper, inner=stack.inner)
    return with_stack(axle, plain)


def same_rate(a_n_per_m: float, b_n_per_m: float) -> bool:
    """Whether two stated rates name the same spring.

    Parameters
    ----------
    a_n_per_m, b_n_per_m : float
        Stated rates [N/m].

    References
    ----------
    Within 0.5 %, below any maker's step: common practice, no source.
    """
    return abs(a_n_per_m / b_n_per_m - 1) < 0.005
