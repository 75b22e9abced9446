"""From analyzed runs to knob readings: which click gave which damping, on the springs of today."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, log
from typing import Literal

from ridelog.advise.dyno_law import sheet_law
from ridelog.advise.knob_belief import KnobReading
from ridelog.advise.knob_prior import KnobPrior, with_sheet
from ridelog.car.description import Axle, Car
from ridelog.car.dyno_force import Stroke
from ridelog.car.springs import main_rate_n_per_m, same_rate, with_main_rate
from ridelog.estimate.result import Estimate
from ridelog.recording import CORNERS_OF_AXLE
from ridelog.runs.collect import Run
from ridelog.runs.repeatability import log_sd as log_sd
from ridelog.runs.repeatability import own_log_sd
from ridelog.runs.setup import RunSetup

Knob = Literal["clicks", "bump_clicks", "rebound_clicks"]
Quantity = Literal["damping_ratio", "damping_ratio_bump", "damping_ratio_rebound"]

STROKE_OF_QUANTITY: Mapping[Quantity, Stroke] = {
    "damping_ratio": "both",
    "damping_ratio_bump": "bump",
    "damping_ratio_rebound": "rebound",
}

COVERAGE_FACTOR = 1.96
"""Half-width of a 95 % interval over one standard deviation (normal distribution)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingSettings:
    """How far a reading is trusted; relative standard deviations, common practice, no source."""

    run_to_run: float = 0.01  # the same car on another day: damper temperature, load, driver
    unknown_bias: float = 0.02  # of the interval, where the estimate does not tell it apart
    least_bias: float = 0.01
    # What a force balance's runs of one car have wrong in common, as a share of the whole standard
    # deviation: 0.6 to 1.0 (rms) on 32 simulated axles, each driven four to eight times.
    balance_bias_share: float = 0.8
    carry: float = 0.02  # damping coefficient kept over a change of springs, springs measured
    carry_catalogue: float = 0.035  # the same with catalogue rates: 4 % each, halved, two of them


@dataclass(frozen=True, slots=True, kw_only=True)
class KnobHistory:
    """Readings of one axle's knob with the knob's present place.

    `last` is the highest click, `now` the clicks of the latest run, left and right from full soft,
    None where its setup does not tell them; `prior` is the belief before the first of them.
    """

    last: int
    now: tuple[float, float] | None
    readings: tuple[KnobReading, ...]
    prior: KnobPrior = field(default_factory=KnobPrior)


def reading_spread(
    estimate: Estimate, settings: ReadingSettings | None = None, *, method: str = ""
) -> tuple[float, float]:
    """Relative standard deviation of one reading: the run's own part and the lasting part.

    Parameters
    ----------
    estimate : Estimate
        A positive quantity with its 95 % interval.
    settings : ReadingSettings, optional
        Floors and shares.
    method : str, optional
        How it was measured, as in `AxleResult`.

    Returns
    -------
    tuple of float
        Own and lasting relative standard deviation [1].

    References
    ----------
    JCGM 100:2008 (GUM), 4.3.4: standard deviation from a 95 % interval. A force balance's shares
    come from simulated cars.
    """
    settings = settings or ReadingSettings()
    whole, own = log_sd(estimate), own_log_sd(estimate, method)
    if method.startswith("force balance"):
        lasting = hypot(settings.least_bias, settings.balance_bias_share * whole)
        return hypot(own, settings.run_to_run), lasting
    if estimate.random_half_width is None:
        lasting = min(settings.unknown_bias, whole / 2**0.5)
        own = (whole**2 - lasting**2) ** 0.5
    else:
        lasting = max(whole**2 - own**2, 0.0) ** 0.5
    if estimate.systematic_half_width is not None:
        lasting = estimate.systematic_half_width / (COVERAGE_FACTOR * estimate.value)
    return hypot(own, settings.run_to_run), max(lasting, settings.least_bias)


def clicks_of(setup: RunSetup | None, axle_name: str, knob: Knob) -> tuple[int, int] | None:
    """Clicks of one axle's knob in one run, left and right from full soft; None if not written.

    Parameters
    ----------
    setup : RunSetup or None
        What was set for the run.
    axle_name : str
        ``front`` or ``rear``.
    knob : str
        ``clicks``, ``bump_clicks`` or ``rebound_clicks``.
    """
    if setup is None:
        return None
    clicks = getattr(setup, knob)
    left, right = CORNERS_OF_AXLE[axle_name]
    if left not in clicks or right not in clicks:
        return None
    return clicks[left], clicks[right]


def spring_of(run: Run, axle_name: str, axle: Axle) -> float:
    """Main spring's rate stated for one axle in one run [N/m], per corner, mean of both sides."""
    stated = run.setup.spring_rate_n_per_m if run.setup else {}
    usual, stack = main_rate_n_per_m(axle), axle.spring_stack
    rates = [stated.get(c, usual) for c in CORNERS_OF_AXLE[axle_name]]
    rate = sum(rates) / len(rates)
    return usual if stack and same_rate(rate, stack.stated_rate_n_per_m) else rate


