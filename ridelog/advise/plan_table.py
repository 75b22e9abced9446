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
    ("bounce", "-", "damping_ratio", 0.0325, 0.0494, 0.0409, 0.0995),
    ("bounce", "-", "body_frequency_hz", 0.00698, 0, 0.00603, 0.0133),
    ("travel+body+hub", "A", "damping_ratio", 0.0373, 0.0386, 0.0196, 0.0611),
    ("travel+body+hub", "A", "body_frequency_hz", 0.000853, 0, 0.00294, 0.00339),
    ("travel+body", "A", "damping_ratio", 0, 0.0765, 0.0402, 0.0951),
    ("travel+body", "A", "body_frequency_hz", 0.00154, 0, 0.00957, 0.0099),
    ("body+hub", "A", "damping_ratio", 0.0175, 0.0809, 0.0392, 0.0977),
    ("body+hub", "A", "body_frequency_hz", 0.00195, 0, 0.00345, 0.00457),
    ("travel", "A", "damping_ratio", 0.131, 0, 0.137, 0.209),
    ("travel", "A", "body_frequency_hz", 0.0198, 0, 0.0098, 0.0358),
    ("body", "A", "damping_ratio", 0.118, 0, 0.259, 0.376),
    ("body", "A", "body_frequency_hz", 0.039, 0, 0.0148, 0.0809),
    ("one", "A", "damping_ratio", 0.405, 0.256, 0.588, 0.78),
    ("one", "A", "body_frequency_hz", 0.154, 0.0901, 0.196, 0.336),
    ("travel+body+hub", "B", "damping_ratio", 0.0447, 0.0248, 0.0196, 0.0642),
    ("travel+body+hub", "B", "body_frequency_hz", 0.000656, 0.000221, 0.00248, 0.003),
    ("travel+body", "B", "damping_ratio", 0.0607, 0.0541, 0.0402, 0.105),
    ("travel+body", "B", "body_frequency_hz", 0.00132, 0.000511, 0.00949, 0.00974),
    ("body+hub", "B", "damping_ratio", 0, 0.0753, 0.0392, 0.0918),
    ("body+hub", "B", "body_frequency_hz", 0.00164, 0.000335, 0.00322, 0.00423),
    ("travel", "B", "damping_ratio", 0.106, 0.0595, 0.137, 0.229),
    ("travel", "B", "body_frequency_hz", 0.0174, 0, 0.0098, 0.0246),
    ("body", "B", "damping_ratio", 0.0999, 0, 0.252, 0.324),
    ("body", "B", "body_frequency_hz", 0.0435, 0, 0.0149, 0.0681),
    ("one", "B", "damping_ratio", 0.273, 0.362, 0.588, 0.762),
    ("one", "B", "body_frequency_hz", 0.145, 0.069, 0.196, 0.296),
    ("travel+body+hub", "C", "damping_ratio", 0.0331, 0.0466, 0.0196, 0.0675),
    ("travel+body+hub", "C", "body_frequency_hz", 0.000416, 9.08e-05, 0.00249, 0.00271),
    ("travel+body", "C", "damping_ratio", 0.0297, 0.075, 0.0402, 0.108),
    ("travel+body", "C", "body_frequency_hz", 0.000689, 0, 0.00952, 0.0096),
    ("body+hub", "C", "damping_ratio", 0, 0.0881, 0.0392, 0.116),
    ("body+hub", "C", "body_frequency_hz", 0.000829, 0.00073, 0.0033, 0.00383),
    ("travel", "C", "damping_ratio", 0.0953, 0.0643, 0.137, 0.243),
    ("travel", "C", "body_frequency_hz", 0.00889, 0, 0.0098, 0.0174),
    ("body", "C", "damping_ratio", 0.131, 0, 0.278, 0.437),
    ("body", "C", "body_frequency_hz", 0.0252, 0.0336, 0.0139, 0.0668),
    ("one", "C", "damping_ratio", 0.361, 0.241, 0.588, 0.754),
    ("one", "C", "body_frequency_hz", 0.213, 0.15, 0.196, 0.348),
    ("travel+body+hub", "D", "damping_ratio", 0, 0.0615, 0.0196, 0.086),
    ("travel+body+hub", "D", "body_frequency_hz", 0.000177, 0, 0.0034, 0.00521),
    ("travel+body", "D", "damping_ratio", 0.0663, 0.0669, 0.0402, 0.109),
    ("travel+body", "D", "body_frequency_hz", 0.000358, 0.000115, 0.0097, 0.00981),
    ("body+hub", "D", "damping_ratio", 0.0273, 0.0766, 0.0392, 0.108),
    ("body+hub", "D", "body_frequency_hz", 0.000404, 0.000346, 0.0038, 0.0041),
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
