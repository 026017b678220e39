"""Process capability of a batch against limits, with its confidence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm, shapiro

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats


@dataclass(frozen=True, kw_only=True)
class Capability:
    """Capability of a process from a sample.

    Parameters
    ----------
    count : int
        Parts measured.
    mean, sigma : float
        Sample mean and standard deviation, in the unit of the values.
    least, most : float
        Limits.
    cp, cpk : float
        (most - least)/(6 sigma), and the nearer limit's distance from the mean over 3 sigma [-].
    cp_interval, cpk_interval : pair of float
        At the confidence.
    confidence : float
        [-].
    outside : float
        Share of parts beyond the limits if the process is normal [-].
    normal : float
        p value of Shapiro and Wilk's test; below 0.05 the process is hardly normal and the indices mislead. 1 below
        three parts.
    """

    count: int
    mean: float
    sigma: float
    least: float
    most: float
    cp: float
    cpk: float
    cp_interval: tuple[float, float]
    cpk_interval: tuple[float, float]
    confidence: float
    outside: float
    normal: float


def capability(values: Sequence[float] | Floats, *, least: float, most: float, confidence: float = 0.95) -> Capability:
    """Return the capability of a process from a sample.

    Cp = (most - least)/(6 s), its interval exact for a normal process: Cp sqrt(chi2/(n - 1)). Cpk's interval is the
    usual approximation Cpk -+ z sqrt(1/(9 n) + Cpk^2/(2 (n - 1))).

    Parameters
    ----------
    values : sequence of float (n,)
        One a part, 2 at least, not all equal.
    least, most : float
        Limits, in the unit of the values.
    confidence : float
        Of the intervals [-].

    Raises
    ------
    DomainError
        If there are too few values, they do not scatter, or the limits are none.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6, What is Process Capability? (from memory).
    .. [2] A. F. Bissell, How reliable is your capability index?, Applied Statistics 39 (1990) 331-340 (interval of Cpk;
       from memory).

    Examples
    --------
    >>> found = capability([14.0, 16.0, 18.0], least=8.0, most=20.0)
    >>> found.cp, round(found.cpk, 4)
    (1.0, 0.6667)
    """
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.size < 2 or not np.all(np.isfinite(x)):
        raise DomainError(f"capability wants two measured parts at least, all of them numbers; it has {x.size}")
    if not (math.isfinite(least) and math.isfinite(most) and least < most):
        raise DomainError(f"limits from {least:g} to {most:g}; the upper one must be the larger")
    if not 0.0 < confidence < 1.0:
        raise DomainError(f"confidence {confidence:g}; it lies between 0 and 1, such as 0.95")
    n, mean, sigma = x.size, float(np.mean(x)), float(np.std(x, ddof=1))
    if sigma <= 1e-12 * max(abs(mean), most - least):
        raise DomainError(f"all {n} parts measure {mean:g}; a process that does not scatter has no capability index")
    cp = (most - least) / (6.0 * sigma)
    cpk = min(most - mean, mean - least) / (3.0 * sigma)
    tail = 0.5 * (1.0 - confidence)
    cp_low, cp_high = (cp * math.sqrt(float(chi2.ppf(q, n - 1)) / (n - 1)) for q in (tail, 1.0 - tail))
    reach = float(norm.ppf(1.0 - tail)) * math.sqrt(1.0 / (9.0 * n) + cpk**2 / (2.0 * (n - 1)))
    return Capability(
        count=n,
        mean=mean,
        sigma=sigma,
        least=least,
        most=most,
        cp=cp,
        cpk=cpk,
        cp_interval=(cp_low, cp_high),
        cpk_interval=(cpk - reach, cpk + reach),
        confidence=confidence,
        outside=float(norm.cdf((least - mean) / sigma) + norm.sf((most - mean) / sigma)),
        normal=float(shapiro(x).pvalue) if n >= 3 else 1.0,
    )