def knob_history(
    car: Car,
    runs: Sequence[Run],
    axle_name: str,
    *,
    knob: Knob = "clicks",
    quantity: Quantity = "damping_ratio",
    other_knob: Knob | None = None,
    settings: ReadingSettings | None = None,
) -> KnobHistory | None:
    """Gather what the runs tell about one knob of one axle.

    Parameters
    ----------
    car : Car
        The car.
    runs : sequence of Run
        Oldest first; the last one is as the car stands now.
    axle_name : str
        ``front`` or ``rear``.
    knob, quantity, other_knob : str
        The knob, the damping ratio it rules and, on two-knob dampers, the other knob.
    settings : ReadingSettings, optional
        How far a reading is trusted.

    Returns
    -------
    KnobHistory or None
        None where the axle has no such knob. Runs without clicks or without damping are left out.

    Notes
    -----
    The damper's coefficient, not the damping ratio, stays when springs change: at constant mass
    the ratio is carried over by spring frequency then / spring frequency now, as measured, or as
    the stated rates say.

    References
    ----------
    Derived here from damping_ratio = C / (2 sqrt(K m)) and 2 pi spring_frequency = sqrt(K / m).
    """
    settings = settings or ReadingSettings()
    axle = car.axle(axle_name)
    last = getattr(axle, knob)
    if not last:
        return None
    readings = tuple(
        reading
        for run in runs
        if (reading := _reading(axle, runs, run, axle_name, knob, quantity, other_knob, settings))
    )
    now = clicks_of(runs[-1].setup, axle_name, knob)
    if now is not None and not all(0 <= clicks <= last for clicks in now):
        now = None
    law = sheet_law(
        axle,
        _rate_today(axle, runs, axle_name),
        knob=knob,
        stroke=STROKE_OF_QUANTITY[quantity],
        other_knob=other_knob,
    )
    prior = with_sheet(KnobPrior(), law)
    return KnobHistory(last=last, now=now, readings=readings, prior=prior)


def _rate_today(axle: Axle, runs: Sequence[Run], axle_name: str) -> float:
    """Rate of all springs of a corner together, as fitted for the latest run [N/m]."""
    return with_main_rate(axle, spring_of(runs[-1], axle_name, axle)).spring_rate_n_per_m


def _reading(
    axle: Axle,
    runs: Sequence[Run],
    run: Run,
    axle_name: str,
    knob: Knob,
    quantity: Quantity,
    other_knob: Knob | None,
    settings: ReadingSettings,
) -> KnobReading | None:
    """Build one run's reading, or None where it has none."""
    result = run.analysis.axles.get(axle_name)
    estimate = getattr(result, quantity) if result else None
    position = _share(axle, run, axle_name, knob)
    other = (0.0, 0.0) if other_knob is None else _share(axle, run, axle_name, other_knob)
    if result is None or estimate is None or estimate.value <= 0 or not position or not other:
        return None
    own, lasting = reading_spread(estimate, settings, method=result.method)
    factor, carry_sd = _carry(axle, runs, run, axle_name, settings)
    return KnobReading(
        knob=position,
        other_knob=other,
        log_damping_ratio=log(estimate.value * factor),
        sd=own,
        bias_sd=lasting,
        method=_sensors(run),
        springs=f"{spring_of(run, axle_name, axle):.0f}",
        carry_sd=carry_sd,
    )


def _sensors(run: Run) -> str:
    """Name what a run's lasting errors hang on: kind of log and sensors."""
    return " ".join((run.analysis.log.kind, *sorted(run.analysis.log.channels)))


def _share(axle: Axle, run: Run, axle_name: str, knob: Knob) -> tuple[float, float] | None:
    """Knob positions as shares of the travel from full soft, or None where not known."""
    clicks, last = clicks_of(run.setup, axle_name, knob), getattr(axle, knob)
    if clicks is None or not last or not all(0 <= c <= last for c in clicks):
        return None
    return clicks[0] / last, clicks[1] / last


def _carry(
    axle: Axle, runs: Sequence[Run], run: Run, axle_name: str, settings: ReadingSettings
) -> tuple[float, float]:
    """Factor from a run's damping ratio to today's springs, and its standard deviation."""
    then, today = spring_of(run, axle_name, axle), spring_of(runs[-1], axle_name, axle)
    if same_rate(then, today):
        return 1.0, 0.0
    measured = [_spring_frequency(axle, runs, axle_name, rate) for rate in (then, today)]
    if measured[0] and measured[1]:
        return measured[0] / measured[1], settings.carry
    before, now = (with_main_rate(axle, rate).spring_rate_n_per_m for rate in (then, today))
    return (before / now) ** 0.5, settings.carry_catalogue


def _spring_frequency(
    axle: Axle, runs: Sequence[Run], axle_name: str, rate_n_per_m: float
) -> float | None:
    """Best measured spring frequency on one spring [Hz]: that of the narrowest interval."""
    found = [
        result.spring_frequency_hz
        for run in runs
        if same_rate(spring_of(run, axle_name, axle), rate_n_per_m)
        and (result := run.analysis.axles.get(axle_name))
        and result.spring_frequency_hz
    ]
    best = min(found, key=lambda e: (e.high - e.low) / e.value, default=None)
    return best.value if best else None
