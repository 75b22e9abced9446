"""How many contacts with a bump stop a change would have avoided, replayed on the log's own.

Where the stop is moved the measured depths tell directly. Where springs or dampers change, travel
is scaled as that of a linear car would, which is rough.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

FREE_DEPTH_RATIO = 1.2
"""How much deeper a contact would have gone without the rubber's push. On simulated cars with gaps
4 and 8 mm wider this leaves 95-105 % of the contacts that were left; 1.0 leaves 92-100 %."""
HELPED_SHARE = 0.8
"""Share of contacts that a proposed change should avoid; the deepest few are potholes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Replay:
    """Contacts of known depth, and how many of them a change would have avoided.

    `avoided_low` to `avoided_high` where the log cannot tell which it would be.
    """

    contacts: int
    avoided_low: int
    avoided_high: int


def avoided_by_gap(depths_mm: Sequence[float], wider_mm: float) -> Replay:
    """Replay contacts with a wider gap: the axle raised or the stop shortened.

    Parameters
    ----------
    depths_mm : sequence of float
        Depths past the touch point [mm], at the damper.
    wider_mm : float
        How much wider the gap is [mm], at the damper.

    References
    ----------
    Derived here: a contact that went deeper than the gap is wider is still one; depths are taken
    1.2 times as deep, as the stop held them back.
    """
    avoided = sum(1 for depth in depths_mm if FREE_DEPTH_RATIO * depth <= wider_mm)
    return Replay(contacts=len(depths_mm), avoided_low=avoided, avoided_high=avoided)


def avoided_by_damping(depths_mm: Sequence[float], gap_mm: float, ratio: float) -> Replay:
    """Replay contacts with more damping, bump and rebound together.

    Parameters
    ----------
    depths_mm : sequence of float
        Depths past the touch point [mm], at the damper.
    gap_mm : float
        Gap from ride height [mm], at the damper.
    ratio : float
        Damping next over now [1].

    Notes
    -----
    Rough: one mass on a road whose slope is white noise travels in proportion to damping to the
    power -1/2. On simulated cars with 20 % more damping this left 98 % of the contacts that were
    left.

    References
    ----------
    Derived here: the mean square of spring travel of one mass, spring and damper under white noise
    of the road's slope is S m / (2 c); given in the same form in textbooks on random vibration.
    """
    return _scaled(depths_mm, gap_mm, (ratio**-0.5, ratio**-0.5))


def avoided_by_spring(depths_mm: Sequence[float], gap_mm: float, ratio: float) -> Replay:
    """Replay contacts with stiffer springs at the same ride height.

    Parameters
    ----------
    depths_mm : sequence of float
        Depths past the touch point [mm], at the damper.
    gap_mm : float
        Gap from ride height [mm], at the damper.
    ratio : float
        Spring rate next over now [1].

    Notes
    -----
    From none to all that would stop short if travel went with 1 / rate. On a rough road travel does
    not depend on the spring (see `avoided_by_damping`); under load, braking and in long dips it
    goes with 1 / rate. On simulated rough drives 20 % stiffer springs avoided 6 % of contacts.

    References
    ----------
    Derived here.
    """
    return _scaled(depths_mm, gap_mm, (1.0, 1 / ratio))


def gap_for_most(depths_mm: Sequence[float]) -> float | None:
    """How much wider the gap must be to avoid most contacts [mm]; None without depths.

    Parameters
    ----------
    depths_mm : sequence of float
        Depths past the touch point [mm], at the damper.
    """
    if not depths_mm:
        return None
    ranked = sorted(depths_mm)
    place = -int(-HELPED_SHARE * len(ranked) // 1) - 1
    return FREE_DEPTH_RATIO * ranked[max(place, 0)]


def _scaled(depths_mm: Sequence[float], gap_mm: float, scales: tuple[float, float]) -> Replay:
    """Count peaks that stay short of the stop once travel is scaled."""
    peaks = [gap_mm + FREE_DEPTH_RATIO * depth for depth in depths_mm]
    low, high = (sum(1 for peak in peaks if scale * peak <= gap_mm) for scale in scales)
    return Replay(contacts=len(peaks), avoided_low=low, avoided_high=high)
