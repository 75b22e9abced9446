"""Curves that a picture needs, computed by the estimators and drawn by the report."""

from __future__ import annotations

from dataclasses import dataclass

from ridelog.recording import FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpectrumCurve:
    """Power spectral density of one signal and of the fitted model, in `unit` squared per Hz."""

    label: str
    place: str
    unit: str
    frequency_hz: FloatArray
    measured: FloatArray
    fitted: FloatArray | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ForceCurve:
    """Damper force against damper speed with its 95 % band, friction excluded."""

    corner: str
    speed_m_per_s: FloatArray
    force_n: FloatArray
    low_n: FloatArray
    high_n: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TravelCurve:
    """Share of time at each damper travel, with the stops (None where unknown)."""

    corner: str
    bin_edges_mm: FloatArray
    share: FloatArray
    bump_gap_mm: float | None = None
    droop_gap_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SpeedCurve:
    """Share of time at each damper speed."""

    corner: str
    bin_edges_m_per_s: FloatArray
    share: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DecayCurve:
    """One free decay, measured and fitted, in m/s2."""

    place: str
    time_s: FloatArray
    measured_m_per_s2: FloatArray
    fitted_m_per_s2: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripCurve:
    """Envelope of one channel over the log for the check page: lowest and highest per slot."""

    channel: str
    unit: str
    time_s: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curves:
    """All curves of one analysis."""

    spectra: tuple[SpectrumCurve, ...] = ()
    forces: tuple[ForceCurve, ...] = ()
    travels: tuple[TravelCurve, ...] = ()
    speeds: tuple[SpeedCurve, ...] = ()
    decays: tuple[DecayCurve, ...] = ()
    strips: tuple[StripCurve, ...] = ()
