"""Which input moves which output, by Morris's elementary effects or Sobol's variance shares, through SALib (extra
``sensitivity``). Knows nothing of vehicles.

References
----------
.. [1] Morris, Technometrics 33 (1991) 161; Campolongo, Cariboni and Saltelli, Environ. Modell. Softw. 22 (2007) 1509.
.. [2] Sobol, Math. Comput. Simul. 55 (2001) 271; Saltelli et al., Comput. Phys. Commun. 181 (2010) 259.
"""

from __future__ import annotations

import importlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias, get_args

import numpy as np

from tussock.errors import InputError, SolverError
from tussock.mechanics.arrays import Floats

Method: TypeAlias = Literal["morris", "sobol"]
LEVELS = 4  # of Morris's grid
RESAMPLES = 200  # of the library's bootstrap
LEAST_BLOCKS = 4  # from fewer no interval can be had
_EXTRA = "sensitivity needs the library SALib; install it with: pip install 'tussock[sensitivity]'"


@dataclass(frozen=True, kw_only=True, slots=True)
class Influence:
    """What one input does to one output.

    Attributes
    ----------
    total : float
        Of Morris the mean size of the effect from the low end of the range to the high end, in the unit of the output;
        of Sobol the share of its variance that goes when the input is held, all its interactions included.
    half : float
        Half the width of the library's interval of `total`.
    alone : float
        Of Morris the mean effect with its sign; of Sobol the share of the variance that it has by itself.
    apart : float
        Of Morris the standard deviation of the effects: large where it bends or depends on others; of Sobol half the
        width of the interval of `alone`.
    """

    total: float
    half: float
    alone: float
    apart: float

    @property
    def matters(self) -> bool:
        """Whether nought lies outside the interval of `total`."""
        return self.total - self.half > 0.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Screen:
    """A design for a method: `values` (n, d) in blocks of `block` rows that stand and fall together."""

    method: Method
    values: Floats
    block: int
    names: tuple[str, ...]
    bounds: tuple[tuple[float, float], ...]
    seed: int

    @property
    def problem(self) -> dict[str, Any]:
        """The inputs as the library takes them; its own copy each time, since the library adds to it."""
        return {"num_vars": len(self.names), "names": list(self.names), "bounds": [list(b) for b in self.bounds]}


def screen(
    method: str, names: Sequence[str], bounds: Sequence[tuple[float, float]], *, samples: int, seed: int
) -> Screen:
    """Return the points that a method asks for.

    Parameters
    ----------
    method : str
        "morris": `samples` trajectories of d + 1 points; "sobol": `samples` (a power of two) times d + 2 points.
    names, bounds : sequence
        Of the inputs.
    samples, seed : int
        How many, and of the draw.

    Raises
    ------
    InputError
        If SALib is not installed, the method is unknown, or the number of samples is none for it.
    """
    if method not in get_args(Method):
        raise InputError(f"there is no method {method!r}; the methods are {', '.join(get_args(Method))}")
    if len(names) < 2:
        raise InputError("sensitivity compares inputs; name two adjusters at least")
    if not LEAST_BLOCKS <= samples <= 2**16:
        raise InputError(f"{samples} samples tell nothing; {LEAST_BLOCKS} to {2**16} do")
    if method == "sobol" and samples & (samples - 1):
        near = 1 << samples.bit_length()
        raise InputError(f"Sobol's samples are a power of two, which {samples} is not; {near // 2} or {near} is")
    made = Screen(
        method="morris" if method == "morris" else "sobol",
        values=np.zeros((0, len(names))),
        block=len(names) + (1 if method == "morris" else 2),
        names=tuple(names),
        bounds=tuple(bounds),
        seed=seed,
    )
    sample = _library(f"sample.{method}").sample
    if method == "morris":
        values = sample(made.problem, samples, num_levels=LEVELS, seed=seed)
    else:
        values = sample(made.problem, samples, calc_second_order=False, seed=seed)
    return Screen(
        method=made.method, values=np.asarray(values), block=made.block, names=made.names, bounds=made.bounds, seed=seed
    )


def whole_blocks(made: Screen, failed: Sequence[int]) -> Floats:
    """Return which rows of a design are left (n,) when failed points take their whole block with them.

    Raises
    ------
    SolverError
        If fewer than half of the blocks, or too few for an interval, are left.
    """
    blocks = len(made.values) // made.block
    lost = {i // made.block for i in failed}
    left = blocks - len(lost)
    if left < max(LEAST_BLOCKS, blocks // 2):
        raise SolverError(
            f"{len(failed)} of {len(made.values)} points could not be driven and take {len(lost)} of {blocks} samples "
            "with them; narrow the ranges"
        )
    return np.array([i // made.block not in lost for i in range(len(made.values))])


def influences(
    made: Screen, outputs: Floats, *, keep: Floats | None = None, confidence: float = 0.95
) -> tuple[Influence, ...]:
    """Return what each input does to an output.

    Parameters
    ----------
    made : Screen
        The design.
    outputs : array (n,)
        Of its points; finite where kept.
    keep : array (n,) of bool, optional
        Whole blocks to take; all unless given.
    confidence : float
        Of the library's intervals.
    """
    rows = np.ones(len(made.values), dtype=np.bool_) if keep is None else np.asarray(keep, dtype=np.bool_)
    y = np.ascontiguousarray(outputs[rows], dtype=np.float64)
    if np.ptp(y) <= 1e-12 * max(float(np.abs(y).max()), 1e-300):
        return tuple(Influence(total=0.0, half=0.0, alone=0.0, apart=0.0) for _ in made.names)
    analyse = _library(f"analyze.{made.method}").analyze
    same = {"num_resamples": RESAMPLES, "conf_level": confidence, "seed": made.seed}
    if made.method == "morris":
        got = analyse(made.problem, np.ascontiguousarray(made.values[rows]), y, num_levels=LEVELS, **same)
        keys = ("mu_star", "mu_star_conf", "mu", "sigma")
    else:
        got = analyse(made.problem, y, calc_second_order=False, **same)
        keys = ("ST", "ST_conf", "S1", "S1_conf")
    columns = [np.asarray(got[key], dtype=np.float64) for key in keys]
    return tuple(
        Influence(total=float(a), half=float(b), alone=float(c), apart=float(d))
        for a, b, c, d in zip(*columns, strict=True)
    )


def _library(name: str) -> Any:
    try:
        return importlib.import_module(f"SALib.{name}")
    except ImportError:
        raise InputError(_EXTRA) from None
