"""What a number means against the owner's target, in words a tired person reads once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ridelog.advise.tired_dampers import CORNER_WORDS
from ridelog.car.description import Axle, Car
from ridelog.estimate.result import AnalysisResult, Estimate, StopContacts
from ridelog.recording import AXLES, CORNERS
from ridelog.report.numbers import estimate_words, plain

VAGUE_RATIO = 0.25
"""Half-width / target beyond which "on target" would promise too much: one or two knob clicks."""

ON_TARGET, ABOVE, BELOW, VAGUE, NO_TARGET, UNKNOWN = (
    "on target",
    "above",
    "below",
    "too uncertain",
    "no target",
    "not known",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A number against its target; `difference_percent` is signed, relative to the target [%]."""

    state: str
    difference_percent: float = 0.0

    @property
    def words(self) -> str:
        """The verdict for a table cell."""
        if self.state in (ABOVE, BELOW):
            return f"{abs(self.difference_percent):.0f} % {self.state}"
        return "" if self.state in (NO_TARGET, UNKNOWN) else self.state


def against_target(estimate: Estimate | None, target: float | None) -> Verdict:
    """Compare a number with its target by the interval, not by the value alone.

    Parameters
    ----------
    estimate : Estimate or None
        The number.
    target : float or None
        The target in the estimate's own unit.

    Notes
    -----
    A target inside the 95 % interval cannot be told from the number: on target, unless the
    interval is so wide that it says nothing.

    References
    ----------
    Derived here: the interval's ordinary reading.
    """
    if estimate is None:
        return Verdict(state=UNKNOWN)
    if target is None:
        return Verdict(state=NO_TARGET)
    difference_percent = 100 * (estimate.value / target - 1)
    if estimate.low <= target <= estimate.high:
        vague = (estimate.high - estimate.low) / 2 > VAGUE_RATIO * target
        return Verdict(state=VAGUE if vague else ON_TARGET, difference_percent=difference_percent)
    state = ABOVE if estimate.value > target else BELOW
    return Verdict(state=state, difference_percent=difference_percent)


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """One finding: what is the case, and the figures it rests on (may be empty)."""

    said: str
    figures: str = ""

    @property
    def sentence(self) -> str:
        """Both in one sentence."""
        return (
            f"{self.said}. {self.figures[:1].upper()}{self.figures[1:]}."
            if self.figures
            else f"{self.said}."
        )


def headlines(result: AnalysisResult, car: Car) -> tuple[Headline, ...]:
    """Say what the car does before any table.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    car : Car
        The car with its targets.
    """
    if all(axle.damping_ratio is None for axle in result.axles.values()):
        return (_whole_car_headline(result), *stop_headlines(result))
    axles = tuple(axle_headline(name, result, car.axle(name)) for name in AXLES)
    return (*axles, *_weak_headlines(result), *stop_headlines(result))


def _weak_headlines(result: AnalysisResult) -> tuple[Headline, ...]:
    return tuple(
        Headline(said=f"The {CORNER_WORDS[corner]} damper gives clearly less than its partner")
        for corner in result.weak_corner.values()
    )


def axle_headline(name: str, result: AnalysisResult, axle: Axle) -> Headline:
    """Say how an axle is damped against its target.

    Parameters
    ----------
    name : str
        ``front`` or ``rear``.
    result : AnalysisResult
        The analysis.
    axle : Axle
        The axle with its target.
    """
    measured = result.axles.get(name)
    ratio = None if measured is None else measured.damping_ratio
    target = axle.target_damping_ratio
    verdict = against_target(ratio, target)
    percent = f"{abs(verdict.difference_percent):.0f} %"
    said = {
        UNKNOWN: "this log cannot tell the damping",
        NO_TARGET: "damping measured, but the car file sets no target",
        VAGUE: "too uncertain to say",
        ON_TARGET: "damped as you want it",
        ABOVE: f"{percent} more damping than you want",
        BELOW: f"{percent} less damping than you want",
    }[verdict.state]
    frequency = None if measured is None else measured.body_frequency_hz
    figures = (
        _figures("damping ratio", ratio, target, ""),
        _figures("body frequency", frequency, axle.target_body_frequency_hz, "Hz"),
    )
    return Headline(said=f"{name.capitalize()}: {said}", figures="; ".join(filter(None, figures)))


def _figures(words: str, estimate: Estimate | None, target: float | None, unit: str) -> str:
    if estimate is None:
        return ""
    aim = "" if target is None else f", target {plain(target)} {unit}".rstrip()
    return f"{words} {estimate_words(estimate, unit)}{aim}"


def stop_headlines(result: AnalysisResult) -> tuple[Headline, ...]:
    """Say which corners hit a stop, how often and how hard; nothing where none did.

    Parameters
    ----------
    result : AnalysisResult
        The analysis.
    """
    bump = {name: corner.bump_stop for name, corner in result.corners.items()}
    top_out = {name: corner.top_out for name, corner in result.corners.items()}
    pairs = (("bump stop", bump), ("top-out stop", top_out))
    return tuple(line for words, stops in pairs for line in _stop_headline(words, stops))


def _stop_headline(words: str, stops: Mapping[str, StopContacts | None]) -> tuple[Headline, ...]:
    # At most one: four cards for one hump would bury the rest.
    hit = {name: stop for name in CORNERS if (stop := stops.get(name)) and stop.contacts}
    if not hit:
        return ()
    corners = ", ".join(CORNER_WORDS[name] for name in hit)
    sure = any(is_certain(stop) for stop in hit.values())
    said = f"{words.capitalize()} {'hit' if sure else 'seems hit'}: {corners}"
    details = "; ".join(_hits(CORNER_WORDS[name], stop) for name, stop in hit.items())
    return (Headline(said=said, figures=details),)


def _hits(corner: str, stop: StopContacts) -> str:
    count = len(stop.contacts)
    times = "once" if count == 1 else f"{count} times"
    if not is_certain(stop):
        return f"{corner} {times}, told by the jolt"
    deepest = deepest_mm(stop)
    return f"{corner} {times}" + ("" if deepest is None else f", deepest {deepest:.1f} mm")


def is_certain(stop: StopContacts) -> bool:
    """Whether travel shows the contacts, not only a jolt in the acceleration.

    Parameters
    ----------
    stop : StopContacts
        The contacts with one stop.
    """
    return all(contact.probability == 1 for contact in stop.contacts)


def deepest_mm(stop: StopContacts) -> float | None:
    """Depth of the deepest contact past the touch point [mm]; None where no depth is known.

    Parameters
    ----------
    stop : StopContacts
        The contacts with one stop.
    """
    depths = [contact.depth_mm for contact in stop.contacts if contact.depth_mm is not None]
    return max(depths, default=None)


def _whole_car_headline(result: AnalysisResult) -> Headline:
    frequency = result.whole_car.bounce_frequency_hz
    if frequency is None:
        return Headline(said="This log cannot tell frequency or damping; the notes say why")
    figures = estimate_words(frequency, "Hz")
    ratio = result.whole_car.bounce_damping_ratio
    if ratio is not None:
        figures += f", damping ratio {estimate_words(ratio)}"
    return Headline(said="The car as a whole bounces", figures=figures)
