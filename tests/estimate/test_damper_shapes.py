"""Readings of a log weighed by their evidence: against brute force, and friction between widths."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from scipy.special import erf
from scipy.stats import multivariate_normal

from ridelog.car.description import Axle, Car
from ridelog.estimate.balance.basis import BasisSettings, force_columns
from ridelog.estimate.balance.damper_shapes import (
    DAMPER_SHAPES,
    DIGRESSIVE,
    ShapeSettings,
    shape_rows,
)
from ridelog.estimate.balance.evidence import weigh_damper_shapes
from ridelog.estimate.balance.fit import BalanceFit, BalanceSettings, friction_places
from ridelog.estimate.balance.kinematics import body_delay_covariance, no_calibration
from ridelog.estimate.balance.layout import BODY_DELAY, DAMPER_LAG, Layout
from ridelog.estimate.balance.prior import channel_precision, mechanical_prior
from ridelog.estimate.balance.quantities import secant_n_s_per_m

AXLE = Axle(
    layout="independent",
    track_m=1.5,
    sprung_mass_kg=700.0,
    unsprung_mass_kg=80.0,
    spring_rate_n_per_m=40e3,
    motion_ratio=0.7,
)
CAR = Car(name="made up", wheelbase_m=2.6, front=AXLE, rear=AXLE)
SMALL = BasisSettings(
    node_speeds_m_per_s=(0.0, 0.03, 0.05, 0.1), friction_widths_m_per_s=(0.002, 0.004, 0.006, 0.009)
)
SLOPE_N_S_PER_M = 900.0
FRICTION_N = 40.0
SAMPLES = 8000
NOISE_N = 3.0


def fit_of(design, force, noise_n, basis):
    """A fit that knows of its log this design and force alone."""
    layout = Layout(basis=basis, groups=(BODY_DELAY, DAMPER_LAG))
    normal = design.T @ design / noise_n**2
    return BalanceFit(
        layout=layout,
        parameters=np.full(layout.count, 900.0),
        covariance=np.eye(layout.count),
        normal=normal,
        weighted_target=design.T @ force / noise_n**2,
        calibration=replace(no_calibration(), covariance=1e-8 * np.eye(26)),
        sensor_set="travel+body+hub",
        blocks=(),
        residual_ratio=0.1,
    )


def test_the_mixture_is_what_reading_every_way_by_itself_adds_up_to():
    # Reference: the marginal likelihood of the data, a normal density in as many dimensions as
    # there are data, by scipy; mean and covariance by the textbook's formula for each reading.
    rng = np.random.default_rng(2)
    layout = Layout(basis=SMALL, groups=(BODY_DELAY, DAMPER_LAG))
    settings = BalanceSettings(basis=SMALL)
    scale = np.full(layout.count, 1e-2)
    scale[[*(layout.spring(corner) for corner in range(4)), layout.bar(0), layout.bar(1)]] = 1e-5
    scale[layout.mechanical_count :] = 1e3
    design = rng.standard_normal((400, layout.count)) * scale
    design[:, friction_places(layout)] *= 0.45
    truth = np.full(layout.count, 900.0)
    truth[friction_places(layout)] = np.tile([90.0, 300.0, 300.0, 90.0], 4)
    truth[layout.mechanical_count :] = 0.0
    force = design @ truth + rng.standard_normal(400)
    fit = fit_of(design, force, 1.0, SMALL)
    found = weigh_damper_shapes(fit, CAR, settings, one_side_may_be_tired=False)

    rest = np.setdiff1d(np.arange(layout.count), friction_places(layout))
    logs, means, seconds = [], [], []
    for shapes in product(DAMPER_SHAPES, repeat=2):
        precision, weighted_mean = mechanical_prior(
            CAR,
            layout,
            settings.prior,
            one_side_may_be_tired=False,
            parameters=fit.parameters,
            shapes=shapes,
        )
        channels = slice(layout.mechanical_count, layout.count)
        precision[channels, channels] += channel_precision(
            CAR, layout, settings.prior, body_delay_covariance(fit.calibration)
        )
        for front, rear in product(range(2), range(2)):
            widths = [front, front, rear, rear]
            friction = np.concatenate(
                [
                    np.arange(
                        layout.friction(corner).start + first,
                        layout.friction(corner).start + first + 3,
                    )
                    for corner, first in enumerate(widths)
                ]
            )
            kept = np.sort(np.concatenate([rest, friction]))
            prior = np.linalg.inv(precision[np.ix_(kept, kept)])
            expected = prior @ weighted_mean[kept]
            part = design[:, kept]
            logs.append(
                multivariate_normal.logpdf(
                    force, part @ expected, part @ prior @ part.T + np.eye(len(force))
                )
            )
            covariance = np.linalg.inv(part.T @ part + precision[np.ix_(kept, kept)])
            mean = np.zeros(layout.count)
            mean[kept] = covariance @ (part.T @ force + weighted_mean[kept])
            assert mean[friction_places(layout)].min() >= 0  # else the reference would not apply
            second = np.outer(mean, mean)
            second[np.ix_(kept, kept)] += covariance
            means.append(mean)
            seconds.append(second)
    weight = np.exp(np.array(logs) - max(logs))
    weight /= weight.sum()
    assert np.sort(weight)[-2] > 0.01  # more than one reading counts
    mean = weight @ np.array(means)
    covariance = np.tensordot(weight, np.array(seconds), axes=1) - np.outer(mean, mean)
    deviation = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose(found.parameters, mean, atol=1e-4 * deviation.max(), rtol=1e-5)
    np.testing.assert_allclose(np.sqrt(np.diag(found.covariance)), deviation, rtol=1e-4)


def driven(rng, count, rate_hz, rms_m_per_s):
    """Damper speed of a drive, 0.8 to 14 Hz."""
    time_s = np.arange(count) / rate_hz
    speed = np.zeros(count)
    for frequency_hz in np.linspace(0.8, 14, 20):
        speed += np.sin(2 * np.pi * (frequency_hz * time_s + rng.uniform()))
    return speed * rms_m_per_s / np.std(speed)


def design_of(speed, layout):
    """Four corners of the same dampers, each seen alone."""
    design = np.zeros((4, len(speed), layout.count))
    for corner in range(4):
        curves = slice(layout.spring(corner) + 1, layout.friction(corner).stop)
        design[corner, :, curves] = force_columns(speed, layout.basis).T
    return design.reshape(-1, layout.count)


@pytest.mark.parametrize("width_m_per_s", [0.0018, 0.0029, 0.005, 0.008])
def test_friction_that_turns_between_the_widths_is_read_as_it_is(width_m_per_s):
    # A hyperbolic tangent is none of the widths' shapes.
    rng = np.random.default_rng(5)
    basis = BasisSettings()
    layout = Layout(basis=basis, groups=(BODY_DELAY, DAMPER_LAG))
    fine = 16  # steps within a sample interval, over which the force is averaged as the curves are
    speed = driven(rng, SAMPLES * fine, 500 * fine, 0.08)
    force = SLOPE_N_S_PER_M * speed + FRICTION_N * np.tanh(speed / width_m_per_s)
    seen = force.reshape(-1, fine).mean(axis=1) + NOISE_N * rng.standard_normal(SAMPLES)
    fit = fit_of(design_of(speed[::fine], layout), np.tile(seen, 4), NOISE_N, basis)
    found = weigh_damper_shapes(fit, CAR, BalanceSettings(), one_side_may_be_tired=False)
    friction_n = found.parameters[layout.friction(0)].sum()
    assert friction_n == pytest.approx(FRICTION_N, rel=0.02)


def drawn_slopes(rng, nodes, count):
    """Piece slopes of random laws with a knee, over their slope at low speed, by numpy alone."""
    edges = np.append(nodes, 2 * nodes[-1] - nodes[-2])
    knee = np.exp(rng.uniform(np.log(0.05), np.log(0.3), (count, 1)))
    late = rng.uniform(0.28, 1.05, (count, 1))
    force = np.minimum(edges, knee) + late * np.maximum(edges - knee, 0)
    rounded = late * edges + (1 - late) * knee * np.arctan(edges / knee)
    force[::2] = rounded[::2]
    slopes = np.diff(force, axis=1) / np.diff(edges)
    return slopes / slopes[:, 2:3]


def test_the_belief_of_a_digressive_damper_has_the_familys_mean_and_no_narrower_spread():
    nodes = BasisSettings().node_speeds_m_per_s
    rows = shape_rows(DIGRESSIVE, nodes, ShapeSettings())
    slopes = drawn_slopes(np.random.default_rng(3), np.array(nodes), 20_000)
    seen = slopes @ rows[2:].T
    np.testing.assert_allclose(seen.mean(axis=0), 0, atol=0.05)
    spread = np.linalg.eigvalsh(np.cov(seen.T))
    assert 0.1 < spread.max() < 1


def test_a_straight_damper_is_no_surprise_to_any_shape():
    nodes = BasisSettings().node_speeds_m_per_s
    for shape in DAMPER_SHAPES:
        surprise = shape_rows(shape, nodes, ShapeSettings()) @ np.ones(len(nodes))
        assert np.sum(surprise**2) < 2  # of 14 expected


@pytest.mark.parametrize(("knee_m_per_s", "late"), [(0.06, 0.3), (0.1, 0.4), (0.2, 0.5), (9, 1)])
def test_a_knee_is_not_taken_for_friction(knee_m_per_s, late):
    # So much noise that beliefs count. Held to be straight, the first of these dampers reads a
    # third low in damping and 13 N high in friction.
    rng = np.random.default_rng(6)
    basis = BasisSettings()
    layout = Layout(basis=basis, groups=(BODY_DELAY, DAMPER_LAG))
    speed = driven(rng, SAMPLES, 500, 0.12)
    size = np.abs(speed)
    bent = np.minimum(size, knee_m_per_s) + late * np.maximum(size - knee_m_per_s, 0)
    force = SLOPE_N_S_PER_M * np.sign(speed) * bent + FRICTION_N * erf(speed / 0.004)
    force = 0.5 * (force + np.append(force[1:], force[-1]))
    design = design_of(speed, layout)
    damping, friction, noise_n = [], [], 20.0
    for _ in range(4):
        seen = force + noise_n * rng.standard_normal(SAMPLES)
        fit = fit_of(design, np.tile(seen, 4), noise_n, basis)
        found = weigh_damper_shapes(fit, CAR, BalanceSettings(), one_side_may_be_tired=False)
        damping.append(np.mean(secant_n_s_per_m(found.parameters[None], layout, 0)))
        friction.append(found.parameters[layout.friction(0)].sum())
    assert np.mean(damping) == pytest.approx(SLOPE_N_S_PER_M, rel=0.06)
    assert np.mean(friction) == pytest.approx(FRICTION_N, abs=3)
