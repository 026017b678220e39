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
from scipy.signal import csd, detrend, get_window

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
    frequency, density, weight = _joined(pieces, pieces, step, segment)
    return Spectrum(
        frequency=frequency, density=np.real(density) / weight, averages=averages(pieces, step, segment=segment)
    )


def transfer(inputs: Sequence[Floats], outputs: Sequence[Floats], step: float, *, segment: float = SEGMENT) -> Transfer:
    """Return the transfer function from one channel to another over several records.

    Raises
    ------
    DomainError
        If records differ in number or length, or are shorter than a segment.
    """
    if len(inputs) != len(outputs) or any(a.size != b.size for a, b in zip(inputs, outputs, strict=True)):
        raise DomainError("a transfer function needs both channels over the same records")
    frequency, cross, _ = _joined(inputs, outputs, step, segment)
    own, other = (np.real(_joined(x, x, step, segment)[1]) for x in (inputs, outputs))
    tiny = 1e-300
    gain = cross / np.maximum(own, tiny)
    coherence = np.clip(np.abs(cross) ** 2 / np.maximum(own * other, tiny), _LEAST_COHERENCE, 1.0)
    count = averages(inputs, step, segment=segment)
    error = np.sqrt((1.0 - coherence) / (2.0 * coherence * count))
    return Transfer(frequency=frequency, gain=gain, coherence=np.asarray(coherence), error=np.asarray(error))


def _joined(
    one: Sequence[Floats], other: Sequence[Floats], step: float, segment: float
) -> tuple[Floats, npt.NDArray[np.complex128], float]:
    n = round(segment / step)
    if not one or min(p.size for p in one) < n:
        shortest = min((p.size * step for p in one), default=0.0)
        raise DomainError(f"a record of {shortest:.2f} s is shorter than a segment of {segment:g} s")
    total, weight = np.zeros(n // 2 + 1, dtype=np.complex128), 0.0
    frequency = np.asarray(np.fft.rfftfreq(n, step), dtype=np.float64)
    for a, b in zip(one, other, strict=True):
        _, density = csd(a, b, 1.0 / step, nperseg=n, detrend=detrend)
        count = float((a.size - n) // (n // 2) + 1)
        total += count * density
        weight += count
    return frequency, total, weight


def octave_bands(*, low: float, high: float, per_octave: int = 3) -> Floats:
    """Return the edges of bands (n + 1,) [Hz], a fraction of an octave wide, from low to at least high."""
    count = math.ceil(per_octave * math.log2(high / low) - 1e-9)
    return np.asarray(low * 2.0 ** (np.arange(count + 1) / per_octave))


def band_power(s: Spectrum, edges: Floats) -> Floats:
    """Return the mean square in each band (n,) [SI^2]."""
    whole = np.concatenate([[0.0], np.cumsum(0.5 * (s.density[1:] + s.density[:-1]) * np.diff(s.frequency))])
    return np.asarray(np.diff(np.interp(edges, s.frequency, whole)))
