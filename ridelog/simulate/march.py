"""Drives many cars through time together, and reads off what happened."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ridelog.recording import FloatArray
from ridelog.simulate.matrices import FORCES, INPUTS, STATES
from ridelog.simulate.stepping import READINGS, Batch

# Columns of the inputs that a drive gives; the road's rate is worked out here.
DRIVE_INPUTS = INPUTS - 4
# Steps between two read-outs: a block this long stays in the processor's cache (4 x quicker).
BLOCK_STEPS = 250
# Columns of a row: readings, state, bending forces now and one step ago.
_STATE = slice(READINGS, READINGS + STATES)
_SOLVED = READINGS + STATES
_NOW = slice(_SOLVED, _SOLVED + FORCES)
_LAST = slice(_SOLVED + FORCES, _SOLVED + 2 * FORCES)
# Place of the roll angle among the coordinates.
_LEAN = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Motion:
    """What happened, per car: arrays (cars, n, 4) in the order fl fr rl rr, SI.

    Travel and speed are the damper's, positive in bump; accelerations positive up without gravity,
    `body` over each wheel, `hub` of the wheel. `tyre_load` is the whole load on the road [N].
    `lean` (cars, n) is the body's roll angle, left side up [rad].
    """

    step_s: float
    damper_travel: FloatArray
    damper_speed: FloatArray
    body_acceleration: FloatArray
    hub_acceleration: FloatArray
    tyre_load: FloatArray
    lean: FloatArray

    @property
    def time_s(self) -> FloatArray:
        """Sample times [s], shape (n,)."""
        return np.arange(self.damper_travel.shape[1], dtype=float) * self.step_s


def march(
    batch: Batch,
    inputs: FloatArray,
    *,
    initial_state: FloatArray | None = None,
    progress: Callable[[float], None] | None = None,
) -> Motion:
    """Drive all cars of a batch, from rest at static ride height unless told otherwise.

    Parameters
    ----------
    batch : Batch
        The cars.
    inputs : FloatArray
        One row per step: road height under each wheel [m], forward and sideways (left)
        acceleration [m/s2], engine force [N], push force [N], pitch moment and roll moment [N m];
        shape (cars, n, 10).
    initial_state : FloatArray, optional
        Coordinates, their rates and lagged forces at the start, shape (cars, 20).
    progress : Callable[[float], None], optional
        Told the share done, 0 to 1.

    Returns
    -------
    Motion
        Arrays (cars, n, 4).

    Notes
    -----
    Second order in the step length; the tests hold the convergence.
    """
    cars, count = inputs.shape[:2]
    row = _first_row(batch, cars, initial_state)
    outputs = [np.empty((cars, count, 4)) for _ in range(5)]
    lean = np.empty((cars, count))
    for start in range(0, count, BLOCK_STEPS):
        stop = min(start + BLOCK_STEPS, count)
        rows = _block(batch, inputs[:, start : stop + 1].astype(float), row)
        row = rows[-1]
        read = _read_out(batch, inputs, rows[: stop - start], start)
        for output, values in zip(outputs, read, strict=True):
            output[:, start:stop] = values
        lean[:, start:stop] = rows[: stop - start, :, READINGS + _LEAN].T
        if progress:
            progress(stop / count)
    return Motion(
        step_s=batch.step_s,
        damper_travel=outputs[0],
        damper_speed=outputs[1],
        body_acceleration=outputs[2],
        hub_acceleration=outputs[3],
        tyre_load=outputs[4],
        lean=lean,
    )


def _first_row(batch: Batch, cars: int, initial_state: FloatArray | None) -> FloatArray:
    row = np.zeros((cars, _SOLVED + 2 * FORCES))
    if initial_state is not None:
        row[:, _STATE] = initial_state
    row[:, :READINGS] = np.einsum("crs,cs->cr", batch.reading_rows, row[:, _STATE])
    row[:, READINGS - 4 : READINGS] += batch.static_load
    batch.fill_forces(row[:, :READINGS], row[:, _NOW])
    row[:, _LAST] = row[:, _NOW]
    return row


def _block(batch: Batch, inputs: FloatArray, row: FloatArray) -> FloatArray:
    """All rows of a block and the first of the next, shape (steps + 1, cars, columns)."""
    steps = inputs.shape[1] - 1
    rows = np.empty((steps + 1, *row.shape))
    rows[0] = row
    step = batch.step
    push = inputs[:, :-1] @ step.before.swapaxes(1, 2) + inputs[:, 1:] @ step.after.swapaxes(1, 2)
    push[:, :, READINGS - 4 : READINGS] += batch.static_load[:, None]
    push = np.ascontiguousarray(push.swapaxes(0, 1))
    matrix, fill = step.march, batch.fill_forces
    for k in range(steps):
        now, after = rows[k], rows[k + 1]
        solved = after[:, :_SOLVED]
        np.matmul(matrix, now[:, READINGS:, None], out=solved[..., None])
        solved += push[k]
        fill(after[:, :READINGS], after[:, _NOW])
        after[:, _LAST] = now[:, _NOW]
    return rows


def _read_out(batch: Batch, inputs: FloatArray, rows: FloatArray, start: int) -> list[FloatArray]:
    """Damper travel and speed, body and hub acceleration, tyre load; each (cars, steps, 4)."""
    steps = len(rows)
    rows = rows.swapaxes(0, 1)
    travel, speed = rows[..., :4], rows[..., 4:8]
    lever = batch.motion_ratio[:, None] + batch.ratio_slope[:, None] * travel
    middle_lever = batch.motion_ratio[:, None] + batch.ratio_slope[:, None] * travel / 2
    cause = rows[..., READINGS : _NOW.stop]
    acceleration = cause @ batch.acceleration_rows.swapaxes(1, 2)
    acceleration += _full_inputs(batch, inputs, start, steps) @ batch.input_rows.swapaxes(1, 2)
    return [
        travel * middle_lever,
        speed * lever,
        acceleration[..., :4],
        acceleration[..., 4:],
        np.maximum(rows[..., 8:READINGS], 0.0),
    ]


def _full_inputs(batch: Batch, inputs: FloatArray, start: int, steps: int) -> FloatArray:
    """Put the road's rate, by central differences, into the inputs of a block."""
    lead = min(start, 1)
    near = inputs[:, start - lead : start + steps + 1].astype(float)
    if near.shape[1] > 1:
        rate = np.gradient(near[..., :4], batch.step_s, axis=1)
    else:
        rate = np.zeros_like(near[..., :4])
    block, rate = near[:, lead : lead + steps], rate[:, lead : lead + steps]
    return np.concatenate([block[..., :4], rate, block[..., 4:]], axis=-1)
