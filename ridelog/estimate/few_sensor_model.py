"""A car, a road and cheap sensors as one spectral model with priors on what is not measured."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from ridelog.estimate.few_sensor_priors import (
    CAR_PARAMETERS,
    AxleNumbers,
    Mode,
    PriorSettings,
    axle_priors,
)
from ridelog.estimate.half_car_model import (
    AxleModel,
    Responses,
    heave_pitch_responses,
    roll_responses,
)
from ridelog.estimate.spectra import SpectralGrid
from ridelog.estimate.whittle import Prior
from ridelog.recording import FloatArray

ROAD_KNOTS_HZ = (0.7, 1.5, 3.2, 7.0, 15.0)
_MOMENT_CORNER_HZ = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FewSensorModel:
    """The whole model: call `spectra` with parameter vectors.

    `modes` names what each measured pair is: mean of left and right, half their difference, or one
    side alone. `groups` counts stretches of the log with their own speed and roughness.
    """

    grid: SpectralGrid
    axles: tuple[AxleNumbers, AxleNumbers]
    wheelbase_m: float
    travel: bool
    modes: tuple[Mode, ...]
    groups: int
    noise_density: float
    index: Mapping[str, int] = field(default_factory=dict)

    def value(self, theta: FloatArray, name: str) -> FloatArray:
        """Parameter `name` of a batch (k, p), shape (k, 1)."""
        return theta[:, self.index[name], None]

    def axle_model(self, theta: FloatArray, which: int, group: int) -> AxleModel:
        """Physical numbers of one axle for a batch of parameters, each (k, 1)."""
        numbers = self.axles[which]

        def value(name: str) -> FloatArray:
            return self.value(theta, f"{name}_{which}")

        mass = numbers.sprung_mass_kg * np.exp(value("mass"))
        tyre = np.exp(value("tyre"))
        ride = np.minimum((2 * np.pi * np.exp(value("frequency"))) ** 2 * mass / 2, 0.9 * tyre)
        wheel = ride * tyre / (tyre - ride)
        level = self.value(theta, f"level_{group}") - self.value(theta, "level_0")
        softened = np.exp(-self.value(theta, "softening") * level / 2)
        damping = np.exp(value("damping")) * 2 * np.sqrt(wheel * mass / 2) * softened
        return AxleModel(
            sprung_mass_kg=mass,
            unsprung_mass_kg=numbers.unsprung_mass_kg * np.exp(value("unsprung")),
            wheel_rate_n_per_m=wheel,
            wheel_damping_n_s_per_m=damping,
            tyre_rate_n_per_m=tyre,
            track_m=numbers.track_m,
            roll_lever_ratio=numbers.roll_lever_ratio,
            bar_rate_n_per_m=wheel * np.exp(value("bar")),
            roll_mass_ratio=np.exp(value("roll_mass")),
        )

    def spectra(self, theta: FloatArray) -> FloatArray:
        """Packed model spectra, shape (k, groups x modes, 4, bins)."""
        pairs = []
        for group in range(self.groups):
            motions = self.motions(theta, group)
            pairs += [self._packed(theta, motions, mode) for mode in self.modes]
        return self.grid.seen(np.stack(pairs, axis=1))

    def motions(self, theta: FloatArray, group: int) -> dict[str, FloatArray]:
        """Packed signal spectra of the mean and the half difference, each (k, 4, fine)."""
        frequency_hz = self.grid.fine_hz
        cutoff_hz = np.exp(self.value(theta, "coherence"))
        power = np.exp(self.value(theta, "coherence_power"))
        gamma = np.exp(-((frequency_hz / cutoff_hz) ** power))
        road = self.road(theta, frequency_hz, group)
        # A car's responses are the costly part; most rows of a batch share one car.
        car_columns = self._car_columns(group)
        rows, row_of = np.unique(theta[:, car_columns], axis=0, return_inverse=True)
        cars = np.repeat(theta[:1], len(rows), axis=0)
        cars[:, car_columns] = rows
        front, rear = (self.axle_model(cars, which, group) for which in (0, 1))
        out = {}
        if self.modes != ("mean",):
            roll = self._roll(cars, front, rear).rows(row_of)
            out["difference"] = self._signal(theta, group, roll, road * (1 - gamma) / 2, "roll")
        if self.modes != ("difference",):
            heave = heave_pitch_responses(
                frequency_hz,
                front,
                rear,
                wheelbase_m=self.wheelbase_m,
                pitch_index=np.exp(self.value(cars, "pitch_index")),
                travel=self.travel,
            ).rows(row_of)
            out["mean"] = self._signal(theta, group, heave, road * (1 + gamma) / 2, "pitch")
        return out

    def _car_columns(self, group: int) -> list[int]:
        """Columns of the parameters that the responses of the car depend on."""
        names = [f"{name}_{which}" for name in CAR_PARAMETERS for which in (0, 1)]
        names += ["pitch_index", "roll_radius"]
        if group:
            names += ["softening", "level_0", f"level_{group}"]
        return [self.index[name] for name in names]

    def _roll(self, cars: FloatArray, front: AxleModel, rear: AxleModel) -> Responses:
        return roll_responses(
            self.grid.fine_hz,
            front,
            rear,
            roll_inertia_kg_m2=self.roll_inertia_kg_m2(cars),
            travel=self.travel,
        )

    def roll_inertia_kg_m2(self, theta: FloatArray) -> FloatArray:
        """Roll inertia of the body for a batch, shape (k, 1)."""
        front, rear = self.axles
        radius_m = np.exp(self.value(theta, "roll_radius")) * (front.track_m + rear.track_m) / 2
        mass = front.sprung_mass_kg * np.exp(self.value(theta, "mass_0"))
        mass = mass + rear.sprung_mass_kg * np.exp(self.value(theta, "mass_1"))
        return np.asarray(mass * radius_m**2)

    def road(self, theta: FloatArray, grid: FloatArray, group: int) -> FloatArray:
        """Displacement density of each track [m2/Hz], shape (k, grid)."""
        log_f = np.log(grid)
        knots = np.log(ROAD_KNOTS_HZ)
        shape = self.value(theta, f"level_{group}") - self.value(theta, "slope") * log_f
        for number, hat in enumerate(np.eye(len(knots))):
            shape = shape + self.value(theta, f"knot_{number}") * np.interp(log_f, knots, hat)
        return np.asarray(np.exp(shape))

    def _signal(
        self,
        theta: FloatArray,
        group: int,
        responses: Responses,
        road: FloatArray,
        moment: str,
    ) -> FloatArray:
        """Packed 2 x 2 spectra of front and rear output for one motion."""
        frequency_hz = self.grid.fine_hz
        omega = 2 * np.pi * frequency_hz
        delay_s = np.exp(self.value(theta, f"delay_{group}"))
        spread = np.exp(self.value(theta, "spread"))
        gamma = np.exp(-0.5 * (omega * delay_s * spread) ** 2 + 1j * omega * delay_s)
        gamma = gamma * self.grid.pooled_coherence(delay_s)
        (ff, rf), (fr, rr) = responses.road_front, responses.road_rear
        pf, pr = responses.moment
        falling = 1 + (frequency_hz / _MOMENT_CORNER_HZ) ** 2
        push = np.exp(self.value(theta, moment)) * 1e6 / falling**2
        s11 = road * (abs(ff) ** 2 + abs(fr) ** 2 + 2 * (gamma * ff * fr.conj()).real)
        s22 = road * (abs(rf) ** 2 + abs(rr) ** 2 + 2 * (gamma * rf * rr.conj()).real)
        s12 = road * (
            ff * rf.conj() + fr * rr.conj() + gamma * ff * rr.conj() + gamma.conj() * fr * rf.conj()
        )
        s11 = s11 + push * abs(pf) ** 2
        s22 = s22 + push * abs(pr) ** 2
        s12 = (s12 + push * pf * pr.conj()) * np.exp(1j * omega * self.value(theta, "skew"))
        unit = 1.0 if self.travel else omega**4
        g_f = np.exp(self.value(theta, "gain_0"))
        g_r = np.exp(self.value(theta, "gain_1"))
        return np.stack(
            [
                unit * g_f**2 * s11,
                unit * g_r**2 * s22,
                unit * g_f * g_r * s12.real,
                unit * g_f * g_r * s12.imag,
            ],
            axis=1,
        )

    def _packed(self, theta: FloatArray, motions: dict[str, FloatArray], mode: Mode) -> FloatArray:
        single = mode in ("side", "diagonal")
        if single:
            across = np.array([1.0, 1.0, -1.0, -1.0]) if mode == "diagonal" else np.ones(4)
            signal = motions["mean"] + motions["difference"] * across[:, None]
        else:
            signal = motions[mode]
        noise = self.noise_density * np.exp(self.value(theta, "noise"))
        share = 1.0 if single else 0.5
        out = signal.copy()
        out[:, :2] = (
            out[:, :2] * (1 + np.exp(self.value(theta, "distortion")))[:, None]
            + (share * noise)[:, None]
        )
        return out


def make_model(
    grid: SpectralGrid,
    axles: tuple[AxleNumbers, AxleNumbers],
    *,
    wheelbase_m: float,
    travel: bool,
    modes: tuple[Mode, ...],
    groups: int,
    noise_density: float,
    settings: PriorSettings,
    delay_s: FloatArray,
    delay_sd: float,
) -> tuple[FewSensorModel, Prior]:
    """Lay out the parameters of a model and their priors.

    Parameters
    ----------
    grid : SpectralGrid
        Where spectra are compared.
    axles : tuple of AxleNumbers
        Front and rear.
    wheelbase_m : float
        [m]
    travel : bool
        Travel sensors (True) or body accelerometers.
    modes : tuple of str
        What each measured pair is.
    groups : int
        Stretches with their own speed and roughness [1].
    noise_density : float
        One sensor's usual noise [m2/Hz or (m/s2)2/Hz].
    settings : PriorSettings
        Beliefs about the rest.
    delay_s : FloatArray
        Front-to-rear delay of each stretch [s], shape (groups,).
    delay_sd : float
        Relative standard deviation of these delays [1].
    """
    entries: list[tuple[str, tuple[float, float]]] = []
    for which, numbers in enumerate(axles):
        entries += [
            (f"{name}_{which}", prior) for name, prior in axle_priors(numbers, settings, travel)
        ]
    entries += [
        ("pitch_index", settings.pitch_index),
        ("roll_radius", settings.roll_radius_over_track),
        ("slope", settings.road_slope),
        ("coherence", settings.track_coherence_hz),
        ("coherence_power", settings.track_coherence_power),
        ("pitch", settings.moment_level),
        ("roll", settings.moment_level),
        ("noise", settings.noise),
        ("distortion", settings.distortion),
        ("spread", settings.delay_spread),
        ("skew", settings.channel_delay_s),
        ("softening", settings.softening),
    ]
    entries += [(f"knot_{number}", settings.road_knot) for number in range(len(ROAD_KNOTS_HZ))]
    for group in range(groups):
        entries += [
            (f"level_{group}", (np.log(1e-6), 8.0)),
            (f"delay_{group}", (float(np.log(delay_s[group])), delay_sd)),
        ]
    model = FewSensorModel(
        grid=grid,
        axles=axles,
        wheelbase_m=wheelbase_m,
        travel=travel,
        modes=modes,
        groups=groups,
        noise_density=noise_density,
        index={name: number for number, (name, _) in enumerate(entries)},
    )
    table = np.array([prior for _, prior in entries])
    return model, Prior(mean=table[:, 0], sd=table[:, 1])
