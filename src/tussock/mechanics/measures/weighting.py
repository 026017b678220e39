"""Frequency weightings of ISO 2631-1, as transfer functions and as filters of a time history.

References
----------
.. [1] ISO 2631-1:1997 Annex A and ISO 8041-1:2017, formulas (1) to (5) and Table 3; parameters checked in two public
   transcriptions, which agree.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

import numpy as np
import numpy.typing as npt
from scipy.fft import irfft, next_fast_len, rfft, rfftfreq

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures.kernels import unsound


@dataclass(frozen=True, kw_only=True, slots=True)
class Weighting:
    """Parameters of one weighting [1]_: frequencies in Hz; an infinite one switches its bracket off."""

    name: str
    f1: float = 0.4
    f2: float = 100.0
    f3: float = math.inf
    f4: float = math.inf
    q4: float = 1.0
    f5: float = math.inf
    q5: float = 1.0
    f6: float = math.inf
    q6: float = 1.0

    def response(self, frequency: Floats) -> npt.NDArray[np.complex128]:
        """Return the complex transfer function at `frequency` >= 0 [Hz], in [-]."""
        f = np.asarray(frequency, dtype=float)
        s = 1j * np.maximum(f, 1e-12)  # in units of 2 pi: every bracket is a ratio of frequencies
        q = 1.0 / math.sqrt(2.0)
        high_pass = 1.0 / (1.0 + self.f1 / (q * s) + (self.f1 / s) ** 2)
        low_pass = 1.0 / (1.0 + s / (q * self.f2) + (s / self.f2) ** 2)
        h = high_pass * low_pass
        if math.isfinite(self.f3) or math.isfinite(self.f4):
            h = h * (1.0 + s / self.f3) / (1.0 + s / (self.q4 * self.f4) + (s / self.f4) ** 2)
        if math.isfinite(self.f5):
            up = 1.0 + s / (self.q5 * self.f5) + (s / self.f5) ** 2
            down = 1.0 + s / (self.q6 * self.f6) + (s / self.f6) ** 2
            h = h * up / down * (self.f5 / self.f6) ** 2
        return np.asarray(h, dtype=np.complex128)

    def gain(self, frequency: Floats) -> Floats:
        """Return the size of the weighting at `frequency` [Hz], in [-]."""
        return np.abs(self.response(frequency))


#: Seat z and feet
WK = Weighting(name="Wk", f3=12.5, f4=12.5, q4=0.63, f5=2.37, q5=0.91, f6=3.35, q6=0.91)
#: Seat x and y, backrest y and z
WD = Weighting(name="Wd", f3=2.0, f4=2.0, q4=0.63)
#: Backrest x
WC = Weighting(name="Wc", f3=8.0, f4=8.0, q4=0.63)
#: Rotations
WE = Weighting(name="We", f3=1.0, f4=1.0, q4=0.63)
#: Head of a lying person
WJ = Weighting(name="Wj", f5=3.75, q5=0.91, f6=5.32, q6=0.91)
#: Motion sickness
WF = Weighting(name="Wf", f1=0.08, f2=0.63, f4=0.25, q4=0.86, f5=0.0625, q5=0.80, f6=0.10, q6=0.80)

COARSEST = 5.0e-3 * (1.0 + 1e-9)  # time step [s]: 200 Hz


def weigh(signal: Floats, step: float, weighting: Weighting) -> Floats:
    """Return the weighted signal, filtered from rest.

    The filter works in the frequency domain on a record padded by its own settling time, so its response is the
    analogue one at every frequency up to half the sampling frequency, without the warping of a digital filter.

    Parameters
    ----------
    signal : array (n,)
        Acceleration [m/s^2] (or angular acceleration [rad/s^2]), taken as zero before the record.
    step : float
        Time step [s], at most 5 ms (200 Hz), so that the band to 80 Hz is there.
    weighting : Weighting
        Which one.

    Returns
    -------
    array (n,)
        In the unit of the signal.

    Raises
    ------
    DomainError
        For a step that is too coarse, or a record that is too short or holds no number somewhere.
    """
    weighted: Floats = weigh_all(time_history(signal, step)[None, :], step, [weighting])[0]
    return weighted


def weigh_all(signals: Floats, step: float, weightings: Sequence[Weighting]) -> Floats:
    """Return several signals (k, n), each filtered as by `weigh`: in one go, which takes half the time.

    Parameters
    ----------
    signals : array (k, n)
        One a row.
    step : float
        Time step [s].
    weightings : sequence of Weighting
        One for each row.
    """
    x = np.ascontiguousarray(signals, dtype=np.float64)
    if x.ndim != 2 or len(x) != len(weightings):
        raise DomainError(f"weighting: signals of shape {x.shape} by {len(weightings)} weightings; one row for each")
    rows, n = x.shape
    time_history(x.reshape(-1), step, rows=rows)
    if step > COARSEST:
        raise DomainError(f"time step is {step * 1e3:g} ms; at most 5 ms carries the band to 80 Hz")
    # the slowest pole has died away by then
    padding = math.ceil(4.0 / min(weighting.f1 for weighting in weightings) / step)
    count = next_fast_len(n + padding, real=True)
    spectrum = rfft(x, count, axis=1)
    first = 0
    for weighting, alike in groupby(weightings):
        last = first + len(list(alike))
        spectrum[first:last] *= _response(weighting, count, step)
        first = last
    return np.asarray(irfft(spectrum, count, axis=1)[:, :n], dtype=np.float64)


def band(signal: Floats, step: float, low: float, high: float) -> Floats:
    """Return the part of a signal between two frequencies [Hz], by fourth-order roll-offs without phase shift.

    The mean is taken off first. At `low` and `high` the gain is 1 / sqrt(2).

    Raises
    ------
    DomainError
        If the band does not rise, or a record is too short or holds no number somewhere.
    """
    x = time_history(signal, step)
    if not 0.0 < low < high:
        raise DomainError(f"band from {low:g} to {high:g} Hz; it must rise from above 0")
    padding = math.ceil(10.0 / low / step)  # the ringing at `low` has died away by then, on either side
    count = next_fast_len(x.size + padding, real=True)
    spectrum = rfft(x - x.mean(), count)
    spectrum *= _band_gain(low, high, count, step)
    return np.asarray(irfft(spectrum, count)[: x.size], dtype=np.float64)


# A road loop asks for the same few again and again, and they take longer than the transform: four weightings of each
# length of record, and one band.


@lru_cache(maxsize=32)
def _band_gain(low: float, high: float, count: int, step: float) -> Floats:
    frequency = np.maximum(rfftfreq(count, step), 1e-9)
    below, above = _eighth_power(low / frequency), _eighth_power(frequency / high)
    gain = np.asarray(1.0 / np.sqrt((1.0 + below) * (1.0 + above)), dtype=np.float64)
    gain.flags.writeable = False
    return gain


@lru_cache(maxsize=128)
def _response(weighting: Weighting, count: int, step: float) -> npt.NDArray[np.complex128]:
    response = weighting.response(np.asarray(rfftfreq(count, step), dtype=np.float64))
    response.flags.writeable = False
    return response


def _eighth_power(x: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    return np.square(np.square(np.square(x)))


def time_history(signal: Floats, step: float, *, rows: int = 1) -> Floats:
    """Return a signal as an array of floats; DomainError if it is no time history of finite numbers.

    It may be several histories of equal length, one behind the other.
    """
    x = np.ascontiguousarray(signal, dtype=np.float64)
    if x.ndim != 1 or x.size < 2 * rows:
        raise DomainError(f"a measure needs one time history, not an array of shape {np.shape(signal)}")
    if not (math.isfinite(step) and step > 0.0):
        raise DomainError(f"time step is {step:g} s; it must be positive")
    bad = unsound(x)
    if bad >= 0:
        raise DomainError(f"the time history has no number at {bad % (x.size // rows) * step:.3f} s")
    return x
