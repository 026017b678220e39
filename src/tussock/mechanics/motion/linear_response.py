"""Frequency responses of the linear twin: to the road with the wheelbase's delay, to steer, side force and moments."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, TypeAlias

import numpy as np
import numpy.typing as npt

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion.linear import LinearModel, Row
from tussock.mechanics.motion.linear_system import WHEELS

Complex: TypeAlias = npt.NDArray[np.complex128]
Sides = Literal["together", "opposite"]


def response(model: LinearModel, rows: Sequence[Row], inputs: Floats | Complex, frequency: Floats) -> Complex:
    """Return outputs over frequency (nf, nr) for a harmonic input.

    Parameters
    ----------
    model : LinearModel
        The twin.
    rows : sequence of Row
        Outputs.
    inputs : array (m,) or (nf, m)
        Complex amplitudes of the inputs, the same at every frequency or for each.
    frequency : array (nf,)
        [Hz], above 0.

    Raises
    ------
    DomainError
        For a frequency that is not above 0.
    """
    f = np.asarray(frequency, dtype=np.float64)
    if f.ndim != 1 or not (np.all(np.isfinite(f)) and np.all(f > 0.0)):
        raise DomainError("frequency response: frequencies must be above 0 Hz")
    u = np.broadcast_to(np.asarray(inputs, dtype=np.complex128), (f.size, model.b.shape[1]))
    n = model.a.shape[0]
    s = 2j * np.pi * f
    x = np.linalg.solve(s[:, None, None] * np.eye(n) - model.a, (u @ model.b.T)[:, :, None])[:, :, 0]
    states, feeds = np.stack([r.state for r in rows]), np.stack([r.feed for r in rows])
    return np.asarray(x @ states.T + u @ feeds.T, dtype=np.complex128)


def road_inputs_at(model: LinearModel, frequency: Floats, sides: Sides = "together") -> Complex:
    """Return the inputs (nf, m) of a road wave of 1 m amplitude under the front axle; the rear meets it later.

    Parameters
    ----------
    model : LinearModel
        The twin; its speed must be above 0.
    frequency : array (nf,)
        [Hz].
    sides : {'together', 'opposite'}
        Both tracks up together, or the left one up where the right one is down.
    """
    if model.speed <= 0.0:
        raise DomainError("a road wave needs a speed above 0 to drive over it")
    s = 2j * np.pi * np.asarray(frequency, dtype=np.float64)
    late = np.exp(-s * model.wheelbase / model.speed)
    u = np.zeros((s.size, model.b.shape[1]), dtype=np.complex128)
    for wheel in WHEELS:
        height = (late if wheel.startswith("rear") else np.ones_like(late)) * side_sign(wheel, sides)
        # climbing forward raises the wheel
        for kind, factor in (("height", 1.0), ("rate", s), ("slope", s / model.speed)):
            u[:, model.inputs.index(f"road {kind} {wheel}")] = height * factor
    return u


def side_sign(wheel: str, sides: Sides) -> float:
    """Return +1, or -1 for a right wheel when the sides go opposite ways."""
    return -1.0 if sides == "opposite" and wheel.endswith("right") else 1.0


def road_response(model: LinearModel, rows: Sequence[Row], frequency: Floats, *, sides: Sides = "together") -> Complex:
    """Return outputs (nf, nr) per metre of a road wave's height, wheelbase delay included."""
    return response(model, rows, road_inputs_at(model, frequency, sides), frequency)


def input_response(model: LinearModel, rows: Sequence[Row], name: str, frequency: Floats) -> Complex:
    """Return outputs (nf, nr) per unit of one input, one of `LinearModel.inputs`.

    Raises
    ------
    DomainError
        If there is no such input.
    """
    s = 2j * np.pi * np.asarray(frequency, dtype=np.float64)
    if name not in model.inputs:
        raise DomainError(f"the linear twin has no input {name!r}; inputs are {', '.join(model.inputs)}")
    unit = np.zeros((s.size, len(model.inputs)), dtype=np.complex128)
    unit[:, model.inputs.index(name)] = 1.0
    if name == "steer":  # a hand wheel that turns has its rate
        unit[:, model.inputs.index("steer rate")] = s
    return response(model, rows, unit, frequency)


def path_response(model: LinearModel, name: str, frequency: Floats) -> Complex:
    """Return the sideways path of the sprung centre of mass per unit of an input (nf,) [m]: Y' = v + speed psi."""
    rows = (model.row("lateral speed"), model.row("yaw rate"))
    sideways, yaw = input_response(model, rows, name, frequency).T
    s = 2j * np.pi * np.asarray(frequency, dtype=np.float64)
    return np.asarray((sideways + model.speed * yaw / s) / s, dtype=np.complex128)
