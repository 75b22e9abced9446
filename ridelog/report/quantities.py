"""The measured quantities a person sees, in one table: words, unit, target."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ridelog.advise.tired_dampers import CORNER_WORDS


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One row of the axle table; `field` is its name in the result, `scale` shown per stored."""

    field: str
    words: str
    unit: str = ""
    scale: float = 1.0
    target_field: str | None = None


AXLE_QUANTITIES = (
    Quantity(
        field="body_frequency_hz",
        words="body frequency",
        unit="Hz",
        target_field="target_body_frequency_hz",
    ),
    Quantity(field="damping_ratio", words="damping ratio", target_field="target_damping_ratio"),
    Quantity(field="damping_ratio_bump", words="damping ratio, bump"),
    Quantity(field="damping_ratio_rebound", words="damping ratio, rebound"),
    Quantity(field="decay_damping_ratio", words="damping in free decay"),
    Quantity(field="friction_n", words="friction at the damper", unit="N"),
    Quantity(field="spring_frequency_hz", words="spring frequency", unit="Hz"),
    Quantity(field="wheel_hop_hz", words="wheel hop", unit="Hz"),
    Quantity(field="wheel_rate_n_per_m", words="wheel rate", unit="N/mm", scale=0.001),
    Quantity(field="catalogue_spring_error", words="spring v. car file", unit="%", scale=100.0),
)

SENSOR_WORDS = {"travel": "travel sensor", "body": "body accelerometer", "hub": "hub accelerometer"}
CORNER_NAME = re.compile(r"\b[fr][lr]\b")
CHANNEL_NAME = re.compile(r"\b(?:travel|body|hub)_[fr][lr]\b")


def channel_words(channel: str) -> str:
    """Name a channel in words: ``body accelerometer left front``.

    Parameters
    ----------
    channel : str
        A channel name of `ridelog.recording`.
    """
    sensor, _, corner = channel.partition("_")
    if sensor in SENSOR_WORDS and corner in CORNER_WORDS:
        return f"{SENSOR_WORDS[sensor]} {CORNER_WORDS[corner]}"
    return channel.replace("_", " ")


def spoken(text: str) -> str:
    """Replace channel and corner names in a sentence by words, the first letter a capital.

    Parameters
    ----------
    text : str
        A problem or a note, which name channels and corners as the program does.
    """
    text = CHANNEL_NAME.sub(lambda match: f"the {channel_words(match.group())}", text)
    text = CORNER_NAME.sub(lambda match: CORNER_WORDS[match.group()], text)
    first_word = text.split(" ", 1)[0].rstrip(":,")
    # A sentence may begin with a file's name, which stays as it is.
    return text[:1].upper() + text[1:] if first_word.isalpha() else text
