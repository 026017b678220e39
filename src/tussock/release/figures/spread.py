"""Spreading labels along a line so that none overlaps its neighbour and each moves as little as possible."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from tussock.errors import DomainError


def spread(
    wanted: Sequence[float], sizes: Sequence[float], *, low: float, high: float, gap: float = 0.0
) -> tuple[float, ...]:
    """Move label centres apart along one direction with the least sum of squared moves.

    With the labels sorted, "no overlap" says that each centre lies at least half of both sizes above the one before.
    Subtracting the running sum of those distances turns that into "not decreasing", so that the least-squares answer is
    an isotonic regression (pooling of adjacent violators); clipping it keeps it optimal between the two ends [1]_.

    Parameters
    ----------
    wanted : sequence of float
        Where each centre would like to be, in any order. [pt]
    sizes : sequence of float
        Extent of each label along the line, positive. [pt]
    low, high : float
        Ends between which all labels must stay. [pt]
    gap : float
        Space kept between neighbours. [pt]

    Returns
    -------
    tuple of float
        Centres in the order of `wanted`. [pt]

    Raises
    ------
    DomainError
        If the labels together are longer than the room.

    References
    ----------
    .. [1] Barlow, R. E., Bartholomew, D. J., Bremner, J. M., Brunk, H. D. (1972). Statistical Inference under Order
       Restrictions. Wiley. (from memory)

    Examples
    --------
    >>> spread([10.0, 11.0], [4.0, 4.0], low=0.0, high=20.0)
    (8.5, 12.5)
    """
    if len(wanted) != len(sizes):
        raise DomainError(f"{len(wanted)} label positions but {len(sizes)} label sizes; they must be as many")
    if not wanted:
        return ()
    room = high - low
    need = sum(sizes) + gap * (len(sizes) - 1)
    if need > room + 1e-9:
        raise DomainError(f"labels need {need:.1f} pt but there are {room:.1f} pt; make the picture larger")
    order = sorted(range(len(wanted)), key=lambda i: (wanted[i], i))
    offsets = [0.0]
    for before, here in itertools.pairwise(order):
        offsets.append(offsets[-1] + 0.5 * (sizes[before] + sizes[here]) + gap)
    pools: list[tuple[float, int]] = []  # mean, count
    for rank, i in enumerate(order):
        mean, count = wanted[i] - offsets[rank], 1
        while pools and pools[-1][0] > mean:
            other, more = pools.pop()
            mean, count = (mean * count + other * more) / (count + more), count + more
        pools.append((mean, count))
    least = low + 0.5 * sizes[order[0]]
    most = high - 0.5 * sizes[order[-1]] - offsets[-1]
    centres = [0.0] * len(wanted)
    rank = 0
    for mean, count in pools:
        for _ in range(count):
            centres[order[rank]] = min(max(mean, least), most) + offsets[rank]
            rank += 1
    return tuple(centres)
