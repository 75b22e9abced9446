"""Values that an owner writes by axle or by corner, spread over the corners."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from ridelog.recording import AXLE_OF_CORNER, CORNERS

if TYPE_CHECKING:
    from pydantic import BaseModel


def keys_by_corner(section: BaseModel) -> Mapping[str, str]:
    """Tell which key of a section speaks for each corner; a corner's own key wins.

    Parameters
    ----------
    section : BaseModel
        A section with the keys front, rear, fl, fr, rl, rr.
    """
    written = {name for name in section.model_fields_set if getattr(section, name) is not None}
    chosen = {corner: (corner, AXLE_OF_CORNER[corner]) for corner in CORNERS}
    return {
        corner: next(key for key in keys if key in written)
        for corner, keys in chosen.items()
        if written.intersection(keys)
    }


def by_corner(section: BaseModel) -> dict[str, float]:
    """Spread axle values over both corners; a corner's own value wins.

    Parameters
    ----------
    section : BaseModel
        A section with the keys front, rear, fl, fr, rl, rr.
    """
    return {corner: getattr(section, key) for corner, key in keys_by_corner(section).items()}
