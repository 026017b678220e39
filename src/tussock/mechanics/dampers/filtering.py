"""Low-pass filter of a force channel that shifts nothing in time.

A Butterworth filter of second order runs over the record forwards and backwards. Its cut-off is stated for both passes
together: there the amplitude is 1/sqrt(2). The gain at a frequency f is 1 / (1 + (sqrt(2) - 1) (f / cut-off)^4), so the
ground wave of a run at a tenth of the cut-off loses 0.004 %, its third harmonic 0.3 %.

References
----------
Winter, Biomechanics and Motor Control of Human Movement: correction of the cut-off by (sqrt(2) - 1)^(1/4) for two
passes of a second-order filter (from memory).
"""

from __future__ import annotations

import math

import numpy as np
from scipy.signal import butter, sosfiltfilt

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats

_TWO_PASSES = math.sqrt(2.0) - 1.0
#: least cut-off over the frequency of a run
LEAST_RATIO = 10.0
_NYQUIST_SHARE = 0.8


def gain(frequency: float, cutoff: float) -> float:
    """Return amplitude left over amplitude given at `frequency` [-], both in Hz.

    >>> round(gain(50.0, 50.0), 4)
    0.7071
    """
    return 1.0 / (1.0 + _TWO_PASSES * (frequency / cutoff) ** 4)


def most_cutoff(time: Floats) -> float:
    """Return the highest cut-off that does anything to samples at these times [Hz]."""
    return 0.5 * _NYQUIST_SHARE * float(_TWO_PASSES**0.25) * (time.size - 1) / float(time[-1] - time[0])


def low_pass(time: Floats, force: Floats, *, cutoff: float, frequency: float) -> Floats:
    """Return the filtered force, not shifted in time [N].

    Parameters
    ----------
    time, force : array (n,)
        [s] rising, nearly even; [N].
    cutoff : float
        Where the amplitude is 1/sqrt(2) after both passes [Hz].
    frequency : float
        Of the run's motion [Hz]; a cut-off below ten times this one would take from the peaks and is refused.

    Raises
    ------
    DomainError
        For a cut-off below ten times the run's frequency or above `most_cutoff`.
    """
    step = float(time[-1] - time[0]) / (time.size - 1)
    if not cutoff >= LEAST_RATIO * frequency:
        raise DomainError(
            f"a filter at {cutoff:g} Hz rounds off the peaks of a run at {frequency:.2f} Hz; "
            f"it must be at least {LEAST_RATIO * frequency:.1f} Hz"
        )
    design = cutoff / _TWO_PASSES**0.25
    if cutoff >= (most := most_cutoff(time)):
        raise DomainError(
            f"a filter at {cutoff:g} Hz does nothing to samples at {1.0 / step:.0f} Hz; it must be below {most:.0f} Hz"
        )
    even = time[0] + step * np.arange(time.size)
    stages = butter(2, design * step * 2.0, output="sos")
    smooth = sosfiltfilt(stages, np.interp(even, time, force))
    return np.asarray(np.interp(time, even, smooth))
