"""Raw dyno sweeps made from a known curve, as a dyno would have recorded them: for demo data and tests."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.curve import ForceCurve


def synthesise(
    curve: ForceCurve,
    *,
    speeds: Iterable[float],
    stroke: float,
    seed: int,
    cycles: float = 2.0,
    samples_per_cycle: int = 200,
    stiffness: float = 4e6,
    force_noise: float = 4.0,
    displacement_noise: float = 2e-5,
    force_step: float = 1.0,
    gas_rate: float = 0.0,
) -> str:
    """Write raw sweeps as a dyno would have recorded them: not a damper model.

    The rod moves as a sine. Behind it sits the curve in series with a spring (oil and top eye), which opens the loop;
    gas force and friction are added, then sensor noise and the steps of the force channel.

    Parameters
    ----------
    curve : ForceCurve
        The damper, with its gas force and friction.
    speeds : iterable of float
        Peak velocities of the runs [m/s]; the first should be slow (below 12 mm/s).
    stroke : float
        Full stroke [m].
    seed : int
        Of the noise.
    cycles : float
        Recorded in each run, after half a cycle that is not recorded [-].
    samples_per_cycle : int
        [-].
    stiffness : float
        Series stiffness [N/m].
    force_noise, displacement_noise : float
        Standard deviation of the sensors [N], [m].
    force_step : float
        Smallest step of the force channel [N].
    gas_rate : float
        Growth of the gas force with the rod going in, about mid-stroke [N/m].

    Returns
    -------
    str
        CSV text in the form that `read` takes.

    Raises
    ------
    DomainError
        If a speed, the stroke, a count, the stiffness or the step is not positive, or a noise is negative.
    """
    wanted = tuple(speeds)
    positive = (*wanted, stroke, cycles, float(samples_per_cycle), stiffness, force_step)
    if not wanted or not all(math.isfinite(p) and p > 0.0 for p in positive):
        raise DomainError("synthesise: speeds, stroke, cycles, samples, stiffness and force step must be positive")
    if force_noise < 0.0 or displacement_noise < 0.0:
        raise DomainError("synthesise: noise cannot be negative")
    rng = np.random.default_rng(seed)
    rows = ["run, time [s], displacement [mm], force [N]"]
    clock = 0.0
    grid_v = np.linspace(-3.0, 3.0, 6001)  # even: the files of the demos are held to the last digit
    grid_f = curve.at(grid_v)
    inner = 20  # steps of the series spring between samples
    for number, speed in enumerate(wanted, start=1):
        amplitude = stroke / 2.0
        omega = speed / amplitude
        step = 2.0 * math.pi / omega / samples_per_cycle / inner
        piston = amplitude * math.sin(-0.5)
        # implicit step of spring against damper: k (rod - piston) = F(v), piston moves by v * step;
        # the left side rises with v, so its root is unique
        left = grid_f + stiffness * step * grid_v
        for i in range(-samples_per_cycle // 2, int(cycles * samples_per_cycle)):
            for j in range(inner):
                t = (i + (j + 1) / inner) * inner * step
                rod = amplitude * math.sin(omega * t)
                v = _root(stiffness * (rod - piston), left, grid_v)
                piston += v * step
            if i < 0:
                continue
            force = stiffness * (rod - piston) + curve.gas_force + curve.friction * math.tanh(v / 1e-4)
            force += gas_rate * rod
            force += rng.normal(0.0, force_noise)
            force = round(force / force_step) * force_step
            shown = rod + rng.normal(0.0, displacement_noise)
            rows.append(f"{number}, {clock + t:.5f}, {shown * 1e3:.3f}, {force:.1f}")
        clock += cycles * 2.0 * math.pi / omega + 1.0
    return "\n".join(rows) + "\n"


def _root(pull: float, left: Floats, grid_v: Floats) -> float:
    """Return the piston velocity after an implicit step of spring against damper [m/s]."""
    return float(np.interp(pull, left, grid_v))
