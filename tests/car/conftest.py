"""A car file that is right, to be bent in one place at a time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

RIGHT = """\
[car]
name = "Saturday wagon"
wheelbase = "2.794 m"

[front]
layout = "independent"
track = "1.52 m"
sprung_mass = "780 kg"
unsprung_mass = "86 kg"
spring_rate = "450 lbf/in"
motion_ratio = 0.61
tyre_rate = "230 N/mm"
bump_gap = "42 mm"
droop_gap = "55 mm"
clicks = 18
target_body_frequency = "1.30 Hz"
target_damping_ratio = 0.35

[rear]
layout = "solid"
track = "60 in"
sprung_mass = "1300 lb"
unsprung_mass = "150 kg"
spring_rate = "25 kg/mm"
motion_ratio = 0.75
damper_spacing = "1.05 m"
"""


@pytest.fixture
def write(tmp_path: Path) -> Callable[..., Path]:
    """Write the right car file with some text replaced and some added at the end."""

    def write_car(*changes: tuple[str, str], more: str = "") -> Path:
        text = RIGHT
        for old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        path = tmp_path / "car.toml"
        path.write_text(text + more, encoding="utf-8")
        return path

    return write_car
