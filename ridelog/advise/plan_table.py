"""How wide intervals usually are, by sensors and road: measured, on simulated cars."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Typical:
    """Relative 95 % half-widths of the middle axle of simulated cars.

    Of the random part `shrinking` holds after one minute and goes with one over the root of time,
    `stuck` is what two minutes did not shrink; `systematic` is sensors, masses, ratios. `wide` is
    the whole half-width after a minute that one axle in four exceeds.
    """

    sensors: str
    road: str
    quantity: str
    shrinking: float
    stuck: float
    systematic: float
    wide: float


# sensors, road, quantity, shrinking, stuck, systematic, wide; printed by the bench named below.
# Sixteen cars in bounce tests, four on each road (eight axles, each after one and two minutes),
# seed 461: between roads much of the difference is chance.
_ROWS: tuple[tuple[str, str, str, float, float, float, float], ...] = (
    ("bounce", "-", "damping_ratio", 0.0306, 0.0612, 0.0304, 0.0861),
    ("bounce", "-", "body_frequency_hz", 0.0038, 0.00208, 0.00405, 0.0092),
    ("travel+body+hub", "A", "damping_ratio", 0.0226, 0.0169, 0.0245, 0.0454),
    ("travel+body+hub", "A", "body_frequency_hz", 0.00101, 0, 0.00294, 0.00343),
    ("travel+body", "A", "damping_ratio", 0.0106, 0.059, 0.0402, 0.0912),
    ("travel+body", "A", "body_frequency_hz", 0.00182, 0, 0.00957, 0.01),
    ("body+hub", "A", "damping_ratio", 0.012, 0.0277, 0.0392, 0.0594),
    ("body+hub", "A", "body_frequency_hz", 0.00157, 0, 0.00345, 0.0043),
    ("travel", "A", "damping_ratio", 0.131, 0, 0.137, 0.209),
    ("travel", "A", "body_frequency_hz", 0.0198, 0, 0.0098, 0.0358),
    ("body", "A", "damping_ratio", 0.118, 0, 0.259, 0.376),
    ("body", "A", "body_frequency_hz", 0.039, 0, 0.0148, 0.0809),
    ("one", "A", "damping_ratio", 0.405, 0.256, 0.588, 0.78),
    ("one", "A", "body_frequency_hz", 0.154, 0.0901, 0.196, 0.336),
    ("travel+body+hub", "B", "damping_ratio", 0.031, 0.0207, 0.0245, 0.0543),
    ("travel+body+hub", "B", "body_frequency_hz", 0.000775, 0.00026, 0.00248, 0.00305),
    ("travel+body", "B", "damping_ratio", 0.0726, 0.0603, 0.0402, 0.126),
    ("travel+body", "B", "body_frequency_hz", 0.00156, 0.000606, 0.00949, 0.0098),
    ("body+hub", "B", "damping_ratio", 0.0305, 0.0355, 0.0392, 0.0726),
    ("body+hub", "B", "body_frequency_hz", 0.00137, 0, 0.00322, 0.00405),
    ("travel", "B", "damping_ratio", 0.106, 0.0595, 0.137, 0.229),
    ("travel", "B", "body_frequency_hz", 0.0174, 0, 0.0098, 0.0246),
    ("body", "B", "damping_ratio", 0.0999, 0, 0.252, 0.324),
    ("body", "B", "body_frequency_hz", 0.0435, 0, 0.0149, 0.0681),
    ("one", "B", "damping_ratio", 0.273, 0.362, 0.588, 0.762),
    ("one", "B", "body_frequency_hz", 0.145, 0.069, 0.196, 0.296),
    ("travel+body+hub", "C", "damping_ratio", 0.0317, 0.0322, 0.0245, 0.0683),
    ("travel+body+hub", "C", "body_frequency_hz", 0.00049, 0.000109, 0.00249, 0.00275),
    ("travel+body", "C", "damping_ratio", 0.0669, 0.0644, 0.0402, 0.127),
    ("travel+body", "C", "body_frequency_hz", 0.000813, 0, 0.00952, 0.00964),
    ("body+hub", "C", "damping_ratio", 0, 0.06, 0.0392, 0.0933),
    ("body+hub", "C", "body_frequency_hz", 0.000587, 0.000638, 0.0033, 0.00376),
    ("travel", "C", "damping_ratio", 0.0953, 0.0643, 0.137, 0.243),
    ("travel", "C", "body_frequency_hz", 0.00889, 0, 0.0098, 0.0174),
    ("body", "C", "damping_ratio", 0.131, 0, 0.278, 0.437),
    ("body", "C", "body_frequency_hz", 0.0252, 0.0336, 0.0139, 0.0668),
    ("one", "C", "damping_ratio", 0.361, 0.241, 0.588, 0.754),
    ("one", "C", "body_frequency_hz", 0.213, 0.15, 0.196, 0.348),
    ("travel+body+hub", "D", "damping_ratio", 0.0473, 0.038, 0.0245, 0.099),
    ("travel+body+hub", "D", "body_frequency_hz", 0.000206, 0, 0.0034, 0.00521),
    ("travel+body", "D", "damping_ratio", 0.0739, 0.0798, 0.0402, 0.14),
    ("travel+body", "D", "body_frequency_hz", 0.000423, 0.000136, 0.0097, 0.00981),
    ("body+hub", "D", "damping_ratio", 0.0501, 0.0336, 0.0392, 0.0863),
    ("body+hub", "D", "body_frequency_hz", 0.000336, 0.00028, 0.0038, 0.00409),
    ("travel", "D", "damping_ratio", 0, 0.276, 0.137, 0.41),
    ("travel", "D", "body_frequency_hz", 0.015, 0.00419, 0.0098, 0.0225),
    ("body", "D", "damping_ratio", 0.108, 0.121, 0.355, 0.486),
    ("body", "D", "body_frequency_hz", 0.0485, 0.046, 0.0155, 0.0829),
    ("one", "D", "damping_ratio", 0.426, 0.289, 0.588, 0.813),
    ("one", "D", "body_frequency_hz", 0.147, 0, 0.196, 0.342),
)


def typical(sensors: str, road: str, quantity: str) -> Typical | None:
    """Look up what to expect; None where that combination tells nothing.

    Parameters
    ----------
    sensors : str
        As `ridelog.advise.plan.sensor_set` names them, or ``bounce``.
    road : str
        ISO 8608 class ``A`` to ``D``; ``-`` for a bounce test.
    quantity : str
        ``damping_ratio`` or ``body_frequency_hz``.

    References
    ----------
    Measured by ``tests/bench/plan_table.py`` with the project's own estimators.
    """
    for name, letter, what, shrinking, stuck, systematic, wide in _ROWS:
        if (name, letter, what) == (sensors, road, quantity):
            return Typical(
                sensors=name,
                road=letter,
                quantity=what,
                shrinking=shrinking,
                stuck=stuck,
                systematic=systematic,
                wide=wide,
            )
    return None
