"""From a fitted few-sensor model to the contract's numbers, with intervals that own up."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ridelog.estimate.curves import SpectrumCurve
from ridelog.estimate.damper_law_prior import DamperLawPrior, LogRatio, effective_over_secant
from ridelog.estimate.few_sensor_fit import FewSensorFit
from ridelog.estimate.result import AxleResult, Estimate
from ridelog.recording import AXLES, FloatArray

OUTPUTS = (
    "body_frequency_hz",
    "spring_frequency_hz",
    "damping_ratio",
    "decay_damping_ratio",
    "wheel_hop_hz",
    "wheel_rate_n_per_m",
)
_DAMPING = ("damping_ratio", "decay_damping_ratio")


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalSettings:
    """What the fit's own covariance leaves out, found on simulated cars of several kinds.

    Standard deviations are widened by `inflation` times the root of the misfit, and by the root of
    the tension between fit and priors over the `usual_tension`. Then a relative floor is added in
    quadrature: friction and curved dampers are no linear spring and dashpot.
    Anything wider than `widest` (one relative standard deviation) is not reported, nor anything
    from a fit with a misfit above the `worst` (cars with a twisting body, blows at the stops: one
    accelerometer a side suffers most), from one with a tension above `worst_tension` (a wrong delay
    between the axles), or whose delay means more than `fastest_m_per_s`.
    """

    inflation: float = 1.0
    frequency_floor: float = 0.006
    damping_floor: float = 0.03
    widest_frequency: float = 0.12
    widest_damping: float = 0.40
    widest_hop: float = 0.03
    worst_misfit_travel: float = 20.0
    worst_misfit_body: float = 15.0
    worst_misfit_one_side: float = 3.5
    usual_tension: float = 25.0
    worst_tension: float = 80.0
    fastest_m_per_s: float = 50.0
    law: DamperLawPrior = field(default_factory=DamperLawPrior)


def axle_results(
    fit: FewSensorFit, *, method: str, settings: IntervalSettings | None = None
) -> tuple[dict[str, AxleResult], tuple[str, ...]]:
    """Read both axles' results off a fit.

    Parameters
    ----------
    fit : FewSensorFit
        From `fit_few_sensors`.
    method : str
        Words for the results' `method`.
    settings : IntervalSettings, optional
        How intervals are widened and when a number is withheld.

    Returns
    -------
    tuple
        Results by axle name, and notes on what could not be told.

    References
    ----------
    Definitions: see `ridelog.estimate.result.AxleResult`. Error propagation to first order:
    JCGM 100:2008, sec. 5.2.
    """
    chosen = settings or IntervalSettings()
    reason = _unfit(fit, chosen)
    if reason is not None:
        note = f"Front and rear frequency and damping: {reason}"
        return {name: AxleResult(method=method) for name in AXLES}, (note,)
    results, notes = {}, []
    for which, name in enumerate(AXLES):
        law = damper_law(fit, which, chosen.law)
        estimates = _estimates(fit, which, law, chosen)
        results[name] = AxleResult(method=method, **estimates)
        missing = [key for key, value in estimates.items() if value is None]
        if missing:
            words = ", ".join(_words(key) for key in missing)
            notes.append(f"{name.capitalize()} {words}: this log leaves them too uncertain")
    notes.append(
        "Bump and rebound damping apart, friction and damper force: need travel and body sensors"
        " together"
    )
    return results, tuple(notes)


def _unfit(fit: FewSensorFit, settings: IntervalSettings) -> str | None:
    """Why no number may rest on this fit, None where it may."""
    worst = settings.worst_misfit_travel
    if not fit.model.travel:
        one_side = len(fit.model.modes) == 1
        worst = settings.worst_misfit_one_side if one_side else settings.worst_misfit_body
    if fit.misfit > worst:
        return (
            "the spectra do not look like a rigid car's on a road (they scatter"
            f" {fit.misfit:.0f} times more about the fit than chance allows)"
        )
    if fit.tension > settings.worst_tension:
        return (
            "they could be read only off a car, a road and sensors unlike any known; log the speed,"
            " or drive longer at one speed"
        )
    if fit.model.wheelbase_m / float(fit.delays_s.min()) > settings.fastest_m_per_s:
        return "no delay between front and rear wheels shows that a car's speed could explain"
    return None


def _words(key: str) -> str:
    return key.removesuffix("_hz").removesuffix("_n_per_m").replace("_", " ")


def damper_law(fit: FewSensorFit, which: int, prior: DamperLawPrior) -> LogRatio:
    """Effective over secant damping of one axle at the damper speed the fitted drive has.

    Parameters
    ----------
    fit : FewSensorFit
        The fit.
    which : int
        0 front, 1 rear.
    prior : DamperLawPrior
        What dampers are like.

    References
    ----------
    See `effective_over_secant`.
    """
    model, theta = fit.model, fit.fit.parameters[None]
    ratio = model.axles[which].motion_ratio
    effective = float(model.axle_model(theta, which, 0).wheel_damping_n_s_per_m[0, 0]) / ratio**2
    return effective_over_secant(effective, damper_speed_rms_m_per_s(fit, which), prior)


def damper_speed_rms_m_per_s(fit: FewSensorFit, which: int) -> float:
    """Root mean square damper speed in the fit's first group, by the fitted model.

    Parameters
    ----------
    fit : FewSensorFit
        The fit.
    which : int
        0 front, 1 rear.

    References
    ----------
    Derived here: integral of w^2 times the travel spectrum of one corner (mean plus difference).
    """
    model = replace(fit.model, travel=True, modes=("side",))
    motions = model.motions(fit.fit.parameters[None], 0)
    frequency_hz = model.grid.fine_hz
    density = (motions["mean"] + motions["difference"])[0, which]
    power = np.trapezoid(density * (2 * np.pi * frequency_hz) ** 2, frequency_hz)
    gain = 1.0 if fit.model.travel else model.axles[which].motion_ratio
    return float(np.sqrt(power) * gain)


def log_outputs(fit: FewSensorFit, theta: FloatArray, which: int) -> FloatArray:
    """Logarithms of `OUTPUTS`, damping as the spectra show it.

    Parameters
    ----------
    fit : FewSensorFit
        The fit.
    theta : FloatArray
        Parameter vectors, shape (k, p).
    which : int
        0 front, 1 rear.

    Returns
    -------
    FloatArray
        Shape (k, outputs).
    """
    axle = fit.model.axle_model(theta, which, 0)
    wheel, tyre = axle.wheel_rate_n_per_m, axle.tyre_rate_n_per_m
    corner_kg = axle.sprung_mass_kg / 2
    damping = axle.wheel_damping_n_s_per_m / (2 * np.sqrt(wheel * corner_kg))
    outputs = (
        fit.model.value(theta, f"frequency_{which}"),
        np.log(np.sqrt(wheel / corner_kg) / (2 * np.pi)),
        np.log(damping),
        np.log(damping * (tyre / (wheel + tyre)) ** 1.5),
        np.log(np.sqrt(2 * (wheel + tyre) / axle.unsprung_mass_kg) / (2 * np.pi)),
        np.log(wheel),
    )
    return np.concatenate(outputs, axis=1)


def _estimates(
    fit: FewSensorFit, which: int, law: LogRatio, settings: IntervalSettings
) -> dict[str, Estimate | None]:
    """Propagate the fit's covariance to the outputs and widen it."""
    theta = fit.fit.parameters
    step = 1e-4 * np.minimum(fit.prior.sd, 1.0)
    centre = log_outputs(fit, theta[None], which)[0]
    slopes = (log_outputs(fit, theta + np.diag(step), which) - centre) / step[:, None]
    conflict = max(fit.tension / settings.usual_tension, 1.0)
    stretch = settings.inflation * np.sqrt(max(fit.misfit, 1.0) * conflict)
    total = stretch * np.sqrt(np.einsum("po,pq,qo->o", slopes, fit.fit.covariance, slopes))
    random = np.minimum(stretch * _random_sd(fit, slopes), total)
    out: dict[str, Estimate | None] = {}
    for number, key in enumerate(OUTPUTS):
        frequency = key not in _DAMPING
        twice = 2.0 if key.endswith("n_per_m") else 1.0
        floor = twice * settings.frequency_floor if frequency else settings.damping_floor
        shift, spread = (0.0, 0.0) if frequency else (law.mean, law.sd)
        systematic = np.sqrt(total[number] ** 2 - random[number] ** 2 + floor**2 + spread**2)
        sd = float(np.hypot(random[number], systematic))
        value = float(np.exp(centre[number] - shift))
        out[key] = None
        if sd < twice * _widest(key, settings):
            out[key] = Estimate(
                value=value,
                low=float(value * np.exp(-1.96 * sd)),
                high=float(value * np.exp(1.96 * sd)),
                random_half_width=float(1.96 * random[number] * value),
                systematic_half_width=float(1.96 * systematic * value),
                largest_contributor=_largest(float(random[number]), float(systematic), frequency),
            )
    if out["body_frequency_hz"] is None:
        # A stated tyre rate and wheel mass give a hop for any log, even one that holds no car.
        out["wheel_hop_hz"] = None
    return out


