"""Spectra and transfer functions of recorded or simulated channels, with their chance errors.

References
----------
.. [1] Bendat, Piersol, Random Data, 4th ed. 2010, ch. 9: random error of an averaged spectrum 1/sqrt(n), of a gain
   sqrt(1 - c)/sqrt(2 c n) with ordinary coherence c (from memory).
.. [2] P. D. Welch, IEEE Trans. Audio Electroacoust. 15 (1967) 70: equivalent number of averages of overlapped segments.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.signal import csd, get_window

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

SEGMENT = 4.0  # length of a segment [s]: 0.25 Hz apart
_LEAST_COHERENCE = 1e-6


@dataclass(frozen=True, kw_only=True, eq=False)
class Spectrum:
    """One-sided power spectral density.

    Attributes
    ----------
    frequency : array (n,)
        [Hz].
    density : array (n,)
        [SI^2/Hz].
    averages : float
        Equivalent number of independent segments.
    """

    frequency: Floats
    density: Floats
    averages: float

    @property
    def error(self) -> float:
        """Random error of each value over the value [-] [1]_."""
        return 1.0 / math.sqrt(self.averages)


@dataclass(frozen=True, kw_only=True, eq=False)
class Transfer:
    """Response of one channel to another (H1).

    Attributes
    ----------
    frequency : array (n,)
        [Hz].
    gain : array (n,)
        Complex [-].
    coherence : array (n,)
        Ordinary coherence, 0 to 1.
    error : array (n,)
        Random error of the modulus over the modulus [-] [1]_.
    """

    frequency: Floats
    gain: npt.NDArray[np.complex128]
    coherence: Floats
    error: Floats


def averages(pieces: Sequence[Floats], step: float, *, segment: float = SEGMENT) -> float:
    """Return the equivalent number of independent Hann segments with half overlap in some records [2]_."""
    n = round(segment / step)
    w = get_window("hann", n)
    half = n // 2
    common = float((w[half:] @ w[: n - half]) / (w @ w)) ** 2
    whole = 0.0
    for piece in pieces:
        k = max((piece.size - n) // half + 1, 0)
        whole += k / (1.0 + 2.0 * (k - 1) / k * common) if k > 0 else 0.0
    return whole


def cross_spectra(
    pieces: Sequence[Floats], pairs: Sequence[tuple[int, int]], step: float, *, segment: float = SEGMENT
) -> tuple[Floats, npt.NDArray[np.complex128]]:
    """Return frequencies (nf,) [Hz] and one-sided cross spectra (pairs, nf) [SI^2/Hz] of several channels at once.

    Parameters
    ----------
    pieces : sequence of array (m, n)
        Channels of each record at even times, each record at least one segment long.
    pairs : sequence of pair of int
        Channels; a channel with itself gives its own spectrum.
    step : float
        Between samples [s].
    segment : float
        Length of a segment [s]; Hann, half overlap, the mean of each taken off.

    Raises
    ------
    DomainError
        If a record is shorter than a segment.
    """
    n = round(segment / step)
    shortest = min((p.shape[-1] for p in pieces), default=0)
    if shortest < n:
        raise DomainError(f"a record of {shortest * step:.2f} s is shorter than a segment of {segment:g} s")
    one, other = ([pair[i] for pair in pairs] for i in (0, 1))
    total = np.zeros((len(pairs), n // 2 + 1), dtype=np.complex128)
    weight = 0.0
    for piece in pieces:
        _, density = csd(piece[one], piece[other], 1.0 / step, nperseg=n, detrend="constant")
        count = float((piece.shape[-1] - n) // (n // 2) + 1)
        total += count * density
        weight += count
    return np.asarray(np.fft.rfftfreq(n, step), dtype=np.float64), total / weight


def spectrum(pieces: Sequence[Floats], step: float, *, segment: float = SEGMENT) -> Spectrum:
    """Return the spectrum of one channel over several records of one road.

    Parameters
    ----------
    pieces : sequence of array
        At even times; each at least one segment long.
    step : float
        Between samples [s].
    segment : float
        Length of a segment [s].

    Raises
    ------
    DomainError
        If a record is shorter than a segment.
    """
    frequency, density = cross_spectra([p[None] for p in pieces], [(0, 0)], step, segment=segment)
    return Spectrum(frequency=frequency, density=np.real(density[0]), averages=averages(pieces, step, segment=segment))


def transfer(inputs: Sequence[Floats], outputs: Sequence[Floats], step: float, *, segment: float = SEGMENT) -> Transfer:
    """Return the transfer function from one channel to another over several records.

    Raises
    ------
    DomainError
        If records differ in number or length, or are shorter than a segment.
    """
    if len(inputs) != len(outputs) or any(a.size != b.size for a, b in zip(inputs, outputs, strict=True)):
        raise DomainError("a transfer function needs both channels over the same records")
    both = [np.stack(pair) for pair in zip(inputs, outputs, strict=True)]
    frequency, density = cross_spectra(both, [(0, 1), (0, 0), (1, 1)], step, segment=segment)
    cross, own, other = density[0], np.real(density[1]), np.real(density[2])
    tiny = 1e-300
    gain = cross / np.maximum(own, tiny)
    coherence = np.clip(np.abs(cross) ** 2 / np.maximum(own * other, tiny), _LEAST_COHERENCE, 1.0)
    count = averages(inputs, step, segment=segment)
    error = np.sqrt((1.0 - coherence) / (2.0 * coherence * count))
    return Transfer(frequency=frequency, gain=gain, coherence=np.asarray(coherence), error=np.asarray(error))


def octave_bands(*, low: float, high: float, per_octave: int = 3) -> Floats:
    """Return the edges of bands (n + 1,) [Hz], a fraction of an octave wide, from low to at least high."""
    count = math.ceil(per_octave * math.log2(high / low) - 1e-9)
    return np.asarray(low * 2.0 ** (np.arange(count + 1) / per_octave))


def band_power(frequency: Floats, density: Floats, edges: Floats) -> Floats:
    """Return the mean square in each band (..., n) [SI^2] of one-sided densities (..., nf) at even frequencies."""
    steps = 0.5 * (density[..., 1:] + density[..., :-1]) * np.diff(frequency)
    whole = np.concatenate([np.zeros((*density.shape[:-1], 1)), np.cumsum(steps, axis=-1)], axis=-1)
    place = np.interp(edges, frequency, np.arange(frequency.size))
    low = np.minimum(place.astype(int), frequency.size - 2)
    share = place - low
    at = whole[..., low] * (1.0 - share) + whole[..., low + 1] * share
    return np.asarray(np.diff(at, axis=-1))
