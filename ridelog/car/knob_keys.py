"""Which knobs a car file may name together on one axle."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ridelog.car.schema import AxleSection

STROKES = ("bump", "rebound")


def knobs_of(section: AxleSection) -> dict[str, int]:
    """Give the highest click numbers of an axle's knobs, named as in `Axle`.

    Parameters
    ----------
    section : AxleSection
        The axle as written; a highest click of 0 means no such knob.
    """
    found = {
        "clicks": section.clicks,
        "bump_clicks": section.bump_clicks or section.low_speed_bump_clicks,
        "rebound_clicks": section.rebound_clicks or section.low_speed_rebound_clicks,
        "high_speed_bump_clicks": section.high_speed_bump_clicks,
        "high_speed_rebound_clicks": section.high_speed_rebound_clicks,
    }
    return {knob: last for knob, last in found.items() if last}


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