def _widest(key: str, settings: IntervalSettings) -> float:
    if key == "wheel_hop_hz":
        return settings.widest_hop
    return settings.widest_damping if key in _DAMPING else settings.widest_frequency


def _largest(random: float, systematic: float, frequency: bool) -> str:
    if random > systematic:
        return "length of the log"
    return (
        "masses, tyre rate and sensor gains" if frequency else "shape of the damper's force curve"
    )


def _random_sd(fit: FewSensorFit, slopes: FloatArray) -> FloatArray:
    """Spread were masses, tyre rates, motion ratios and sensor gains known exactly."""
    fixed = {
        number
        for name, number in fit.model.index.items()
        if name.rsplit("_", 1)[0] in ("mass", "unsprung", "tyre", "gain")
    }
    free = [number for number in range(len(fit.prior.mean)) if number not in fixed]
    information = np.linalg.pinv(fit.fit.covariance, hermitian=True)
    covariance = np.linalg.inv(information[np.ix_(free, free)])
    return np.asarray(np.sqrt(np.einsum("po,pq,qo->o", slopes[free], covariance, slopes[free])))


def spectrum_curves(fit: FewSensorFit) -> tuple[SpectrumCurve, ...]:
    """Measured and fitted spectra of both axles, one curve for each.

    Parameters
    ----------
    fit : FewSensorFit
        The fit; its first group of blocks is drawn.
    """
    fitted = fit.model.spectra(fit.fit.parameters[None])[0]
    kind, unit = ("travel", "m") if fit.model.travel else ("body acceleration", "m/s2")
    return tuple(
        SpectrumCurve(
            label=f"{name} {kind}",
            place=name,
            unit=unit,
            frequency_hz=fit.model.grid.frequency_hz,
            measured=fit.data[0, which],
            fitted=fitted[0, which],
        )
        for which, name in enumerate(AXLES)
    )
