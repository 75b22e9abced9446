"""How likely a jolt of the body is a contact with a bump stop."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ridelog.estimate.jolts import Jolts
from ridelog.recording import FloatArray

CONTACT_ODDS: Mapping[str, Mapping[str, float]] = {
    "alone": {
        "constant": -2.163,
        "peak": 2.217,
        "over_usual": 0.339,
        "travel": 1.923,
        "swing": 1.34,
        "sharpness": -1.479,
        "rise": 0.094,
    },
    "pair": {
        "constant": -2.436,
        "peak": 3.283,
        "over_usual": 0.192,
        "travel": 1.665,
        "swing": 1.599,
        "sharpness": -0.638,
        "rise": 0.037,
        "other_end": 0.165,
        "other_end_squared": -0.858,
        "other_end_highest": 0.434,
    },
    "all": {
        "constant": -3.467,
        "peak": 4.286,
        "over_usual": 0.264,
        "travel": 1.243,
        "swing": 1.701,
        "sharpness": -0.458,
        "rise": 0.078,
        "other_end": 0.386,
        "other_end_squared": -0.241,
        "other_end_highest": 0.312,
        "other_side": 1.32,
        "other_side_squared": -0.964,
        "other_side_before": 0.587,
    },
    "hubs": {
        "constant": -1.852,
        "peak": 2.691,
        "over_usual": 0.003,
        "travel": 0.872,
        "swing": 0.354,
        "sharpness": -0.556,
        "rise": 0.051,
        "other_end": 0.156,
        "other_end_squared": -0.082,
        "other_end_highest": -0.04,
        "other_side": 0.805,
        "other_side_squared": -0.503,
        "other_side_before": 0.449,
        "push": 0.199,
        "past": 1.399,
        "strike": 0.546,
    },
}
"""Weights of the clues in the logarithm of the odds, by the sensors at hand."""


def contact_odds(jolts: Jolts, odds: Mapping[str, Mapping[str, float]] | None = None) -> FloatArray:
    """Logarithm of the odds that each jolt is a contact, shape (k,).

    Parameters
    ----------
    jolts : Jolts
        Jolts of a corner.
    odds : Mapping, optional
        Weights; `CONTACT_ODDS` where left out.

    Notes
    -----
    The weights are those of a logistic regression over simulated cars with unlike kinds of stops
    and roads; ``python -m tests.bench.train_contact_odds`` prints exactly these.

    References
    ----------
    Derived here: logistic regression.
    """
    weights = (odds or CONTACT_ODDS)[jolts.odds]
    total = np.full(len(jolts.start_s), weights["constant"])
    if len(total):
        for clue, weight in weights.items():
            if clue != "constant":
                total += weight * jolts.clues[clue]
    return total
