"""How the body leans: gradient, shares, and why not where they are missing."""

from __future__ import annotations

from dataclasses import replace

from ridelog.car.description import Car
from ridelog.errors import SignalError
from ridelog.estimate.balance.roll_stiffness import RollFindings
from ridelog.estimate.result import WholeCarResult
from ridelog.estimate.roll_gradient import roll_gradient
from ridelog.estimate.roll_stiffness import stated_front_share
from ridelog.recording import Recording

NO_SHARE = (
    "no measured roll stiffness: that takes a drive with body accelerometers and travel or hub "
    "sensors at all corners"
)


def with_rolling(
    whole: WholeCarResult,
    recording: Recording,
    car: Car,
    found: RollFindings | None,
    kind: str,
) -> tuple[WholeCarResult, tuple[str, ...]]:
    """Add what the log tells of rolling to the results of the body as a whole.

    Parameters
    ----------
    whole : WholeCarResult
        Bounce of the body.
    recording : Recording
        The log.
    car : Car
        The car.
    found : RollFindings or None
        Roll stiffness from the force balance, where there was one.
    kind : str
        ``drive`` or ``bounce``.

    References
    ----------
    See `roll_gradient`, `roll_findings` and `stated_front_share`.
    """
    whole = replace(whole, stated_front_roll_stiffness_share=stated_front_share(car))
    if kind == "bounce":
        return whole, ("no rolling: a bounce test does not corner",)
    notes = []
    if found is None:
        notes.append(NO_SHARE)
    else:
        whole = replace(whole, front_roll_stiffness_share=found.front_share)
    try:
        measured = None if found is None else found.suspension_n_m_per_deg
        gradient = roll_gradient(recording, car, measured)
        whole = replace(whole, roll_gradient_deg_per_g=gradient)
    except SignalError as error:
        notes.append(f"no roll gradient: {error}")
    return whole, tuple(notes)
