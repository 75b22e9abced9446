"""Which axle has left and right exchanged: told by what another kind of sensor moves with."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from ridelog.condition.signals import KINDS, Signals, kind_of
from ridelog.condition.spectra import cross_spectra
from ridelog.recording import Problem

LOW_HZ, HIGH_HZ = 2.5, 16.0  # where wheel and body of a corner move together, and sides differ
LEAST_LEAD = 0.1  # coherence by which crossed must beat straight more on one axle than the other


def other_axle(pair: tuple[str, ...]) -> tuple[str, ...] | None:
    """Return the same exchange of left and right on the other axle, None for other exchanges."""
    first, second = pair
    if first[:-1] != second[:-1]:
        return None
    end = {"f": "r", "r": "f"}[first[-2]]
    return (f"{first[:-2]}{end}{first[-1]}", f"{second[:-2]}{end}{second[-1]}")


def exchanged_pair(
    signals: Signals, pair: tuple[str, ...], trusted: Collection[str]
) -> tuple[tuple[str, ...], bool]:
    """Tell on which axle left and right are exchanged, and whether that is sure.

    Parameters
    ----------
    signals : Signals
        The log on its even base, as recorded.
    pair : tuple of str
        An exchange that fits; its twin on the other axle may fit as well.
    trusted : collection of str
        Channels that may bear witness.

    Returns
    -------
    tuple
        The pair, and False where no other kind of sensor tells the axles apart.
    """
    twin = other_axle(pair)
    if twin is None:
        return pair, True
    lead = _crossed(signals, pair, trusted) - _crossed(signals, twin, trusted)
    if abs(lead) < LEAST_LEAD:
        return pair, False
    return (pair if lead > 0 else twin), True


def _crossed(signals: Signals, pair: tuple[str, ...], trusted: Collection[str]) -> float:
    """Coherence of the exchanged sensors with their crossed corners less with their own."""
    total = 0.0
    for kind in KINDS:
        if kind == kind_of(pair[0]):
            continue
        witnesses = tuple(f"{kind}_{name.partition('_')[2]}" for name in pair)
        if not all(name in signals.channels and name in trusted for name in witnesses):
            continue
        spectra = cross_spectra(signals, (*pair, *witnesses))
        if spectra is None:
            continue
        band = (spectra.frequency_hz >= LOW_HZ) & (spectra.frequency_hz <= HIGH_HZ)
        density = spectra.density[band]
        power = np.real(np.einsum("fcc->fc", density))
        coherence = np.abs(density) ** 2 / (power[:, :, None] * power[:, None, :])
        mean = coherence.mean(axis=0)
        total += float(mean[0, 3] + mean[1, 2] - mean[0, 2] - mean[1, 3])
    return total


def settled_exchange(signals: Signals, problem: Problem, trusted: Collection[str]) -> Problem:
    """Return the problem of an exchange, moved to the other axle if other sensors say so."""
    pair, sure = exchanged_pair(signals, problem.channels, trusted)
    text = f"{pair[0]} and {pair[1]} are exchanged; put back for the analysis"
    if not sure:
        text = f"{text}; it could be left and right of the other axle as well, check both"
    return Problem(code="swapped", channels=pair, text=text, mended=True)


def with_exchanged(signals: Signals, pair: tuple[str, ...]) -> Signals:
    """Return signals with two channels put in each other's place."""
    first, second = pair
    values = signals.channels[first]
    return signals.with_channel(first, signals.channels[second]).with_channel(second, values)
