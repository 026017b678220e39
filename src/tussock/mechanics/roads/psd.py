"""Spectral density of a wheel track, the straight line of ISO 8608 through it, and the coherence of two tracks.

References
----------
.. [1] ISO 8608: fit of a straight line in log-log over 0.011 to 2.83 cycle/m on smoothed bands; the range is from
   memory, the standard's full text was not seen. We smooth by third octaves throughout, where the standard uses
   octaves at the lowest and twelfth octaves at the highest frequencies (from memory).
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
from scipy.signal import csd, welch

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.roads.random_road import REFERENCE_FREQUENCY, class_of

FIT_RANGE = (0.011, 2.83)  # [cycle/m] [1]_


@dataclass(frozen=True, kw_only=True, slots=True)
class RoadFit:
    """The straight line through a road's spectral density.

    Attributes
    ----------
    density : float
        One-sided displacement spectral density at 0.1 cycle/m [m^3].
    waviness : float
        Exponent of its fall with spatial frequency [-].
    lowest, highest : float
        Spatial frequencies between which it was fitted [cycle/m].
    scatter : float
        R.m.s. distance of the bands from the line, in natural logarithm of density [-].
    """

    density: float
    waviness: float
    lowest: float
    highest: float
    scatter: float

    @property
    def road_class(self) -> str:
        """ISO 8608 class of the density at 0.1 cycle/m."""
        return class_of(self.density)


def displacement_density(heights: Floats, spacing: float, *, segment: float = 200.0) -> tuple[Floats, Floats]:
    """Return spatial frequency [cycle/m] and one-sided displacement spectral density [m^3] by Welch's method.

    Parameters
    ----------
    heights : array (n,)
        Profile [m].
    spacing : float
        Distance between points [m].
    segment : float
        Length of the (Hann-windowed, half overlapping, mean taken off) pieces [m]; a shorter road is one piece.

    Returns
    -------
    frequency, density : array (m,)
        Without frequency 0.

    Raises
    ------
    DomainError
        For a profile of less than 16 points or one that holds no number somewhere.
    """
    profile = _profile(heights, spacing)
    length = min(round(segment / spacing), profile.size)
    frequency, density = welch(profile, 1.0 / spacing, nperseg=length, detrend="constant")
    return np.asarray(frequency[1:], dtype=np.float64), np.asarray(density[1:], dtype=np.float64)


def track_coherence(left: Floats, right: Floats, spacing: float, *, segment: float = 50.0) -> tuple[Floats, Floats]:
    """Return spatial frequency [cycle/m] and the coherence between two tracks [-], real part, by Welch's method.

    It is the cross over the geometric mean of the two densities (not squared); that of an isotropic surface is real.
    """
    one, two = _profile(left, spacing), _profile(right, spacing)
    if one.size != two.size:
        raise DomainError(f"road: the tracks have {one.size} and {two.size} points; they must be equal")
    length = min(round(segment / spacing), one.size)
    frequency, cross = csd(one, two, 1.0 / spacing, nperseg=length, detrend="constant")
    _, a = welch(one, 1.0 / spacing, nperseg=length, detrend="constant")
    _, b = welch(two, 1.0 / spacing, nperseg=length, detrend="constant")
    bottom = np.sqrt(a[1:] * b[1:])
    if not np.all(bottom > 0.0):
        raise DomainError("road: a track that is level has no coherence with another")
    return np.asarray(frequency[1:], dtype=np.float64), np.asarray(cross[1:].real / bottom, dtype=np.float64)


def fit_road(heights: Floats, spacing: float, *, segment: float = 200.0) -> RoadFit:
    """Return the straight line in log-log through a road's displacement spectral density [1]_.

    Each third octave counts once, so that the many high frequencies do not outweigh the few low ones.

    Parameters
    ----------
    heights : array (n,)
        Profile [m].
    spacing : float
        Distance between points [m].
    segment : float
        Of Welch's method [m]; the lowest frequency fitted is twice its inverse, at least 0.011 cycle/m.

    Raises
    ------
    DomainError
        If less than four bands are filled, or the road is level.
    """
    frequency, density = displacement_density(heights, spacing, segment=segment)
    low, high = max(FIT_RANGE[0], 2.0 * float(frequency[0])), min(FIT_RANGE[1], 0.4 / spacing)
    picks, centres = [], []
    if high > low:
        edges = low * 2.0 ** np.arange(0.0, math.log2(high / low) + 1e-9, 1.0 / 3.0)
        for a, b in itertools.pairwise(edges.tolist()):
            pick = np.flatnonzero((frequency >= a) & (frequency < b))
            if pick.size:
                picks.append(pick)
                centres.append(math.sqrt(a * b))
    if len(picks) < 4:
        raise DomainError(
            f"road: {heights.size * spacing:.0f} m at {spacing:g} m fill {len(picks)} third octaves between 0.011 and "
            "2.83 cycle/m; at least 4 are needed to fit its class"
        )
    if not all(np.all(density[p] > 0.0) for p in picks):
        raise DomainError("road: a level road has no class")
    x = np.log(np.array(centres) / REFERENCE_FREQUENCY)
    waviness, offset, y = 2.0, 0.0, x
    for _ in range(4):  # a band's mean stands for its centre once the fall inside the band is taken out
        y = np.array(
            [
                math.log(float(np.mean(density[p] * (frequency[p] / c) ** waviness)))
                for p, c in zip(picks, centres, strict=True)
            ]
        )
        slope, offset = (float(v) for v in np.polyfit(x, y, 1))
        waviness = -slope
    return RoadFit(
        density=math.exp(offset),
        waviness=waviness,
        lowest=low,
        highest=high,
        scatter=float(np.sqrt(np.mean((y - (offset - waviness * x)) ** 2))),
    )


def _profile(heights: Floats, spacing: float) -> Floats:
    profile = np.asarray(heights, dtype=np.float64)
    if profile.ndim != 1 or profile.size < 16 or not spacing > 0.0:
        raise DomainError(f"road: a spectrum needs at least 16 points at a positive spacing, not {profile.size}")
    if not np.all(np.isfinite(profile)):
        raise DomainError("road: the profile holds a value that is not a number")
    return profile
