"""What the balance needs of a log: four corners of travel, body and hub, where present."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.recording import BoolArray, FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CornerSignals:
    """Signals of the four corners, order fl fr rl rr, shape (4, n) each.

    `travel_m` is damper travel (bump positive), `body_m_per_s2` the body above each wheel,
    `hub_m_per_s2` the wheel, both positive up and without gravity. `use` is False where a sample
    must not count: gaps, clipped readings, contacts with the stops.
    """

    sample_rate_hz: float
    body_m_per_s2: FloatArray
    travel_m: FloatArray | None = None
    hub_m_per_s2: FloatArray | None = None
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
