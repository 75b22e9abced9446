"""The logger's ticks against the host's clock: drift, and where each run lies in time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.ingest.frame_runs import LoggerRun
from ridelog.recording import FloatArray, IntArray
from ridelog.wire.decode import Decoded
from ridelog.wire.messages import HOST_TIME, HostTime
from ridelog.wire.unpack import unpack

_NS = 1e9
# A crystal keeps within 100 parts per million; a ceramic resonator is off by up to 5000.
RESONATOR_DRIFT = 5e-4
# Beyond this it is no clock's drift: a replay, an emulator, a wrong tick rate.
LARGEST_DRIFT = 0.02
_SHORTEST_S = 20.0
_BLOCKS = 20
_FEWEST_IN_BLOCK = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class HostClock:
    """Records of the host's clocks: their places in the file, steady clock and UTC [s]."""

    places: IntArray
    steady_s: FloatArray
    utc_s: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockFit:
    """A run's ticks against the host's steady clock.

    `start_s` is the host's time at tick zero. `drift` is how much faster than the host's the
    logger's clock runs, with its 95 % interval; None where the run is too short to say.
    """

    start_s: float
    drift: float | None = None
    low: float = 0.0
    high: float = 0.0


def host_clock(decoded: Decoded) -> HostClock:
    """Collect the records of the host's clocks.

    Parameters
    ----------
    decoded : Decoded
        The good frames of a recording.
    """
    found = [
        (place, time.steady_ns, time.utc_ns)
        for place, body in decoded.in_order(frozenset({HOST_TIME}))
        if isinstance(time := unpack(body), HostTime)
    ]
    places, steady_ns, utc_ns = np.array(found, dtype=np.int64).reshape(-1, 3).T
    return HostClock(places=places, steady_s=steady_ns / _NS, utc_s=utc_ns / _NS)


def fit_clock(run: LoggerRun, host: HostClock) -> ClockFit | None:
    """Lay a run's ticks over the host's clock.

    Parameters
    ----------
    run : LoggerRun
        The run.
    host : HostClock
        The host's records.

    Returns
    -------
    ClockFit or None
        None where no host record stands before samples of the run.

    Notes
    -----
    A sample comes late by what lies between the logger and us, never early: so the line is laid
    along the samples that came soonest, the lowest tenth of each twentieth of the run. Its
    interval is that of a straight line through those, from their own scatter.

    References
    ----------
    N. R. Draper and H. Smith, Applied Regression Analysis: interval of a slope.
    """
    arrived_s, stamped_s = _pairs(run, host)
    if not len(arrived_s):
        return None
    late_s = arrived_s - stamped_s
    length_s = float(stamped_s[-1] - stamped_s[0])
    if length_s < _SHORTEST_S or len(late_s) < _BLOCKS * _FEWEST_IN_BLOCK:
        return ClockFit(start_s=float(np.quantile(late_s, 0.1)))
    times_s, soonest_s = _soonest(stamped_s, late_s)
    return _line(times_s, soonest_s)


def _pairs(run: LoggerRun, host: HostClock) -> tuple[FloatArray, FloatArray]:
    """Host's time and logger's time [s] of the first sample behind each host record.

    That one had come when the host looked at its clock; those behind it may have come later.
    """
    begins = np.searchsorted(run.samples.starts, host.places)
    ends = np.searchsorted(run.samples.starts, np.append(host.places[1:], np.iinfo(np.int64).max))
    has_samples = ends > begins
    stamps = run.ticks[begins[has_samples]] / run.logger.ticks_per_s
    return host.steady_s[has_samples], stamps


def _soonest(stamped_s: FloatArray, late_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middle and lowest tenth of the lateness in each block of the run."""
    edges = np.linspace(stamped_s[0], stamped_s[-1], _BLOCKS + 1)
    block = np.clip(np.searchsorted(edges, stamped_s, side="right") - 1, 0, _BLOCKS - 1)
    full = [
        number for number in range(_BLOCKS) if np.count_nonzero(block == number) >= _FEWEST_IN_BLOCK
    ]
    # A late block is one in which the line was blocked; the tenth hides the odd early clock step.
    soonest = np.array([np.quantile(late_s[block == number], 0.1) for number in full])
    middles = np.array([np.mean(stamped_s[block == number]) for number in full])
    return middles, soonest


def _line(times_s: FloatArray, late_s: FloatArray) -> ClockFit:
    """Lay a straight line through the soonest, with the interval of its slope."""
    from scipy.stats import t as student

    if len(times_s) < 4:
        return ClockFit(start_s=float(np.median(late_s)))
    centre_s = times_s - times_s.mean()
    spread = float(centre_s @ centre_s)
    slope = float(centre_s @ late_s) / spread
    left_s = late_s - late_s.mean() - slope * centre_s
    freedom = len(times_s) - 2
    half = float(student.ppf(0.975, freedom)) * np.sqrt(float(left_s @ left_s) / freedom / spread)
    # A logger that runs fast counts more seconds than the host: lateness falls.
    return ClockFit(
        start_s=float(late_s.mean() - slope * times_s.mean()),
        drift=_drift(slope),
        low=_drift(slope + half),
        high=_drift(slope - half),
    )


def _drift(slope: float) -> float:
    """How much faster the logger's clock runs, from the slope of lateness over its time."""
    return -slope / (1 + slope)


def host_time_s(fit: ClockFit, stamp_s: float) -> float:
    """Host's time at an instant of the logger's clock.

    Parameters
    ----------
    fit : ClockFit
        The run's clock.
    stamp_s : float
        The logger's time [s].
    """
    return fit.start_s + stamp_s / (1 + (fit.drift or 0.0))


def true_rate(fit: ClockFit | None) -> float:
    """Seconds of the host in a second of the logger, where that is worth correcting.

    Parameters
    ----------
    fit : ClockFit or None
        The run's clock.

    Returns
    -------
    float
        1 for a crystal, for what no clock's drift explains, and where nothing is known.
    """
    if fit is None or fit.drift is None:
        return 1.0
    told = fit.low > RESONATOR_DRIFT or fit.high < -RESONATOR_DRIFT
    return 1 / (1 + fit.drift) if told and abs(fit.drift) < LARGEST_DRIFT else 1.0
