"""Guess what the columns of an unknown log are, with the reason; nothing is applied."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from ridelog.errors import ClockError
from ridelog.ingest.clock import find_time
from ridelog.ingest.column_content import Content, content_of
from ridelog.ingest.column_words import NameWords, name_words
from ridelog.ingest.memory_table import OpenTable
from ridelog.ingest.names import CANONICAL, plain_name, unit_in_name
from ridelog.ingest.open_table import open_table
from ridelog.ingest.propose_time import TimeGuess, guess_time
from ridelog.recording import STANDARD_GRAVITY_M_PER_S2
from ridelog.units import QuantityError, unit_factor

_QUANTITIES = (("travel", "length"), ("acceleration", "acceleration"), ("speed", "speed"))
_RAW_UNITS = ("V", "mV", "counts", "count", "LSB")


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnGuess:
    """What one column may be. `sure` where name, unit and content leave one reading only."""

    column: str
    channel: str | None
    unit: str | None
    sign: int = 1
    sure: bool = False
    canonical: bool = False
    needs_points: bool = False
    reason: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """Guesses for a whole log, in the order of its columns."""

    file: str
    time: TimeGuess
    columns: tuple[ColumnGuess, ...]


def propose(path: Path) -> Proposal:
    """Guess what an unknown log's columns are.

    Parameters
    ----------
    path : Path
        The log.

    Returns
    -------
    Proposal
        One guess for each column; those that another column could be as well are not sure.

    Raises
    ------
    LogError
        When the file cannot be read as a table.
    """
    with open_table(path) as opened:
        table = opened.format
        try:
            time = find_time(path, table, None, None, None)
            own_clock = time.index
        except ClockError:
            own_clock = None
        numeric = [
            i
            for i in range(min(table.field_count, len(table.names)))
            if i not in table.text_columns and i != own_clock
        ]
        numbers = opened.read(numeric, []).numbers
        time_guess = guess_time(opened, own_clock, numbers)
        guesses = [
            _guess(opened, index, content_of(numbers[index]))
            for index in numeric
            if index != time_guess.index
        ]
    return Proposal(file=path.name, time=time_guess, columns=_settled(guesses))


def _guess(opened: OpenTable, index: int, content: Content) -> ColumnGuess:
    """Guess one column by itself."""
    name = opened.format.names[index]
    canonical = CANONICAL.get(plain_name(name))
    if canonical is not None:
        return ColumnGuess(
            column=name,
            channel=canonical[0],
            unit=canonical[1],
            sure=True,
            canonical=True,
            reason=f"ridelog's own name; no mapping needed ({content.words})",
        )
    words = name_words(name)
    unit = unit_in_name(opened.format, index)
    if not content.moves or words.other:
        why = "no ride quantity by its name" if content.moves else "it does not move"
        return ColumnGuess(column=name, channel=None, unit=unit, reason=f"not used: {why}")
    kind = _kind(unit, words, content)
    if kind == "travel":
        return _travel(name, words, unit, content)
    if kind == "speed":
        return _speed(name, unit, content)
    if kind == "acceleration":
        return _acceleration(name, words, unit, content)
    return ColumnGuess(
        column=name, channel=None, unit=unit, reason=f"unknown: {content.words}; nothing fits"
    )


def _kind(unit: str | None, words: NameWords, content: Content) -> str | None:
    """Tell the kind of quantity: by unit, else by name, else by gravity."""
    for kind, quantity in _QUANTITIES:
        if unit is not None and _fits(unit, quantity):
            # A length in metres is a position on the earth, unless it is named as travel.
            distance = kind == "travel" and unit == "m" and words.place != "travel"
            return None if distance else kind
    if words.place in ("travel", "speed"):
        return words.place
    if unit is not None and unit not in _RAW_UNITS:
        return None
    if words.acceleration or words.place in ("body", "hub", "cabin", "seat"):
        return "acceleration"
    return "acceleration" if unit is None and content.gravity_unit is not None else None


def _travel(name: str, words: NameWords, unit: str | None, content: Content) -> ColumnGuess:
    """Guess a travel sensor: its corner by name, its unit by the header; raw ones want points."""
    raw = unit is None or not _fits(unit, "length")
    channel = f"travel_{words.corner}" if words.corner else None
    named = words.place == "travel"
    told = "named like a travel sensor" if named else f'in "{unit}", a length'
    where = f"corner {words.corner}" if words.corner else "no corner in its name"
    how = f"reads {unit or 'no unit'}, so it needs points: ridelog calibrate travel" if raw else ""
    return ColumnGuess(
        column=name,
        channel=channel,
        unit=unit,
        sure=named and channel is not None and not raw,
        needs_points=raw,
        reason="; ".join(part for part in (told, where, content.words, how) if part),
    )


def _speed(name: str, unit: str | None, content: Content) -> ColumnGuess:
    """Guess a speed: sure only with its unit."""
    rate = "; fewer readings than rows, a slow channel" if content.slow else ""
    known = unit is not None and _fits(unit, "speed")
    told = f'in "{unit}"' if known else "unit not named: m/s, km/h or mph?"
    return ColumnGuess(
        column=name,
        channel="speed",
        unit=unit if known else None,
        sure=known,
        reason=f"speed {told}; {content.words}{rate}",
    )


def _acceleration(name: str, words: NameWords, unit: str | None, content: Content) -> ColumnGuess:
    """Guess an accelerometer: gravity tells the vertical axis, the unit and which way up."""
    claimed = unit if unit is not None and _fits(unit, "acceleration") else None
    one_g = STANDARD_GRAVITY_M_PER_S2 / unit_factor(claimed, "acceleration") if claimed else None
    if one_g is not None:
        vertical = 0.85 < abs(content.median) / one_g < 1.15
    else:
        vertical = content.gravity_unit is not None
    own_unit = claimed or content.gravity_unit
    channel, sure = _acceleration_channel(words, vertical)
    parts = [f"reads gravity at rest as {own_unit}" if vertical else "no gravity in it"]
    if vertical and content.upside_down:
        parts.append("upside down")
    parts.append(f"corner {words.corner}" if words.corner else "no corner in its name")
    if vertical and channel is not None and not sure:
        parts.append("its name does not say where it is mounted")
    parts.append(content.words)
    return ColumnGuess(
        column=name,
        channel=channel,
        unit=own_unit,
        sign=-1 if vertical and content.upside_down else 1,
        sure=sure and own_unit is not None,
        reason="; ".join(parts),
    )


def _acceleration_channel(words: NameWords, vertical: bool) -> tuple[str | None, bool]:
    """Name the channel of an accelerometer, and whether that is sure."""
    if not vertical:
        # Which way a box lies in the car no name tells: x is forward by custom only.
        return {"long": "body_long", "lat": "body_lat"}.get(words.axis or ""), False
    if words.corner is not None:
        place = words.place if words.place in ("body", "hub") else "body"
        return f"{place}_{words.corner}", words.place in ("body", "hub")
    if words.place in ("cabin", "seat"):
        return words.place, True
    return "cabin", False


def _settled(guesses: list[ColumnGuess]) -> tuple[ColumnGuess, ...]:
    """Take back what two columns claim."""
    claims = Counter(guess.channel for guess in guesses)
    return tuple(
        _contested(guess, claims[guess.channel]) if claims[guess.channel] > 1 else guess
        for guess in guesses
    )


def _contested(guess: ColumnGuess, claims: int) -> ColumnGuess:
    """Word that several columns could be a channel; one of ridelog's own names has the right."""
    if guess.channel is None or guess.canonical:
        return guess
    reason = f"{claims} columns could be {guess.channel}: choose; {guess.reason}"
    return replace(guess, sure=False, reason=reason)


def _fits(unit: str, quantity: str) -> bool:
    """Tell whether a unit is one of a quantity."""
    try:
        unit_factor(unit, quantity)
    except QuantityError:
        return False
    return True
