"""What the balance needs of a log: four corners of travel, body and hub, where present."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import BoolArray, FloatArray

# As lively as the quieter three quarters of a log are not: standing and jolts leave it alone.
_LIVELY_SHARE = 0.75


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CornerSignals:
    """Signals of the four corners, order fl fr rl rr, shape (4, n) each.

    `travel_m` is damper travel (bump positive), `body_m_per_s2` the body above each wheel,
    `hub_m_per_s2` the wheel, both positive up and without gravity. `use` is False where a sample
    must not count: gaps, clipped readings, contacts with the stops. `hub_cut_off` is True where a
    hub sensor was at its limit, whatever has been made up for since.
    """

    sample_rate_hz: float
    body_m_per_s2: FloatArray
    travel_m: FloatArray | None = None
    hub_m_per_s2: FloatArray | None = None
    hub_cut_off: BoolArray | None = None
    use: BoolArray

    @property
    def sample_count(self) -> int:
        """Samples in the record."""
        return int(self.use.shape[0])


def smooth_gate(
    use: BoolArray, sample_rate_hz: float, *, clearance_s: float, ramp_s: float
) -> FloatArray:
    """Weight that is 0 within `clearance_s` of unused samples and rises to 1 over `ramp_s`.

    Parameters
    ----------
    use : ndarray of bool
        Samples that count, shape (n,).
    sample_rate_hz : float
        Sample rate [Hz].
    clearance_s : float
        Distance kept from every unused sample [s].
    ramp_s : float
        Length of the cosine ramp from 0 to 1 [s].
    """
    bad = np.flatnonzero(~use)
    if bad.size == 0:
        return np.ones(use.shape[0])
    samples = np.arange(use.shape[0])
    after = np.searchsorted(bad, samples)
    to_next = np.where(after < bad.size, bad[np.minimum(after, bad.size - 1)] - samples, np.inf)
    to_last = np.where(after > 0, samples - bad[np.maximum(after - 1, 0)], np.inf)
    distance_s = np.minimum(to_next, to_last) / sample_rate_hz
    position = np.clip((distance_s - clearance_s) / ramp_s, 0.0, 1.0)
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * position))


def lively(speed: FloatArray, use: BoolArray, window_count: int, quiet_ratio: float) -> BoolArray:
    """Samples around which the dampers move, shape (n,).

    Parameters
    ----------
    speed : ndarray
        Damper speeds [m/s], shape (4, n).
    use : ndarray of bool
        Samples that count, shape (n,).
    window_count : int
        Samples over which the speed's power is averaged [count].
    quiet_ratio : float
        Share of the rms speed of the drive's lively parts below which the dampers stand [-].

    Notes
    -----
    A damper held by friction tells nothing, and does harm: its speed is measured as noise, which
    friction turns into tens of newtons.
    """
    power = np.mean(speed**2, axis=0)
    window_count = min(window_count, power.shape[0])
    summed = np.cumsum(np.concatenate([[0.0], power]))
    starts = np.clip(
        np.arange(power.shape[0]) - window_count // 2, 0, power.shape[0] - window_count
    )
    local = (summed[starts + window_count] - summed[starts]) / window_count
    counted = local[use][:: max(1, window_count // 20)]
    usual = float(np.quantile(counted, _LIVELY_SHARE)) if counted.size else 0.0
    return np.asarray(local > quiet_ratio**2 * usual)
