"""Springs with more than one rate, against closed forms and published worked examples."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from ridelog.car.load import load_car
from ridelog.car.spring_law import (
    SpringLaw,
    linear_law,
    load_at_squash_n,
    load_points_law,
    main_squash_m,
    rate_at_load_n_per_m,
    rate_points_law,
    squash_at_load_m,
    with_inner,
)
from ridelog.car.springs import law_of, main_rate_n_per_m, with_main_rate
from ridelog.errors import CarFileError

STACK = SpringLaw(
    squash_m=(0.0,), rate_n_per_m=(60e3,), helper_rate_n_per_m=30e3, helper_travel_m=0.05
)


def test_springs_in_series_until_the_helper_closes():
    """1/k = 1/60 + 1/30 N/mm: 20 N/mm up to 30 N/mm x 50 mm = 1500 N, 60 N/mm beyond.

    W. T. Thomson, Theory of Vibration with Applications, table on p. 36.
    """
    assert rate_at_load_n_per_m(STACK, [100.0, 1499.0, 1501.0]) == pytest.approx([20e3, 20e3, 60e3])
    # At closing: 50 mm of helper and 25 mm of main.
    assert squash_at_load_m(STACK, [750.0, 1500.0, 2100.0]) == pytest.approx([0.0375, 0.075, 0.085])
    assert load_at_squash_n(STACK, [-0.01, 0.0375, 0.085]) == pytest.approx([0.0, 750.0, 2100.0])


def test_nested_pair_of_bhandari_example_10_19():
    """1000 N on 28.2535 N/mm with 29.4307 N/mm joining after 15 mm: 24.9888 mm."""
    pair = with_inner(linear_law(28253.5), 29430.7, 0.015)
    assert squash_at_load_m(pair, 1000.0) == pytest.approx(0.0249888, abs=1e-7)
    assert rate_at_load_n_per_m(pair, [400.0, 1000.0]) == pytest.approx([28253.5, 57684.2])
    assert load_at_squash_n(pair, 0.0249888) == pytest.approx(1000.0, abs=0.01)


def test_rising_rate_is_its_integral():
    """30 N/mm rising by 25 N/mm over 100 mm: F = 30 x + 0.125 x^2, in N and mm."""
    law = rate_points_law(((0.0, 30e3), (0.1, 55e3)))
    squash = np.array([0.02, 0.06, 0.1, 0.12])
    load = np.array([650.0, 2250.0, 4250.0, 4250.0 + 20 * 55.0])
    assert load_at_squash_n(law, squash) == pytest.approx(load)
    assert main_squash_m(law, load) == pytest.approx(squash)
    assert rate_at_load_n_per_m(law, load) == pytest.approx([35e3, 45e3, 55e3, 55e3])


def test_constant_frequency_spring_from_its_loads():
    """Load 3000 N exp((x - 160 mm) / 160 mm): the rate is load / 160 mm everywhere.

    D. Barton and J. Fieldhouse, Automotive Chassis Engineering (2018), p. 177: 30 mm beyond the
    standing load of 3000 N it carries 3618.7 N at 22617 N/m.
    """
    squash = np.linspace(0.1, 0.22, 9)
    points = tuple((float(x), float(3000 * np.exp((x - 0.16) / 0.16))) for x in squash)
    law = load_points_law(points)
    standing = squash_at_load_m(law, 3000.0)
    assert load_at_squash_n(law, standing + 0.03) == pytest.approx(3618.7, rel=2e-3)
    assert rate_at_load_n_per_m(law, 3618.7) == pytest.approx(22617, rel=0.01)
    given = np.array(points)
    assert load_at_squash_n(law, given[:, 0]) == pytest.approx(given[:, 1], rel=2e-3)


@pytest.mark.parametrize(
    "law", [STACK, with_inner(rate_points_law(((0.02, 20e3), (0.09, 50e3))), 15e3, 0.05)]
)
def test_load_squash_and_rate_belong_together(law):
    """Rate is the slope of load, and load the inverse of squash, by an independent integration."""
    law = replace(law, scale=1.07)
    path = solve_ivp(
        lambda _, load: rate_at_load_n_per_m(law, load), (0, 0.11), [0.0], max_step=1e-4, rtol=1e-9
    )
    assert load_at_squash_n(law, path.t[::50]) == pytest.approx(path.y[0, ::50], rel=2e-3, abs=3.0)
    load = np.linspace(10, 5000, 40)
    assert load_at_squash_n(law, squash_at_load_m(law, load)) == pytest.approx(load, rel=1e-9)


def axle(write, more: str):
    return load_car(write(("[rear]", more + "\n[rear]"))).front


def test_car_file_with_a_helper_closed_and_open_at_ride_height(write):
    """The front spring carries 390 kg x 9.80665 / 0.61 = 6269.8 N at ride height."""
    closed = axle(write, '[front.helper_spring]\nrate = "50 N/mm"\ncloses_after = "60 mm"')
    assert closed.spring_rate_n_per_m == pytest.approx(78807.08, abs=0.01)
    lengths = 'free_length = "200 mm"\nblock_length = "60 mm"'
    still = axle(write, f'[front.helper_spring]\nrate = "50 N/mm"\n{lengths}')
    assert still.spring_rate_n_per_m == pytest.approx(1 / (1 / 78807.08 + 1 / 50e3), rel=1e-6)
    assert main_rate_n_per_m(still) == pytest.approx(78807.08, abs=0.01)
    other = with_main_rate(still, 60e3)
    assert other.spring_rate_n_per_m == pytest.approx(1 / (1 / 60e3 + 1 / 50e3))
    assert with_main_rate(still, 78807.08) is still


def test_car_file_with_a_progressive_spring(write):
    """F = 40 x + 0.2 x^2 in N and mm meets 6269.8 N at 103.34 mm; rate there 81.34 N/mm."""
    points = '[front.spring]\nrate_points = [["0 mm", "40 N/mm"], ["150 mm", "100 N/mm"]]'
    found = axle(write, points)
    assert found.spring_rate_n_per_m == pytest.approx(81.338e3, rel=1e-3)
    assert main_rate_n_per_m(found) == pytest.approx(81.338e3, rel=1e-3)
    plain = with_main_rate(found, 60e3)
    assert plain.spring_rate_n_per_m == 60e3
    assert law_of(plain) == linear_law(60e3)
    assert with_main_rate(found, 78807.08) is found  # as stated: the spring itself


FAULTS = {
    "falling": ('rate_points = [["9 mm", "3 N/mm"], ["1 mm", "9 N/mm"]]', "squash rising"),
    "one": ('rate_points = [["9 mm", "3 N/mm"]]', "at least 2 points"),
    "three in a point": ('rate_points = [["9 mm", "3 N/mm", "1"]]', "is a pair such as"),
    "wrong unit": (
        'load_points = [["9 mm", "3 N/mm"], ["19 mm", "9 N/mm"]]',
        "not that of a force",
    ),
    "block": ('free_length = "100 mm"\nblock_length = "120 mm"', "must be less than free_length"),
    "unknown": ('free_lenght = "100 mm"', "did you mean free_length?"),
}


@pytest.mark.parametrize(("text", "words"), FAULTS.values(), ids=FAULTS)
def test_faults_of_a_spring_are_one_line(write, text, words):
    with pytest.raises(CarFileError) as caught:
        load_car(write(("[rear]", f"[front.spring]\n{text}\n[rear]")))
    (line,) = caught.value.faults
    assert line.startswith("front.spring")
    assert words in line


def test_a_helper_needs_its_travel(write):
    with pytest.raises(CarFileError, match="helper_spring: needs free_length and block_length"):
        axle(write, '[front.helper_spring]\nrate = "50 N/mm"')


def test_springs_on_sale_in_the_car_file_and_beside_it(write, tmp_path):
    table = tmp_path / "shelf.csv"
    table.write_text(
        "name;rate [N/mm];free_length;block_length;price\n"
        "# made up\nblue;70;250 mm;110 mm;48.5\nred;80;10 in;;\n",
        encoding="utf-8",
    )
    front = axle(
        write,
        'springs_on_sale = [{ rate = "450 lbf/in", name = "own", price = 0 }]\n'
        'springs_on_sale_file = "shelf.csv"',
    )
    own, blue, red = front.springs_on_sale
    assert (own.name, own.price, own.free_length_m) == ("own", 0, None)
    assert (blue.rate_n_per_m, blue.free_length_m, blue.block_length_m) == (70e3, 0.25, 0.11)
    assert blue.price == 48.5
    assert (red.free_length_m, red.block_length_m) == (pytest.approx(0.254), None)


TABLES = {
    "rate\n70\n": 'shelf.csv, spring 1: "70" has no unit',
    "rait\n70 N/mm\n": 'shelf.csv: column "rait" is unknown; known are name, rate',
    "name\nblue\n": "shelf.csv: the column rate is missing",
    "rate,price\n70 N/mm,5 crowns\n": 'shelf.csv, spring 1: price "5 crowns" is no number',
    "rate,free_length,block_length\n70 N/mm,1 in,2 in\n": "block_length must be less than",
    "rate,name\n,blue\n": "shelf.csv, spring 1: has no rate above zero",
    "rate\n": "shelf.csv: write the columns' names",
}


@pytest.mark.parametrize(("text", "words"), TABLES.items(), ids=list(TABLES.values()))
def test_faults_of_a_list_are_one_line(write, tmp_path, text, words):
    (tmp_path / "shelf.csv").write_text(text, encoding="utf-8")
    with pytest.raises(CarFileError) as caught:
        axle(write, 'springs_on_sale_file = "shelf.csv"')
    (line,) = caught.value.faults
    assert words in line


def test_a_list_that_is_not_there(write):
    with pytest.raises(CarFileError, match=r"nowhere.csv cannot be read \(No such file"):
        axle(write, 'springs_on_sale_file = "nowhere.csv"')
