"""How an axle is thrown sideways where the road shakes its wheels off: skate, and grip that is lost."""

from __future__ import annotations

import math

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import kernels
from tussock.mechanics.measures.weighting import time_history

WINDOW = 1.0  # over which skate is told; about how long a driver takes to answer it, our choice [s]


def skate(sideways: Floats, roll: Floats, step: float, *, height: float, window: float = WINDOW) -> float:
    """Return the furthest that an axle moves sideways over the ground within a window [m].

    Parameters
    ----------
    sideways : array (n,)
        Sideways speed of the body above the axle against the way it was set to roll, left positive [m/s].
    roll : array (n,)
        Roll angle of the body [rad]; it swings the body over an axle that stays.
    step : float
        Time step [s].
    height : float
        Of the body's reference point above the axle [m].
    window : float
        [s].

    Raises
    ------
    DomainError
        For histories of different length, values that are not numbers, or a window below one step.

    Examples
    --------
    >>> skate(np.full(3001, 0.05), np.zeros(3001), 1e-3, height=0.4)
    0.05
    """
    v, phi = time_history(sideways, step), time_history(roll, step)
    if v.size != phi.size:
        raise DomainError(f"skate: {v.size} speeds and {phi.size} roll angles; as many of both")
    if not (math.isfinite(window) and window >= step):
        raise DomainError(f"skate: window is {window:g} s; at least one time step, {step:g} s, is needed")
    return kernels.widest(v, phi, step, height, min(round(window / step) + 1, v.size))


def grip_lost(loads: Floats, static: Floats, *, peak_load: float) -> float:
    """Return the share of an axle's cornering stiffness that varying wheel loads cost [-].

    A tyre gains less from load than it loses without it: its stiffness goes with N / (1 + (N / peak)^2), the sine of a
    double arctangent of `mechanics.tyre`. A wheel off the ground has none. What builds up over the relaxation length is
    left out, so this is the tyre's share, not the whole loss. Below 0 where an axle gains (a vehicle lighter at rest).

    Parameters
    ----------
    loads : array (n, k)
        Of the axle's wheels [N]; 0 or less is off the ground.
    static : array (k,)
        At rest [N].
    peak_load : float
        Load of greatest cornering stiffness [N].

    Raises
    ------
    DomainError
        If static loads or peak load are not above 0, or shapes do not fit.

    Examples
    --------
    >>> grip_lost(np.array([[4000.0, 0.0], [0.0, 4000.0]]), np.array([2000.0, 2000.0]), peak_load=4000.0)
    0.375
    """
    n, rest = np.asarray(loads, dtype=np.float64), np.asarray(static, dtype=np.float64)
    if n.ndim != 2 or n.shape[0] == 0 or rest.shape != n.shape[1:]:
        raise DomainError(f"grip: loads of shape {n.shape} over static loads of shape {rest.shape}; one column a wheel")
    if not (np.all(rest > 0.0) and math.isfinite(peak_load) and peak_load > 0.0):
        raise DomainError("grip: static loads and the tyre's peak load must be above 0")
    mean = kernels.cornering(np.ascontiguousarray(n.T), peak_load)
    if not math.isfinite(mean):
        raise DomainError("grip: a wheel load is not a number")
    return 1.0 - mean / kernels.cornering(rest[:, None].copy(), peak_load)
