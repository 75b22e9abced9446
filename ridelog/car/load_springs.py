"""Turn what a car file says of springs into a stack and a list of what is on sale."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from ridelog.car.spring_table import read_spring_table
from ridelog.car.springs import HelperSpring, InnerSpring, SpringOnSale, SpringStack
from ridelog.units import QuantityError, parse_quantity

if TYPE_CHECKING:
    from ridelog.car.schema import AxleSection, HelperSpringSection

Points = tuple[tuple[float, float], ...]


def springs_from(
    section: AxleSection, name: str
) -> tuple[SpringStack | None, tuple[SpringOnSale, ...], tuple[str, ...]]:
    """Read the springs of one axle.

    Parameters
    ----------
    section : AxleSection
        The axle's section as pydantic checked it.
    name : str
        ``front`` or ``rear``.

    Returns
    -------
    SpringStack or None
        None where the car file states one rate and no more.
    tuple of SpringOnSale
        What the car file itself lists, softest first.
    tuple of str
        One line per fault.
    """
    faults: list[str] = []
    main, helper, inner = section.spring, section.helper_spring, section.inner_spring
    rate_points: Points = ()
    load_points: Points = ()
    if main is not None:
        rate_points = _points(f"{name}.spring.rate_points", main.rate_points, "rate", faults)
        load_points = _points(f"{name}.spring.load_points", main.load_points, "force", faults)
        faults.extend(_length_faults(f"{name}.spring", main.free_length, main.block_length))
    if rate_points and load_points:
        faults.append(f"{name}.spring.load_points: rate_points are there too; keep one of the two")
    helper_travel = None if helper is None else _helper_travel(f"{name}.helper_spring", helper)
    if isinstance(helper_travel, str):
        faults.append(helper_travel)
    for place, sold in enumerate(section.springs_on_sale or (), start=1):
        key = f"{name}.springs_on_sale, number {place}"
        faults.extend(_length_faults(key, sold.free_length, sold.block_length))
    on_sale = tuple(
        SpringOnSale(
            rate_n_per_m=sold.rate,
            name=sold.name,
            free_length_m=sold.free_length,
            block_length_m=sold.block_length,
            price=sold.price,
        )
        for sold in section.springs_on_sale or ()
    )
    if faults or (main is None and helper is None and inner is None):
        return None, on_sale, tuple(faults)
    stack = SpringStack(
        stated_rate_n_per_m=section.spring_rate,
        free_length_m=main.free_length if main else None,
        block_length_m=main.block_length if main else None,
        rate_points=rate_points,
        load_points=load_points,
        helper=HelperSpring(rate_n_per_m=helper.rate, travel_m=helper_travel)
        if helper is not None and isinstance(helper_travel, float)
        else None,
        inner=InnerSpring(rate_n_per_m=inner.rate, gap_m=inner.gap) if inner else None,
    )
    return stack, on_sale, ()


def springs_on_file(
    section: AxleSection, car_file: Path
) -> tuple[tuple[SpringOnSale, ...], tuple[str, ...]]:
    """Read the list of springs on sale that lies beside the car file.

    Parameters
    ----------
    section : AxleSection
        The axle's section.
    car_file : Path
        The car file; the list's path counts from its folder.

    Returns
    -------
    tuple of SpringOnSale
        In the list's order.
    tuple of str
        One line per fault.
    """
    if section.springs_on_sale_file is None:
        return (), ()
    return read_spring_table(car_file.parent / section.springs_on_sale_file)


def _points(key: str, given: list[list[str]] | None, kind: str, faults: list[str]) -> Points:
    """Read pairs of squash and rate or load, both rising."""
    if given is None:
        return ()
    found: list[tuple[float, float]] = []
    for pair in given:
        if len(pair) != 2:
            faults.append(f"{key}: each point is a pair such as {_EXAMPLES[kind]}")
            return ()
        try:
            found.append((parse_quantity(pair[0], "length"), parse_quantity(pair[1], kind)))
        except QuantityError as error:
            faults.append(f"{key}: {error}")
            return ()
    fewest = 2 if kind == "rate" else 1
    rising = all(a[0] < b[0] and (kind == "rate" or a[1] < b[1]) for a, b in pairwise(found))
    positive = all(x >= 0 and (y > 0 or (kind == "force" and x == y == 0)) for x, y in found)
    if len(found) < fewest or not rising or not positive:
        what = "squash rising" if kind == "rate" else "squash and load rising"
        faults.append(
            f"{key}: write at least {fewest + 1 if kind == 'force' else fewest} points, {what} "
            f"from free length on and none below zero, such as {_EXAMPLES[kind]}"
        )
        return ()
    return tuple(found)


_EXAMPLES = {"rate": '["120 mm", "55 N/mm"]', "force": '["80 mm", "2900 N"]'}


def _length_faults(key: str, free: float | None, block: float | None) -> tuple[str, ...]:
    """Say where a spring is longer with its coils touching than free."""
    if free is None or block is None or free > block:
        return ()
    return (f"{key}.block_length: must be less than free_length; it is with the coils touching",)


def _helper_travel(key: str, helper: HelperSpringSection) -> float | str:
    """Squash of a helper until it closes [m], or what is missing to tell."""
    if helper.closes_after is not None:
        return helper.closes_after
    if helper.free_length is None or helper.block_length is None:
        return f"{key}: needs free_length and block_length, or closes_after"
    faults = _length_faults(key, helper.free_length, helper.block_length)
    return faults[0] if faults else helper.free_length - helper.block_length
