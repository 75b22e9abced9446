"""Where heights come from: call, latest setup file, car file; faults name the option."""

from __future__ import annotations

from dataclasses import replace

import pytest

from ridelog.car.load import load_car
from ridelog.errors import RidelogError
from ridelog.runs.height_figures import StatedHeights, height_figures

CAR_TEXT = """
[car]
name = "a made-up car"
wheelbase = "2.6 m"
[front]
layout = "independent"
track = "1.5 m"
sprung_mass = "600 kg"
unsprung_mass = "80 kg"
spring_rate = "60 N/mm"
motion_ratio = 0.7
bar_rate = "8 N/mm"
[rear]
layout = "independent"
track = "1.5 m"
sprung_mass = "600 kg"
unsprung_mass = "80 kg"
spring_rate = "60 N/mm"
motion_ratio = 0.7
[ride_height]
front = "655 mm"
rl = "640 mm"
rr = "642 mm"
[target_ride_height]
front = "650 mm"
rear = "645 mm"
[corner_weight]
front = "340 kg"
rear = "335 kg"
"""


@pytest.fixture
def car(tmp_path):
    (tmp_path / "car.toml").write_text(CAR_TEXT, encoding="utf-8")
    return load_car(tmp_path / "car.toml")


def setup(folder, name, date, text):
    (folder / f"{name}.setup.toml").write_text(f"date = {date}\n{text}", encoding="utf-8")


def test_the_car_file_holds_baseline_target_weights_and_bar(car, tmp_path):
    found = height_figures(car, StatedHeights(), None, tmp_path)
    assert found.before_m == {"fl": 0.655, "fr": 0.655, "rl": 0.64, "rr": 0.642}
    assert found.now_m == found.before_m
    assert found.wanted_m["rl"] == 0.645
    assert found.weight_kg["rr"] == 335.0
    assert car.front.bar_rate_n_per_m == pytest.approx(8000.0)
    assert any("before the work" in remark for remark in found.remarks)


def test_the_latest_setup_with_heights_is_how_the_car_stands(car, tmp_path):
    setup(tmp_path, "b", "2026-05-01", '[ride_height]\nfront = "1 m"\nrear = "1 m"\n')
    setup(tmp_path, "a", "2026-05-02", '[ride_height]\nfront = "651 mm"\nrear = "641 mm"\n')
    setup(tmp_path, "c", "2026-05-03", 'note = "nothing measured"\n')
    found = height_figures(car, StatedHeights(), None, tmp_path)
    assert found.now_m["fr"] == pytest.approx(0.651)
    assert "Present heights are those of a.setup.toml." in found.remarks


def test_the_call_comes_first(car, tmp_path):
    setup(tmp_path, "a", "2026-05-02", '[ride_height]\nfront = "651 mm"\nrear = "641 mm"\n')
    stated = StatedHeights(
        now=("25.5 in", "648 mm", "640 mm", "641 mm"),
        weight=("700 lb", "660 lb"),
        cross_weight="51 %",
    )
    found = height_figures(car, stated, None, tmp_path)
    assert found.now_m["fl"] == pytest.approx(0.6477)
    assert found.weight_kg["rl"] == pytest.approx(299.371, abs=1e-3)
    assert found.wanted_cross_weight == pytest.approx(0.51)


def test_a_setup_with_few_corners_is_left_out_and_said(car, tmp_path):
    setup(tmp_path, "a", "2026-05-02", '[ride_height]\nfl = "651 mm"\n')
    found = height_figures(replace(car, ride_height_m={}), StatedHeights(), None, tmp_path)
    assert found.now_m == {}
    assert any("lacks fr, rl, rr" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("stated", "words"),
    [
        ({"now": ("655",) * 4}, '--now: "655" has no unit; write it like "655 mm"'),
        ({"before": ("655 mm",)}, "--before: 1 figures; give four"),
        ({"wanted": ("655 mm", "9 m")}, '--want: "9 m" is impossible here'),
        ({"weight": ("655 mm", "300 kg")}, '--weights: unit "mm" is not that of a mass'),
        ({"cross_weight": "5 kg"}, '--cross-weight: unit "kg"'),
        ({"cross_weight": "90 %"}, '--cross-weight: "90 %" is impossible here'),
    ],
)
def test_faults_name_the_option(car, tmp_path, stated, words):
    with pytest.raises(RidelogError) as caught:
        height_figures(car, StatedHeights(**stated), None, tmp_path)
    assert str(caught.value).startswith(words)
