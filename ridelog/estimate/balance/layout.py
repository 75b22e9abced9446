"""Which entry of the parameter vector means what."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.estimate.balance.basis import BasisSettings

# Groups of four channel corrections that a sensor set leaves open, order fl fr rl rr.
TRAVEL_DELAY = "travel_delay"
HUB_DELAY = "hub_delay"
HUB_GAIN = "hub_gain"
BODY_DELAY = "body_delay"
BODY_GAIN = "body_gain"
# Not a channel's but the damper's: how late its force comes through a soft mount [s].
DAMPER_LAG = "damper_lag"


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """Places in the parameter vector.

    Per corner: spring rate at the damper [N/m], slopes of the bump and rebound pieces [N s/m],
    friction of each width [N]. Then dynamic index of pitch [-], roll inertia [kg m2], anti-roll
    bar rates at the dampers of one axle [N/m], and the open channel corrections in `groups`.
    """

    basis: BasisSettings
    groups: tuple[str, ...]

    @property
    def per_corner(self) -> int:
        """Parameters of one corner."""
        return 1 + self.basis.column_count

    @property
    def mechanical_count(self) -> int:
        """Parameters of the car, without the channels'."""
        return 4 * self.per_corner + 4

    @property
    def count(self) -> int:
        """All parameters."""
        return self.mechanical_count + 4 * len(self.groups)

    def corner(self, corner: int) -> slice:
        """All parameters of a corner."""
        return slice(corner * self.per_corner, (corner + 1) * self.per_corner)

    def spring(self, corner: int) -> int:
        """Spring rate of a corner."""
        return corner * self.per_corner

    def bump(self, corner: int) -> slice:
        """Bump slopes of a corner."""
        start = self.spring(corner) + 1
        return slice(start, start + self.basis.segment_count)

    def rebound(self, corner: int) -> slice:
        """Rebound slopes of a corner."""
        start = self.bump(corner).stop
        return slice(start, start + self.basis.segment_count)

    def pieces(self, corner: int) -> slice:
        """Bump and rebound slopes of a corner."""
        return slice(self.bump(corner).start, self.rebound(corner).stop)

    def friction(self, corner: int) -> slice:
        """Friction forces of a corner."""
        start = self.rebound(corner).stop
        return slice(start, start + len(self.basis.friction_widths_m_per_s))

    @property
    def dynamic_index(self) -> int:
        """Pitch inertia over sprung mass times the distances to both axles."""
        return 4 * self.per_corner

    @property
    def roll_inertia(self) -> int:
        """Roll inertia of the body."""
        return 4 * self.per_corner + 1

    def bar(self, axle: int) -> int:
        """Anti-roll bar of an axle."""
        return 4 * self.per_corner + 2 + axle

    def group(self, name: str) -> slice:
        """Channel corrections of one group."""
        start = self.mechanical_count + 4 * self.groups.index(name)
        return slice(start, start + 4)
