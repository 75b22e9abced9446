"""Coil springs from what a caliper can measure: rate, solid height, a helper that joins late."""

from __future__ import annotations

from dataclasses import dataclass

#: Shear modulus of spring steel [Pa]; handbooks give 78.5 to 81.4 GPa.
STEEL_SHEAR_MODULUS_PA = 79.3e9


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedDeflection:
    """Deflections [m] and forces [N] of a spring and the shorter one inside it."""

    outer_deflection_m: float
    inner_deflection_m: float
    outer_force_n: float
    inner_force_n: float


def coil_spring_rate(
    wire_diameter: float,
    mean_diameter: float,
    active_coils: float,
    shear_modulus: float = STEEL_SHEAR_MODULUS_PA,
) -> float:
    """Rate of a round-wire coil spring [N/m].

    Parameters
    ----------
    wire_diameter : float
        Wire diameter [m].
    mean_diameter : float
        Coil diameter from wire centre to wire centre [m].
    active_coils : float
        Coils free to move [count]; with closed ends two fewer than all.
    shear_modulus : float
        Shear modulus [Pa].

    Notes
    -----
    The rate goes with the fourth power of the wire: 1 % of wire is 4 % of rate, and paint counts.
    Good to some 5 %; measuring force and deflection is better. Coils of one pitch and diameter.

    References
    ----------
    D. Barton and J. Fieldhouse, Automotive Chassis Engineering (2018), p. 213;
    V. B. Bhandari, Design of Machine Elements, ch. 10.
    """
    return shear_modulus * wire_diameter**4 / (8 * mean_diameter**3 * active_coils)


def solid_height(wire_diameter: float, active_coils: float) -> float:
    """Height of a spring with squared and ground ends when its coils touch [m].

    Parameters
    ----------
    wire_diameter : float
        Wire diameter [m].
    active_coils : float
        Coils free to move [count].

    References
    ----------
    V. B. Bhandari, Design of Machine Elements, ch. 10 (two inactive coils).
    """
    return wire_diameter * (active_coils + 2)


def nested_deflection(
    force: float, outer_rate: float, inner_rate: float, gap: float
) -> NestedDeflection:
    """Deflection of a spring with a shorter one inside, as a bump stop joins the main spring.

    Parameters
    ----------
    force : float
        Force on both together [N], not negative.
    outer_rate, inner_rate : float
        Rates [N/m].
    gap : float
        Deflection of the outer spring at which the inner one begins to carry [m].

    References
    ----------
    V. B. Bhandari, Design of Machine Elements, ch. 10 (concentric springs of unequal length).
    """
    alone = force / outer_rate
    together = (force + inner_rate * gap) / (outer_rate + inner_rate)
    deflection = together if alone > gap else alone
    inner = max(deflection - gap, 0.0)
    return NestedDeflection(
        outer_deflection_m=deflection,
        inner_deflection_m=inner,
        outer_force_n=outer_rate * deflection,
        inner_force_n=inner_rate * inner,
    )
