"""Random roads with the roughness, wheel-track coherence and bumps one asks for."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ridelog.recording import FloatArray

REFERENCE_PER_M = 0.1
CLASS_UPPER_GD_N0_M3 = {"A": 32e-6, "B": 128e-6, "C": 512e-6, "D": 2048e-6, "E": 8192e-6}
"""Upper limits of the ISO 8608 classes at 0.1 cycle/m [m3]; class A has no lower one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bump:
    """A rounded ridge (or hollow, negative height) under one or both wheel tracks."""

    place_m: float
    length_m: float
    height_m: float
    left: bool = True
    right: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """A road to be drawn at random.

    `gd_n0_m3` and `exponent` as in ISO 8608; below `flat_below_per_m` the spectrum stays level.
    Left and right agree up to about `coherence_ratio` / track cycles per metre. The rear wheels run
    `wander_m` beside the tracks of the front ones, so that short waves differ. The tyre averages
    over `patch_m`. The first `level_m` are level: the car stands there.
    """

    gd_n0_m3: float
    exponent: float = 2.0
    flat_below_per_m: float = 0.012
    coherence_ratio: float = 0.2
    wander_m: float = 0.0
    patch_m: float = 0.1
    level_m: float = 6.0
    bumps: tuple[Bump, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RoadTracks:
    """Road height under fl fr rl rr against distance from the rear wheels' start, (4, n) [m]."""

    step_m: float
    height_m: FloatArray

    def under(self, wheel: int, distance_m: FloatArray) -> FloatArray:
        """Road height [m] under a wheel (0 to 3) at its distance [m] along the road."""
        grid = np.arange(self.height_m.shape[1]) * self.step_m
        height: FloatArray = np.interp(distance_m, grid, self.height_m[wheel])
        return height


def iso8608_class(gd_n0_m3: float) -> str:
    """Return the ISO 8608 class letter of a roughness at 0.1 cycle/m [m3] (E for worse too)."""
    for letter, upper in CLASS_UPPER_GD_N0_M3.items():
        if gd_n0_m3 <= upper:
            return letter
    return "E"


def road_psd_m3(road: Road, per_m: FloatArray) -> FloatArray:
    """One-sided height spectrum of a road [m3] at spatial frequencies [cycle/m].

    References
    ----------
    ISO 8608:2016: Gd(n) = Gd(n0) (n / n0)^-w, n0 = 0.1 cycle/m.
    """
    n = np.maximum(per_m, road.flat_below_per_m)
    psd: FloatArray = road.gd_n0_m3 * (n / REFERENCE_PER_M) ** -road.exponent
    return psd


def draw_road(
    road: Road, *, length_m: float, track_m: float, rng: np.random.Generator, step_m: float = 0.02
) -> RoadTracks:
    """Draw one road.

    Parameters
    ----------
    road : Road
        What to draw.
    length_m : float
        Length [m], from where the rear wheels stand at the start.
    track_m : float
        Distance between the wheel tracks [m].
    rng : numpy.random.Generator
        The source of chance.
    step_m : float
        Distance between points [m].

    Returns
    -------
    RoadTracks
        Heights under the four wheels.

    References
    ----------
    Spectral synthesis with Gaussian coefficients; coherence by mixing a common and an opposed
    part; derived here.
    """
    count = int(np.ceil(length_m / step_m))
    count += count % 2
    per_m: FloatArray = np.fft.rfftfreq(count, step_m).astype(float)
    scale = count * np.sqrt(road_psd_m3(road, per_m) / (2 * count * step_m))
    scale = scale * np.sinc(per_m * road.patch_m)
    scale[0] = 0.0
    coherence = 1 / (1 + (per_m * track_m / road.coherence_ratio) ** 2)
    common, opposed = np.sqrt((1 + coherence) / 2), np.sqrt((1 - coherence) / 2)
    follow = np.exp(-((per_m * road.wander_m) ** 2) * 2)

    front_common, front_opposed = _coefficients(rng, len(per_m)), _coefficients(rng, len(per_m))
    apart = np.sqrt(1 - follow**2)
    rear_common = follow * front_common + apart * _coefficients(rng, len(per_m))
    rear_opposed = follow * front_opposed + apart * _coefficients(rng, len(per_m))
    heights = [
        np.fft.irfft(scale * (common * both + sign * opposed * differ), count)
        for both, differ in ((front_common, front_opposed), (rear_common, rear_opposed))
        for sign in (1, -1)
    ]
    distance = np.arange(count, dtype=float) * step_m
    rise = np.clip((distance - road.level_m) / 20.0, 0.0, 1.0)
    tracks = np.stack(heights) * (rise**2 * (3 - 2 * rise))
    return RoadTracks(step_m=step_m, height_m=tracks + _bumps(road, distance))


def _coefficients(rng: np.random.Generator, count: int) -> npt.NDArray[np.complex128]:
    """Complex Gaussian numbers with mean square 1."""
    pair = rng.normal(size=(2, count)) / np.sqrt(2)
    result: npt.NDArray[np.complex128] = pair[0] + 1j * pair[1]
    return result


def _bumps(road: Road, distance: FloatArray) -> FloatArray:
    heights = np.zeros((4, len(distance)))
    for bump in road.bumps:
        inside = np.clip((distance - bump.place_m) / bump.length_m, 0.0, 1.0)
        shape = bump.height_m * np.sin(np.pi * inside) ** 2
        heights[[0, 2]] += bump.left * shape
        heights[[1, 3]] += bump.right * shape
    return heights
