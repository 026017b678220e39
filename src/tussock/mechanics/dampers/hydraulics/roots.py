"""Roots of many rising functions at once, each kept between its own bounds."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats


def rising_root(
    function: Callable[[Floats], Floats],
    *,
    low: Floats,
    high: Floats,
    what: str,
    tolerance: float = 1e-12,
    most: int = 120,
    ends: tuple[Floats, Floats] | None = None,
) -> Floats:
    """Return where a rising function of each element crosses zero.

    Inverse quadratic steps where they are safe and halving where not, so that it always ends.

    Parameters
    ----------
    function : callable
        Takes an array (n,) and returns the n values; element i depends on element i only and does not fall.
    low, high : array (n,)
        Bounds: not above 0 at `low`, not below 0 at `high`.
    what : str
        Named in an error.
    tolerance : float
        Size of the function that counts as zero [its unit]; a bracket down to rounding also ends the search.
    most : int
        Evaluations allowed.
    ends : pair of array (n,), optional
        Values of the function at `low` and `high` where they are known already.

    Returns
    -------
    array (n,)

    Raises
    ------
    SolverError
        If the bounds do not hold a root, or it is not found in `most` evaluations.

    References
    ----------
    .. [1] T. R. Chandrupatla, A new hybrid quadratic/bisection algorithm for finding the zero of a nonlinear function
       without using derivatives, Advances in Engineering Software 28 (1997) 145-149 (from memory).

    Examples
    --------
    >>> import numpy as np
    >>> rising_root(lambda x: x**3 - 2.0, low=np.array([0.0]), high=np.array([2.0]), what="a cube root")
    array([1.259921])
    """
    a, b = np.array(high, dtype=float), np.array(low, dtype=float)
    if a.size == 0:
        return a
    fb, fa = (function(b), function(a)) if ends is None else (ends[0].copy(), ends[1].copy())
    outside = ~((fb <= 0.0) & (fa >= 0.0))  # written so that a value that is no number counts
    if np.any(outside):
        i = int(np.argmax(outside))
        raise SolverError(f"{what}: no root between {b[i]:.6g} ({fb[i]:.3g}) and {a[i]:.6g} ({fa[i]:.3g})")
    c, fc = a.copy(), fa.copy()
    # within a tight bracket the first guess of a straight line is near; else halve
    share = np.full_like(a, 0.5)
    if ends is not None:
        with np.errstate(divide="ignore", invalid="ignore"):
            straight = fa / (fa - fb)
        share = np.where(np.isfinite(straight), np.clip(straight, 0.02, 0.98), 0.5)
    for _ in range(most):
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        size = np.minimum(np.abs(fa), np.abs(fb))
        width = np.abs(b - a)
        floor = 4e-16 * np.maximum(np.abs(best), 1e-300)
        if np.all((size <= tolerance) | (width <= floor)):
            return best
        x = a + share * (b - a)
        f = function(x)
        same = np.sign(f) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, f
        with np.errstate(divide="ignore", invalid="ignore"):
            xi = (a - b) / (c - b)
            phi = (fa - fb) / (fc - fb)
            quadratic = (phi**2 < xi) & ((1.0 - phi) ** 2 < 1.0 - xi)
            step = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
            edge = np.minimum(0.5, 2e-16 * np.abs(a) / np.maximum(np.abs(b - a), 1e-300) + 1e-14)
        share = np.where(quadratic & np.isfinite(step), np.clip(step, edge, 1.0 - edge), 0.5)
    open_ = ~((size <= tolerance) | (width <= floor))
    i = int(np.argmax(open_))
    raise SolverError(
        f"{what}: {int(np.sum(open_))} of {a.size} roots not found in {most} evaluations; the first still lies between "
        f"{min(a[i], b[i]):.6g} and {max(a[i], b[i]):.6g}, function {size[i]:.3g}"
    )
