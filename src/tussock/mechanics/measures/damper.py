"""What a damper does over a record: how long at which velocity, what heat, what peaks."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.curve import BANDS
from tussock.mechanics.measures import kernels
from tussock.mechanics.measures.weighting import time_history

_BEGINS = np.array([low for low, _ in BANDS.values()], dtype=np.float64)


@dataclass(frozen=True, kw_only=True, slots=True)
class DamperWork:
    """What one damper does over a record.

    Attributes
    ----------
    edges : array (n + 1,)
        Edges of the velocity classes [m/s], rebound negative.
    share : array (n,)
        Share of time in each class [-]; the end classes hold everything faster.
    bands : dict
        Share of time in the trade's low, mid and high speed band, both directions together [-].
    compression, rebound : dict
        The same by direction; all six add up to 1. A damper at rest counts as low-speed compression [-].
    power : float
        Mean power turned to heat [W].
    compression_power, rebound_power : float
        Its parts [W].
    fastest_compression, fastest_rebound : float
        Largest speed each way [m/s].
    greatest_compression, greatest_rebound : float
        Largest force each way [N], both positive.
    """

    edges: Floats
    share: Floats
    bands: dict[str, float]
    compression: dict[str, float]
    rebound: dict[str, float]
    power: float
    compression_power: float
    rebound_power: float
    fastest_compression: float
    fastest_rebound: float
    greatest_compression: float
    greatest_rebound: float


def damper_work(velocity: Floats, force: Floats, *, classes: int = 41, most: float = 2.0) -> DamperWork:
    """Return velocity histogram, mean power and peaks of one damper.

    Parameters
    ----------
    velocity, force : array (n,)
        At equal time steps [m/s], [N]; compression positive.
    classes : int
        How many velocity classes.
    most : float
        Velocity at which the classes end [m/s].

    Raises
    ------
    DomainError
        For histories of different length, values that are not numbers, or no classes.
    """
    v, f = time_history(velocity, 1.0), time_history(force, 1.0)
    if v.size != f.size:
        raise DomainError(f"damper: {v.size} velocities and {f.size} forces; as many of both")
    if classes < 1 or not (math.isfinite(most) and most > 0.0):
        raise DomainError(f"damper: {classes} classes to {most:g} m/s; at least one, to a positive velocity")
    edges = _edges(classes, most)
    counts, bands = np.zeros(classes, dtype=np.int64), np.zeros((len(BANDS), 2), dtype=np.int64)
    pressed, drawn, fast, slow, strong, weak = kernels.damper(v, f, most, counts, bands, _BEGINS)
    shares = dict(zip(BANDS, bands / v.size, strict=True))
    return DamperWork(
        edges=edges,
        share=np.asarray(counts / v.size, dtype=np.float64),
        bands={name: float(both.sum()) for name, both in shares.items()},
        compression={name: float(both[0]) for name, both in shares.items()},
        rebound={name: float(both[1]) for name, both in shares.items()},
        power=(pressed + drawn) / v.size,
        compression_power=pressed / v.size,
        rebound_power=drawn / v.size,
        fastest_compression=float(max(fast, 0.0)),
        fastest_rebound=float(max(-slow, 0.0)),
        greatest_compression=float(max(strong, 0.0)),
        greatest_rebound=float(max(-weak, 0.0)),
    )


@lru_cache(maxsize=8)
def _edges(classes: int, most: float) -> Floats:
    edges = np.asarray(np.linspace(-most, most, classes + 1), dtype=np.float64)
    edges.flags.writeable = False
    return edges
