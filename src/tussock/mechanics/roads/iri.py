"""International Roughness Index of a wheel track: mean travel of a standard quarter car at 80 km/h.

References
----------
.. [1] Sayers, Gillespie, Paterson, World Bank Technical Paper 46 (1986): quarter car and coefficients, checked in four
   independent transcriptions.
.. [2] ASTM E1926: definition of the index; Sayers 1995, TRR 1501: average over 250 mm (second hand).
"""

from __future__ import annotations

import math
from typing import Literal, TypeAlias

import numpy as np
from scipy.linalg import expm
from scipy.signal import lfilter

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads.random_road import REFERENCE_FREQUENCY

Start: TypeAlias = Literal["slope", "rest"]

SPEED = 80.0 / 3.6  # speed of the index [m/s]
_AVERAGE = 0.25  # the tyre's averaging length [m]
_RUN_UP = 11.0  # the states start from the mean slope of this length [m]
# per unit body mass: tyre stiffness, spring stiffness [1/s^2], damping [1/s]; wheel mass [-]
_K1, _K2, _C, _MU = 653.0, 63.3, 6.0, 0.15


def golden_car() -> tuple[Floats, Floats]:
    """Return (A, b) of the index's quarter car [1]_.

    States are body height, its rate, wheel height, its rate, all over the profile's slope; the input is that slope.
    """
    a = np.array(
        [
            [0.0, 1.0, 0.0, 0.0],
            [-_K2, -_C, _K2, _C],
            [0.0, 0.0, 0.0, 1.0],
            [_K2 / _MU, _C / _MU, -(_K1 + _K2) / _MU, -_C / _MU],
        ]
    )
    return a, np.array([0.0, 0.0, 0.0, _K1 / _MU])


def transition(spacing: float) -> tuple[Floats, Floats]:
    """Return the state transition matrix ST (4, 4) and input vector PR (4,) of the index for a point spacing [m]."""
    a, b = golden_car()
    step = np.asarray(expm(a * spacing / SPEED), dtype=np.float64)
    return step, np.asarray(np.linalg.solve(a, (step - np.eye(4)) @ b), dtype=np.float64)


def rectified_slope(heights: Floats, spacing: float, *, average: bool | None = None, start: Start = "slope") -> Floats:
    """Return the size of the quarter car's suspension speed over its forward speed, point by point [-].

    Its mean over any stretch is that stretch's roughness index (1e-3 is 1 m/km).

    Parameters
    ----------
    heights : array (n,)
        Profile [m].
    spacing : float
        Distance between points [m].
    average : bool, optional
        Whether the profile is averaged over 250 mm first; by default if the spacing is below 250 mm.
    start : str
        "slope": the states start from the mean slope of the first 11 m; "rest": from 0.

    Returns
    -------
    array (m - 1,)
        After each step between points, m of them left by the average.

    Raises
    ------
    DomainError
        If the profile holds no number somewhere, or is too short for its start.
    """
    profile = np.asarray(heights, dtype=np.float64)
    if profile.ndim != 1 or not spacing > 0.0:
        raise DomainError(f"roughness index: needs one profile and a positive spacing, not {spacing:g} m")
    least = _RUN_UP + _AVERAGE if start == "slope" else _AVERAGE + 2.0 * spacing
    if (profile.size - 1) * spacing < least:
        raise DomainError(
            f"roughness index: needs at least {least:g} m of profile, not {(profile.size - 1) * spacing:.1f} m"
        )
    bad = np.flatnonzero(~np.isfinite(profile))
    if bad.size:
        raise DomainError(f"roughness index: the profile has no number at {bad[0] * spacing:.2f} m")
    if average if average is not None else spacing < _AVERAGE - 1e-6:
        width = max(round(_AVERAGE / spacing), 1)
        total = np.concatenate([[0.0], np.cumsum(profile - profile[0])])
        profile = (total[width:] - total[:-width]) / width
    slope = np.diff(profile) / spacing
    step, gain = transition(spacing)
    first = 0.0
    if start == "slope":
        points = min(round(_RUN_UP / spacing), profile.size - 1)
        first = float(profile[points] - profile[0]) / (points * spacing)
    # four first-order recursions along the eigenvectors run in compiled code
    values, vectors = np.linalg.eig(step)
    inverse = np.linalg.inv(vectors)
    begin, drive = inverse @ np.array([first, 0.0, first, 0.0]), inverse @ gain
    out = np.zeros(slope.size, dtype=np.complex128)
    for i in range(4):
        mode, _ = lfilter([drive[i]], [1.0, -values[i]], slope.astype(np.complex128), zi=[values[i] * begin[i]])
        out += (vectors[0, i] - vectors[2, i]) * mode
    return np.asarray(np.abs(out.real), dtype=np.float64)


def roughness_index(heights: Floats, spacing: float, *, average: bool | None = None, start: Start = "slope") -> float:
    """Return the International Roughness Index of one wheel track [m/km].

    About 2 is a good sealed road, 6 a moderately rough one, 12 extremely rough sealed, 20 extremely rough unsealed
    (World Bank Infrastructure Note RT-2, 1999). Parameters and errors are those of `rectified_slope`.

    Examples
    --------
    A wave of 5 mm amplitude every 15 m:

    >>> heights = 0.005 * np.sin(2.0 * np.pi * np.arange(0.0, 3000.0, 0.25) / 15.0)
    >>> round(roughness_index(heights, 0.25), 1)
    2.0
    """
    return float(1e3 * np.mean(rectified_slope(heights, spacing, average=average, start=start)))


def expected_index(density: float) -> float:
    """Return the index that a random road of waviness 2 has in expectation [m/km], from its density at n0 [m^3].

    The quarter car's mean square suspension speed on white-noise road slope has a closed form, and a normal signal
    has the mean size sqrt(2 / pi) times its r.m.s.: IRI = 1000 n0 sqrt(2 pi G k1 / (c V)). Without the 250 mm average.

    >>> round(expected_index(256e-6), 2)
    8.88
    """
    if not (math.isfinite(density) and density >= 0.0):
        raise DomainError(f"roughness index: spectral density is {density:g} m^3; it must be 0 or positive")
    return 1e3 * REFERENCE_FREQUENCY * math.sqrt(2.0 * math.pi * density * _K1 / (_C * SPEED))
