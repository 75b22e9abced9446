"""Which knobs a car file may name together on one axle."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelog.car.schema import AxleSection

STROKES = ("bump", "rebound")


def knob_faults(section: AxleSection, name: str) -> tuple[str, ...]:
    """Say which knobs of one axle do not go together.

    Parameters
    ----------
    section : AxleSection
        The axle as written.
    name : str
        ``front`` or ``rear``.

    Returns
    -------
    tuple of str
        One line for each fault. A stroke has one knob, or a low-speed and a high-speed one.
    """
    faults = []
    for stroke in STROKES:
        plain, low, high = (
            getattr(section, f"{prefix}{stroke}_clicks")
            for prefix in ("", "low_speed_", "high_speed_")
        )
        if plain and low:
            faults.append(
                f"{name}.low_speed_{stroke}_clicks: {stroke}_clicks is given too, and means the "
                f"same knob; leave {stroke}_clicks out"
            )
        if high and not (plain or low):
            faults.append(
                f"{name}.high_speed_{stroke}_clicks: stands alone; name the low-speed knob too "
                f"(low_speed_{stroke}_clicks = its highest click number)"
            )
    return tuple(faults)
