"""Harshness by shock band: how much of the seat's vertical vibration comes from soft, medium and sharp shocks.

No standard splits a ride so; the edges are our choice. Below 8 Hz the seat feels soft shocks that the body passes on as
one push (a dip's far side, a hump): springs and slow damping decide. From 8 to 20 Hz the wheels bounce: fast damping,
friction and unsprung mass decide. From 20 Hz on come edges: tyre, bushes and damper mounts decide. Within a band the
Wk-weighted r.m.s. counts, so that the squares of all bands add up to the square of the whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.fft import next_fast_len, rfft

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import kernels
from tussock.mechanics.measures.weighting import WK, time_history, weigh

#: Edges of the bands by the key of their measure [Hz].
SHOCK_BANDS: dict[str, tuple[float, float]] = {
    "shock_soft": (2.0, 8.0),
    "shock_medium": (8.0, 20.0),
    "shock_sharp": (20.0, 40.0),
}


def band_levels(signal: Floats, step: float, edges: Sequence[float]) -> Floats:
    """Return the r.m.s. of a signal between rising edges [Hz], shape (len(edges) - 1,), in its own unit.

    By Parseval's sum over the spectrum, so disjoint bands add up by squares to the whole exactly. A component on an
    edge belongs to the band above it.

    Raises
    ------
    DomainError
        If the edges do not rise from 0 or more, or the record is too short or holds no number somewhere.
    """
    x = time_history(signal, step)
    if len(edges) < 2 or edges[0] < 0.0 or any(not low < high for low, high in pairwise(edges)):
        raise DomainError(f"bands between {', '.join(f'{e:g}' for e in edges)} Hz; the edges must rise from 0 or more")
    count = next_fast_len(x.size, real=True)
    spectrum = rfft(x, count)
    first = np.minimum(np.ceil(np.asarray(edges) * step * count - 1e-9), spectrum.size).astype(np.int64)
    powers = kernels.powers(spectrum, first, count)
    return np.asarray(np.sqrt(powers / (float(count) * x.size)), dtype=np.float64)


def shock_levels(weighted: Floats, step: float) -> dict[str, float]:
    """Return the r.m.s. of a seat's vertical Wk-weighted acceleration in each of `SHOCK_BANDS` [m/s^2].

    Parameters
    ----------
    weighted : array (n,)
        Weighted acceleration [m/s^2].
    step : float
        Time step [s].
    """
    edges = [2.0, *(high for _, high in SHOCK_BANDS.values())]
    return dict(zip(SHOCK_BANDS, map(float, band_levels(weighted, step, edges)), strict=True))


def harshness(vertical: Floats, step: float) -> float:
    """Return the r.m.s. of a seat's vertical acceleration between 8 and 40 Hz after Wk weighting [m/s^2]."""
    levels = shock_levels(weigh(vertical, step, WK), step)
    return float(np.hypot(levels["shock_medium"], levels["shock_sharp"]))
