"""What a road is: its spectral density and class, and its International Roughness Index.

References
----------
.. [1] Sayers, Gillespie, Paterson, World Bank Technical Paper 46 (1986): quarter car and coefficients, checked in four
   independent transcriptions.
.. [2] ASTM E1926: definition of the index.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
from scipy.linalg import expm
from scipy.signal import lfilter, welch

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads.random_road import REFERENCE_FREQUENCY

SPEED = 80.0 / 3.6  # speed of the index [m/s]
FIT_RANGE = (0.011, 2.83)  # spatial frequencies of the straight-line fit [cycle/m], from memory of ISO 8608
_K1, _K2, _C, _MU = 653.0, 63.3, 6.0, 0.15


def golden_car() -> tuple[Floats, Floats]:
    """Return (A, b) of the index's quarter car: states body and wheel height and velocity, input profile [1]_."""
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
    """Return the state transition matrix ST and input vector PR of the index for a point spacing [m] [1]_."""
    a, b = golden_car()
    step = expm(a * spacing / SPEED)
    return step, np.asarray(np.linalg.solve(a, (step - np.eye(4)) @ b), dtype=np.float64)


def roughness_index(heights: Floats, spacing: float, *, smooth: bool | None = None) -> float:
    """Return the International Roughness Index of one track [m/km].

    Parameters
    ----------
    heights : array (n,)
        Profile [m].
    spacing : float
        [m]; below 0.25 m the profile is first averaged over 250 mm.
    smooth : bool, optional
        Force or forbid that average.

    Raises
    ------
    DomainError
        If the profile is shorter than the 11 m of its start.
    """
    return float(1e3 * np.mean(np.abs(_response(heights, spacing, smooth))))


def _response(heights: Floats, spacing: float, smooth: bool | None) -> Floats:
    if heights.size * spacing < 11.0:
        raise DomainError(f"the roughness index needs at least 11 m of profile, not {heights.size * spacing:.1f} m")
    profile = np.asarray(heights, dtype=float)
    if smooth if smooth is not None else spacing < 0.249:
        width = max(round(0.25 / spacing), 1)
        profile = np.convolve(profile, np.ones(width) / width, mode="valid")
    slope = np.diff(profile) / spacing
    step, gain = transition(spacing)
    start = (profile[round(11.0 / spacing)] - profile[0]) / 11.0
    # diagonalise: four first-order recursions run in compiled code
    values, vectors = np.linalg.eig(step)
    inverse = np.linalg.inv(vectors)
    state0 = inverse @ np.array([start, 0.0, start, 0.0])
    drive = inverse @ gain
    out = np.zeros(slope.size, dtype=complex)
    for i in range(4):
        z, _ = lfilter([drive[i]], [1.0, -values[i]], slope.astype(complex), zi=[values[i] * state0[i]])
        out += (vectors[0, i] - vectors[2, i]) * z
    return np.asarray(out.real)


def displacement_density(heights: Floats, spacing: float, *, segment: float = 100.0) -> tuple[Floats, Floats]:
    """Return spatial frequency [cycle/m] and one-sided displacement spectral density [m^3] by Welch's method."""
    length = min(int(segment / spacing), heights.size)
    frequency, density = welch(heights, 1.0 / spacing, nperseg=length, detrend="constant")
    return np.asarray(frequency[1:]), np.asarray(density[1:])


def fit_class(heights: Floats, spacing: float, *, segment: float = 100.0) -> tuple[float, float]:
    """Return the density at 0.1 cycle/m [m^3] and the waviness [-] of the straight line fitted in log-log.

    The fit uses octave-wide means over 0.011 to 2.83 cycle/m, so that the many high frequencies do not outweigh
    the few low ones.
    """
    frequency, density = displacement_density(heights, spacing, segment=segment)
    low, high = max(FIT_RANGE[0], 2.0 * float(frequency[0])), min(FIT_RANGE[1], 0.4 / spacing)
    edges = low * 2.0 ** np.arange(0.0, math.log2(high / low) + 1e-9, 1.0 / 3.0)
    x, y = [], []
    for a, b in itertools.pairwise(edges.tolist()):
        pick = (frequency >= a) & (frequency < b)
        if np.any(pick):
            # waviness 2 inside the band: the mean of density times n^2 stands for its centre
            centre = math.sqrt(a * b)
            x.append(math.log(centre / REFERENCE_FREQUENCY))
            y.append(math.log(float(np.mean(density[pick] * frequency[pick] ** 2)) / centre**2))
    if len(x) < 4:
        raise DomainError("the road is too short to fit its class: less than four third-octave bands are filled")
    slope, offset = np.polyfit(x, y, 1)
    return float(math.exp(offset)), float(-slope)
