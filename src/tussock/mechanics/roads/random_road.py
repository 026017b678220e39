"""Random roads of ISO 8608 in two tracks with isotropic coherence.

References
----------
.. [1] ISO 8608: classes by displacement spectral density at 0.1 cycle/m, waviness 2. Class limits checked in public
   transcriptions; geometric means from memory of its Table C.1. The standard's full text was not seen.
.. [2] Dodds, Robson, J. Sound Vib. 31(2), 1973, 175-183, and Kamash, Robson, J. Sound Vib. 57(1), 1978, 89-100:
   isotropic road surfaces; the coherence formula is from memory, verified by quadrature.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.fft import irfft, next_fast_len
from scipy.special import gamma, kv

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

REFERENCE_FREQUENCY = 0.1  # n0 [cycle/m]

#: Geometric mean of the displacement spectral density at n0 of each class [m^3]
CLASS_MEAN: dict[str, float] = {name: 16e-6 * 4.0**i for i, name in enumerate("ABCDEFGH")}

#: Spatial frequencies that are drawn [cycle/m]: lower limit of on-road measurement, upper limit from tyre envelopment
BAND = (0.01, 10.0)


def class_of(density: float) -> str:
    """Return the ISO 8608 class of a displacement spectral density at 0.1 cycle/m [m^3].

    Class limits lie at 32e-6 times powers of 4; below the first all is A, above the last all is H.

    >>> class_of(256e-6)
    'C'
    """
    if not (math.isfinite(density) and density > 0.0):
        raise DomainError(f"a spectral density of {density:g} m^3 has no class; it must be positive")
    index = math.floor(math.log(density / 16e-6, 4.0) + 0.5)
    return "ABCDEFGH"[min(max(index, 0), 7)]


def coherence(frequency: Floats, *, track: float, waviness: float = 2.0) -> Floats:
    """Return the coherence between parallel tracks of an isotropic surface [-].

    Parameters
    ----------
    frequency : array
        Spatial frequency [cycle/m], not negative.
    track : float
        Distance between the tracks [m].
    waviness : float
        Exponent w of the displacement spectrum [-].

    Returns
    -------
    array
        Ordinary coherence (not squared): cross over auto spectral density.
    """
    n = np.asarray(frequency, dtype=float)
    argument = 2.0 * math.pi * n * track
    out = np.ones_like(n)
    some = argument > 1e-9
    z = argument[some]
    order = waviness / 2.0
    out[some] = 2.0 / gamma(order) * (z / 2.0) ** order * kv(order, z)
    return out


def random_heights(
    *,
    density: float,
    length: float,
    spacing: float,
    track: float,
    seed: int,
    waviness: float = 2.0,
    band: tuple[float, float] = BAND,
) -> tuple[Floats, Floats]:
    """Return left and right heights of a random road [m].

    Sum and difference of the tracks are drawn by inverse Fourier transform of independent normal spectra, so that
    each track has the wanted density in expectation at every frequency and both together the isotropic coherence.
    The frequencies are those of a period in whole metres, drawn from the lowest up: at every spacing that divides
    1 m and carries the band the same road comes out.

    Parameters
    ----------
    density : float
        One-sided displacement spectral density at 0.1 cycle/m [m^3].
    length, spacing : float
        [m].
    track : float
        Distance between the tracks [m].
    seed : int
        Of the generator (PCG64).
    waviness : float
        Exponent of the spectrum [-], above 1.
    band : tuple of float
        Spatial frequencies that are present [cycle/m]; a coarse spacing cuts the upper end at 1 / (2 spacing).

    Returns
    -------
    left, right : array (round(length / spacing) + 1,)
        Heights, mean 0 over the drawn period [m].

    Raises
    ------
    DomainError
        For a density that is not positive, a waviness of 1 or less, or a spacing too coarse for the band.
    """
    if not (math.isfinite(density) and density > 0.0):
        raise DomainError(f"road: spectral density is {density:g} m^3; it must be positive")
    if not 0.0 < band[0] < band[1]:
        raise DomainError(f"road: band from {band[0]:g} to {band[1]:g} cycle/m; it must rise from above 0")
    if not 1.0 < waviness <= 4.0:
        raise DomainError(f"road: waviness is {waviness:g}; it lies above 1, up to 4")
    if not (spacing > 0.0 and spacing * 2.0 * band[0] <= 1.0):
        raise DomainError(f"road: points {spacing:g} m apart cannot carry the band from {band[0]:g} cycle/m")
    # the series repeats after its period, so more is drawn than is kept
    period = next_fast_len(math.ceil(max(length * 1.25, 2.0 / band[0])), real=True)
    count = max(round(period / spacing), round(length / spacing) + 1)
    step = 1.0 / (count * spacing)
    first = max(math.floor(band[0] / step + 0.5), 1)
    last = min(math.ceil(band[1] / step - 0.5), (count - 1) // 2)
    harmonics = np.arange(first, last + 1)
    frequency = np.asarray(harmonics * step, dtype=np.float64)
    rng = np.random.Generator(np.random.PCG64(seed))
    draws = rng.standard_normal((frequency.size, 4))  # row by row from the lowest frequency
    gain = coherence(frequency, track=track, waviness=waviness)
    # each harmonic carries the variance of its own strip of the spectrum, so that the whole is exact: at the lowest
    # frequencies strip and ordinate differ by tens of per cent
    low = np.clip((harmonics - 0.5) * step, *band) / REFERENCE_FREQUENCY
    high = np.clip((harmonics + 0.5) * step, *band) / REFERENCE_FREQUENCY
    power = 1.0 - waviness
    variance = density * REFERENCE_FREQUENCY * (high**power - low**power) / power
    # E|X_k|^2 = variance N^2 / 2 for the unnormalised transform, real and imaginary part half each
    size = np.sqrt(np.maximum(variance, 0.0)) * count / 2.0
    half_sum = size * np.sqrt((1.0 + gain) / 2.0) * (draws[:, 0] + 1j * draws[:, 1])
    half_difference = size * np.sqrt(np.maximum(1.0 - gain, 0.0) / 2.0) * (draws[:, 2] + 1j * draws[:, 3])
    keep = round(length / spacing) + 1
    spectrum = np.zeros((2, count // 2 + 1), dtype=np.complex128)
    spectrum[0, first : last + 1] = half_sum + half_difference
    spectrum[1, first : last + 1] = half_sum - half_difference
    heights = np.asarray(irfft(spectrum, count), dtype=np.float64)
    return np.ascontiguousarray(heights[0, :keep]), np.ascontiguousarray(heights[1, :keep])
