"""What one more drive is expected to tell: how good the best build will be known to be after it."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from tussock.mechanics.arrays import Floats, Ints

_NODES = ndtri((np.arange(21) + 0.5) / 21)
_NODES /= np.std(_NODES)


def expected_best(mean: Floats, rows: Floats, own: Floats, tried: Ints, *, noise: float, reference: int = 0) -> Floats:
    """Return the expected mean of the build that will be best, after one of some builds was compared with another.

    The knowledge gradient is this less the best mean of now. What is said is the difference of both builds' utility
    with noise; every mean then moves along a line, and the mean over how far is that of 21 equally likely nodes.

    Parameters
    ----------
    mean : array (n,)
        Utilities believed [-].
    rows : array (n, m)
        Products of which are the builds' covariances.
    own : array (n,)
        Variance of each build that no other shares.
    tried : array (k,)
        Which builds might be driven; none is the reference.
    noise : float
        Standard deviation of what is said [-].
    reference : int
        Which build each would be compared with.

    Returns
    -------
    array (k,)
        For each of those tried [-].
    """
    to = rows[tried] - rows[reference]
    told = np.sqrt(np.sum(to**2, axis=1) + own[tried] + own[reference] + noise**2)
    cover = rows @ to.T
    cover[tried, np.arange(len(tried))] += own[tried]
    cover[reference] -= own[reference]
    moves = cover / told
    return np.asarray(np.mean(np.max(mean[:, None, None] + moves[:, :, None] * _NODES, axis=0), axis=1))
