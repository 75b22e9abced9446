"""Guessed columns on the terminal: a table with reasons, and a block for the car file."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from ridelog.car.edit import inline
from ridelog.ingest.propose import ColumnGuess, Proposal
from ridelog.report.text import new_table

_POINTS = [["... V", "-50 mm"], ["... V", "50 mm"]]


def proposal_text(proposal: Proposal) -> RenderableType:
    """Lay out what an unknown log's columns may be; `mapping_block` goes below it.

    Parameters
    ----------
    proposal : Proposal
        The guesses.
    """
    table = new_table("Guessed columns", ("column", "channel", "", "why"))
    clock = "clock" if proposal.time.column else "no clock"
    table.add_row(
        Text(proposal.time.column or "-"),
        clock,
        "sure" if proposal.time.sure else "look",
        Text(proposal.time.reason),
    )
    for guess in proposal.columns:
        verdict = "" if guess.channel is None else "sure" if guess.sure else "look"
        table.add_row(Text(guess.column), guess.channel or "-", verdict, Text(guess.reason))
    parts: list[RenderableType] = [
        Text(f"{proposal.file}: what its columns may be; nothing was applied", style="bold"),
        Text(""),
        table,
        Text(""),
    ]
    if not mapping_block(proposal):
        return Group(*parts, Text("No mapping is needed: ridelog knows these columns by name."))
    words = "For the car file; lines that begin with # are not sure: mend them, take the # off."
    return Group(*parts, Text(words))


def mapping_block(proposal: Proposal) -> str:
    """Write the guesses as a section of a car file, those not sure as remarks.

    Parameters
    ----------
    proposal : Proposal
        The guesses.

    Returns
    -------
    str
        TOML; empty where no mapping is needed.
    """
    lines = []
    if proposal.time.line:
        mark = "" if proposal.time.sure else "# "
        lines += ["[logger]", f"{mark}{proposal.time.line}", ""]
    channels = [_line(guess) for guess in proposal.columns if guess.channel and not guess.canonical]
    if channels:
        lines += ["[logger.channels]", *channels]
    return "\n".join(lines).rstrip()


def _line(guess: ColumnGuess) -> str:
    """Write one channel's mapping."""
    values: dict[str, str | int | list[list[str]]] = {"column": guess.column}
    if guess.needs_points:
        values |= {"unit": guess.unit or "V", "points": _POINTS}
    elif guess.unit is not None:
        values["unit"] = guess.unit
    else:
        values["unit"] = "?"
    if guess.sign < 0:
        values["sign"] = -1
    mark = "" if guess.sure else "# "
    return f"{mark}{guess.channel} = {inline(values)}"
