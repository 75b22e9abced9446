"""Three rows of the balance - heave, pitch and roll of the body - in the frequency domain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ridelog.car.description import Car
from ridelog.estimate.balance.basis import BasisSettings, weighted_ramps
from ridelog.estimate.balance.motion import RelativeMotion
from ridelog.estimate.balance.slow_forces import slow_force_columns
from ridelog.estimate.balance.transform import ComplexArray, Transform
from ridelog.recording import BoolArray, FloatArray

# The taper of 1.5 s and what the filters smear from it.
_END_MARGIN_S = 2.0
# What curves hold above half of the thinned rate is no matter: means hide most of it.
_LEAST_RATE_RATIO = 8.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BlockRows:
    """One stretch of log, gated and cut to the band.

    `columns` (4, 1 + curves, f) are the spectra of travel and force curves of each corner, `body`
    (4, f) and `body_rate` (4, f) those of the body acceleration and of its derivative. `slow`
    (k, low bins) are gated slow cosines in the lowest bins, None where the gate has no holes.
    """

    motion: RelativeMotion
    gate: FloatArray
    band: slice
    columns: ComplexArray
    body: ComplexArray
    body_rate: ComplexArray
    slow: ComplexArray | None = None

    def gate_ends(self) -> BoolArray:
        """Samples away from the tapered ends of the stretch, stops included, shape (n,)."""
        inside = np.zeros(self.motion.transform.sample_count, dtype=bool)
        inside[away_from_ends(self.motion.transform)] = True
        return inside

    @property
    def angular_rad_per_s(self) -> FloatArray:
        """Angular frequencies of the band, shape (f,)."""
        return self.motion.transform.angular_rad_per_s[self.band]


def away_from_ends(transform: Transform) -> slice:
    """Samples that neither taper nor filters spoil.

    Parameters
    ----------
    transform : Transform
        Transform of the stretch.
    """
    margin = int(_END_MARGIN_S * transform.sample_rate_hz)
    return slice(margin, max(margin, transform.sample_count - margin))


def corner_weights(car: Car, log_motion_ratio: FloatArray) -> FloatArray:
    """Share of each damper's force in heave [-], pitch [-] and roll [m], shape (3, 4).

    Parameters
    ----------
    car : Car
        Masses, motion ratios, tracks.
    log_motion_ratio : ndarray
        Corrections of the motion ratio [-], front and rear.
    """
    ratio = np.array([car.front.motion_ratio, car.rear.motion_ratio]) * np.exp(log_motion_ratio)
    mass = np.array([car.front.sprung_mass_kg, car.rear.sprung_mass_kg])
    lever = np.array([car.front.roll_lever_ratio, car.rear.roll_lever_ratio])
    half_track = np.array([car.front.track_m, car.rear.track_m]) / 2
    heave = np.repeat(ratio, 2)
    pitch = np.repeat(ratio * np.array([mass[1], -mass[0]]) / mass.sum(), 2)
    roll = np.repeat(ratio * lever * half_track, 2) * np.array([1, -1, 1, -1])
    return np.stack([heave, pitch, roll])


def body_weights(car: Car, dynamic_index: float, roll_inertia_kg_m2: float) -> FloatArray:
    """Share of each body sensor in the three rows, shape (3, 4).

    Parameters
    ----------
    car : Car
        Masses and tracks.
    dynamic_index : float
        Pitch inertia over sprung mass times the distances to both axles [-].
    roll_inertia_kg_m2 : float
        Roll inertia of the body [kg m2].

    Notes
    -----
    Heave: front mass x front mean acceleration + rear mass x rear mean acceleration equals the
    sum of the forces, whatever the pitch inertia. Pitch and roll bring one unknown inertia each.

    References
    ----------
    Derived here from Newton and Euler for a rigid body.
    """
    mass = np.array([car.front.sprung_mass_kg, car.rear.sprung_mass_kg])
    track = np.array([car.front.track_m, car.rear.track_m])
    heave = np.repeat(mass / 2, 2)
    pitch = dynamic_index * mass.prod() / mass.sum() * np.array([0.5, 0.5, -0.5, -0.5])
    roll = roll_inertia_kg_m2 * np.array([0.5, -0.5, 0.5, -0.5]) / np.repeat(track, 2)
    return np.stack([heave, pitch, roll])


def gated_band(
    signals: FloatArray, gate: FloatArray, transform: Transform, band: slice
) -> ComplexArray:
    """Spectrum of gated signals (..., n) in a band."""
    return transform.weighted(signals, gate)[..., band]


def block_rows(
    motion: RelativeMotion,
    speed: FloatArray,
    gate: FloatArray,
    band: slice,
    basis: BasisSettings,
    *,
    slow_limit_hz: float,
) -> BlockRows:
    """Gate and transform everything the balance needs of one stretch.

    Parameters
    ----------
    motion : RelativeMotion
        Travel and body acceleration, calibrated.
    speed : ndarray
        Damper speed of that motion [m/s], shape (4, n).
    gate : ndarray
        Weight of each sample [-], shape (n,).
    band : slice
        Bins that count.
    basis : BasisSettings
        Force curves.
    slow_limit_hz : float
        Highest frequency of slow forces that holes in the gate smear into the band [Hz].

    Notes
    -----
    The balance holds at every instant, so both sides may be gated before they are transformed;
    gating after a filter would smear what the gate is to remove.
    """
    transform = motion.transform
    omega = transform.angular_rad_per_s[band]
    every = transform.thinning(_LEAST_RATE_RATIO * float(transform.frequency_hz[band.stop - 1]))
    half_sample = 0.5 / transform.sample_rate_hz
    # Means over `every` intervals are smoothed and half their length late: undo both.
    half_mean = every * half_sample
    undo = every * np.exp(-1j * omega * half_mean) / np.sinc(omega * half_mean / np.pi)
    columns = np.zeros((4, 1 + basis.column_count, len(omega)), complex)
    columns[:, 0] = gated_band(motion.travel_m(), gate, transform, band)
    middle_gate = 0.5 * (gate[:-1] + gate[1:])
    for corner in range(4):
        ramps = weighted_ramps(
            speed[corner],
            middle_gate,
            basis,
            speed_noise_m_per_s=float(motion.speed_noise_m_per_s[corner]),
            sample_count=transform.padded_count,
            every=every,
        )
        for places, rows in ramps:
            columns[corner, 1:][places] = transform.forward(rows, every)[:, band] * undo
        for side in range(2):
            pieces = columns[corner, 1 + side * basis.segment_count :][: basis.segment_count]
            pieces[:-1] -= pieces[1:]
    rate = transform.inverse(1j * transform.angular_rad_per_s * motion.body)
    return BlockRows(
        motion=motion,
        gate=gate,
        band=band,
        columns=columns,
        body=gated_band(transform.inverse(motion.body), gate, transform, band),
        body_rate=gated_band(rate, gate, transform, band),
        slow=slow_force_columns(gate, away_from_ends(transform), transform, band, slow_limit_hz),
    )
