"""Where a posterior is highest: damped Newton steps, finished by a quasi-Newton search where they creep."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular
from scipy.optimize import minimize

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats

_LEAST = 1e-9


class Posterior(Protocol):
    """What can be climbed."""

    def posterior(self, theta: Floats, /) -> tuple[float, Floats, Floats]:
        """Return the logarithm up to a constant, its gradient, and minus its Hessian, made positive."""


def find_mode(
    model: Posterior, theta: Floats, *, left: float, newton: int = 40, steps: int = 500
) -> tuple[Floats, Floats]:
    """Return the most likely parameters (n,) and the lower Cholesky factor of the Hessian there (n, n).

    Parameters
    ----------
    model : Posterior
        What is climbed.
    theta : array (n,)
        Where to begin.
    left : float
        Share of the logarithm that may still be won at the end [-].
    newton, steps : int
        Newton steps, and steps of the search that follows where they creep, at most.

    Raises
    ------
    SolverError
        Neither settles, or the posterior is not a number; says how far they were.
    """
    value, gradient, hessian = model.posterior(theta)
    for _ in range(newton):
        factor, step, gain = _step(gradient, hessian)
        if gain < left * (1.0 + abs(value)):
            return theta, factor
        length = 1.0
        while length > _LEAST:
            new = model.posterior(theta + length * step)
            if new[0] >= value + 0.1 * length * gain:  # a full step of a right Hessian wins half of it
                break
            length *= 0.5
        else:
            break
        theta, (value, gradient, hessian) = theta + length * step, new
    if not np.isfinite(value):
        raise SolverError("preference: the posterior is not a number")
    root = _step(gradient, hessian)[0]  # in its directions all curvatures are near one

    def downhill(z: Floats) -> tuple[float, Floats]:
        log, slope, _ = model.posterior(theta + solve_triangular(root.T, z))
        return -log, -solve_triangular(root, slope, lower=True)

    found = minimize(downhill, np.zeros(len(theta)), jac=True, method="BFGS", options={"gtol": 1e-6, "maxiter": steps})
    theta = theta + solve_triangular(root.T, found.x)
    value, gradient, hessian = model.posterior(theta)
    factor, _, gain = _step(gradient, hessian)
    if gain < left * (1.0 + abs(value)):
        return theta, factor
    raise SolverError(f"preference: after {found.nit} steps of {steps} the posterior still rises by {0.5 * gain:.2e}")


def _step(gradient: Floats, hessian: Floats) -> tuple[Floats, Floats, float]:
    """Return the Hessian's factor, the Newton step and twice what a quadratic would still win by it."""
    if not np.all(np.isfinite(gradient)):
        raise SolverError("preference: the slope of the posterior is not a number")
    factor = cho_factor(hessian, lower=True)
    step = cho_solve(factor, gradient)
    return np.tril(factor[0]), np.asarray(step), float(gradient @ step)
