"""What the heights sheet has to say beside its numbers."""

from __future__ import annotations

from ridelog.advise.height_result import HeightSettings, ScaleReading
from ridelog.advise.readings import COVERAGE_FACTOR
from ridelog.advise.spring_rates import SpringSettings
from ridelog.car.description import Car
from ridelog.recording import AXLES
from ridelog.runs.height_figures import HeightFigures


def height_notes(
    car: Car,
    figures: HeightFigures,
    warp: float | None,
    scales: ScaleReading | None,
    assumed: bool,
    settings: HeightSettings,
) -> tuple[str, ...]:
    """Say where figures come from, what was aimed at, assumed, and what no perch can reach.

    Parameters
    ----------
    car : Car
        The car.
    figures : HeightFigures
        Heights and weights.
    warp : float or None
        How far the wanted changes are out of one plane [m].
    scales : ScaleReading or None
        Corner weights.
    assumed : bool
        Whether a tyre rate is assumed.
    settings : HeightSettings
        How well a tape is read.

    References
    ----------
    Common practice, no source.
    """
    notes = [*figures.remarks, *_height_notes(figures, warp, settings)]
    if scales is None:
        notes.append("No corner weights: the turns leave the cross weight as it is.")
    else:
        notes += _mass_note(car, scales)
    notes += [
        f"{name}: no perch_thread_pitch in the car file, so the perch is told in millimetres of "
        "thread, not in turns."
        for name in AXLES
        if car.axle(name).perch_thread_pitch_m is None
    ]
    if assumed:
        rate = SpringSettings().default_tyre_rate_n_per_m / 1000
        notes.append(
            f"No tyre_rate in the car file for both axles: {rate:.0f} N/mm is taken. It matters "
            "for cross weight, not for heights."
        )
    if has_bars(car):
        notes.append(
            "Anti-roll bars are reckoned as hooked in, with the car file's bar_rate; "
            "--bars-unhooked reckons without them."
        )
    else:
        notes.append("Anti-roll bars are reckoned as unhooked.")
    return tuple(notes)


def _height_notes(
    figures: HeightFigures, warp: float | None, settings: HeightSettings
) -> list[str]:
    """Say what was aimed at, and what no perch can reach."""
    if not figures.now_m:
        return ["No ride heights yet: fill in the sheet, then give them with --now."]
    notes = []
    if not figures.wanted_m:
        notes.append(
            "No wanted heights: each axle is made even at its present mean. Name others with "
            "--want or as [target_ride_height] in the car file."
        )
    # Four readings make up the warp, so its standard deviation is twice that of one.
    if warp is not None and abs(warp) > 2 * COVERAGE_FACTOR * settings.height_sd_m:
        notes.append(
            f"The four wanted changes are {1000 * abs(warp):.0f} mm out of one plane, which no "
            "perch can give a stiff body: floor, marks or body are uneven by that. The turns come "
            "as near as they can; turning on would only shift weight between the diagonals."
        )
    return notes


def has_bars(car: Car) -> bool:
    """Tell whether the car file states an anti-roll bar.

    Parameters
    ----------
    car : Car
        The car.

    References
    ----------
    The car file.
    """
    return any(car.axle(name).bar_rate_n_per_m for name in AXLES)


def _mass_note(car: Car, scales: ScaleReading) -> list[str]:
    """Say so where scales and car file disagree on the car's mass."""
    stated = sum(a.sprung_mass_kg + a.unsprung_mass_kg for a in (car.front, car.rear))
    apart = scales.total_kg / stated - 1
    if abs(apart) < 0.05:
        return []
    return [
        f"The scales show {scales.total_kg:.0f} kg, the masses in the car file make "
        f"{stated:.0f} kg: correct sprung_mass, every damping ratio rests on it."
    ]
