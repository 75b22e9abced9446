"""The heights sheet as JSON: lengths in mm, turns positive up."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ridelog.advise.height_result import CornerPerch, HeightsAdvice, ScaleReading
from ridelog.advise.trade_facts import HEIGHT_FACTS
from ridelog.car.description import Car
from ridelog.car.measured import Measured
from ridelog.recording import CORNERS
from ridelog.report.as_json import CONTRACT_VERSION
from ridelog.report.heights_words import heights_cautions

Json = dict[str, Any]


def heights_json(advice: HeightsAdvice, car: Car) -> Json:
    """Lay out the sheet as a JSON document.

    Parameters
    ----------
    advice : HeightsAdvice
        The sheet.
    car : Car
        The car.
    """
    return {
        "contract": CONTRACT_VERSION,
        "car": car.name,
        "corners": {corner: _corner(advice.corners[corner]) for corner in CORNERS},
        "out_of_plane_mm": _mm(advice.warp_m),
        "one_raise": {
            corner: {
                "perch_up_mm": _mm(effect.perch_up_m),
                "turns": effect.turns,
                "height_mm": _all_mm(effect.height_m),
                "load_n": dict(effect.load_n),
                "cross_weight_ratio": effect.cross_weight,
            }
            for corner, effect in advice.one_raise.items()
        },
        "patterns": [
            {
                "does": pattern.does,
                "keeps": pattern.keeps,
                "perch_up_mm": _all_mm(pattern.perch_up_m),
                "turns": dict(pattern.turns),
            }
            for pattern in advice.patterns
        ],
        "scales": _scales(advice.scales),
        "tyre_rate_n_per_m": {
            "front": advice.tyre_rate_n_per_m[0],
            "rear": advice.tyre_rate_n_per_m[1],
            "assumed": advice.tyre_rate_assumed,
        },
        "notes": list(advice.notes),
        "facts": list(HEIGHT_FACTS),
        "cautions": list(heights_cautions()),
    }


def _corner(part: CornerPerch) -> Json:
    return {
        "before_mm": _mm(part.before_m),
        "now_mm": _mm(part.now_m),
        "wanted_mm": _mm(part.wanted_m),
        "perch_up_mm": _measured(part.perch_up_m, 1000.0),
        "turns": _measured(part.turns, 1.0),
        "predicted_mm": _measured(part.after_m, 1000.0),
        "bump_gap_mm": _mm(part.bump_gap_m),
        "droop_gap_mm": _mm(part.droop_gap_m),
    }


def _scales(scales: ScaleReading | None) -> Json | None:
    if scales is None:
        return None
    return {
        "weight_kg": dict(scales.weight_kg),
        "total_kg": scales.total_kg,
        "cross_weight_ratio": _measured(scales.cross_weight, 1.0),
        "wanted_cross_weight_ratio": scales.wanted_cross_weight,
        "front_weight_ratio": scales.front_weight,
        "left_weight_ratio": scales.left_weight,
    }


def _measured(value: Measured | None, scale: float) -> Json | None:
    if value is None:
        return None
    return {"value": scale * value.value, "low": scale * value.low, "high": scale * value.high}


def _mm(length_m: float | None) -> float | None:
    return None if length_m is None else 1000 * length_m


def _all_mm(lengths_m: Mapping[str, float]) -> Json:
    return {corner: 1000 * length for corner, length in lengths_m.items()}
