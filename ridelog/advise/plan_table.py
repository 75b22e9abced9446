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
# Six cars each on class A and in bounce tests, four to six on B, four on C (full sensors only so
# far), seed 210; no class means that it was not measured, and then no such road is proposed.
_ROWS: tuple[tuple[str, str, str, float, float, float, float], ...] = (
    ("bounce", "-", "damping_ratio", 0.0831, 0.0621, 0.0399, 0.164),
    ("bounce", "-", "body_frequency_hz", 0.00949, 0.0128, 0.00609, 0.0272),
    ("travel+body+hub", "A", "damping_ratio", 0.0705, 0.0495, 0.0118, 0.132),
    ("travel+body+hub", "A", "body_frequency_hz", 0.00156, 0, 0.00283, 0.004),
    ("travel+body", "A", "damping_ratio", 0, 0.168, 0.0148, 0.27),
    ("travel+body", "A", "body_frequency_hz", 0.00257, 0, 0.00952, 0.0106),
    ("body+hub", "A", "damping_ratio", 0.00698, 0.0712, 0.0118, 0.0915),
    ("body+hub", "A", "body_frequency_hz", 0.00284, 0, 0.0033, 0.00596),
    ("travel", "A", "damping_ratio", 0.0682, 0.014, 0.137, 0.203),
    ("travel", "A", "body_frequency_hz", 0.0232, 0, 0.0098, 0.0321),
    ("body", "A", "damping_ratio", 0.114, 0, 0.258, 0.408),
    ("body", "A", "body_frequency_hz", 0.0561, 0, 0.0178, 0.0973),
    ("one", "A", "damping_ratio", 0.452, 0.222, 0.588, 0.803),
    ("one", "A", "body_frequency_hz", 0.192, 0.189, 0.196, 0.36),
    ("travel+body+hub", "B", "damping_ratio", 0.0473, 0.0915, 0.0118, 0.372),
    ("travel+body+hub", "B", "body_frequency_hz", 0.000677, 0.00032, 0.00242, 0.00286),
    ("travel+body", "B", "damping_ratio", 0, 0.282, 0.0148, 0.383),
    ("travel+body", "B", "body_frequency_hz", 0.00131, 0.000274, 0.00948, 0.00975),
    ("body+hub", "B", "damping_ratio", 0, 0.157, 0.0118, 0.334),
    ("body+hub", "B", "body_frequency_hz", 0.00106, 0, 0.00318, 0.00397),
    ("travel", "B", "damping_ratio", 0.154, 0.0783, 0.137, 0.251),
    ("travel", "B", "body_frequency_hz", 0.00985, 0, 0.0098, 0.0208),
    ("body", "B", "damping_ratio", 0.117, 0, 0.259, 0.33),
    ("body", "B", "body_frequency_hz", 0.0437, 0, 0.0169, 0.0737),
    ("one", "B", "damping_ratio", 0.346, 0.298, 0.588, 0.751),
    ("one", "B", "body_frequency_hz", 0.125, 0.0475, 0.196, 0.254),
    ("travel+body+hub", "C", "damping_ratio", 0, 0.118, 0.0118, 0.121),
    ("travel+body+hub", "C", "body_frequency_hz", 0.000267, 0.000205, 0.00256, 0.00289),
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
