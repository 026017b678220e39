"""When the stock does not reach a wanted curve: which one disc, not in stock, would."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from tussock.errors import DomainError
from tussock.mechanics.dampers.search.candidates import Order, Shelf, ShelfDisc
from tussock.mechanics.dampers.search.find import Screening, Search
from tussock.mechanics.dampers.search.trial import Found
from tussock.mechanics.dampers.stack import Disc

#: Stacks from which one step is taken: the present one and the nearest.
_BASES = 4


@dataclass(frozen=True, kw_only=True, eq=False)
class MissingDisc:
    """One disc that is not in stock, and the stack with it.

    Parameters
    ----------
    disc : Disc
        Same material as the seat disc.
    found : Found
        The stack with it by the fine model; `found.inside` says whether it reaches the wanted curve.
    tried : int
        Stacks screened.
    """

    disc: Disc
    found: Found
    tried: int

    @property
    def reaches(self) -> bool:
        """Whether it gives the wanted curve."""
        return self.found.inside and self.found.bears


def missing_disc(
    search: Search, *, thickness_step: float = 0.05e-3, diameter_step: float = 1e-3, verify: int = 8
) -> MissingDisc:
    """Return the disc, in stated steps of size, that would bring the wanted curve with the fewest changes.

    One such disc is swapped in for any disc, or added anywhere, in the present stack and in the nearest ones found.

    Parameters
    ----------
    search : Search
        That ended without a stack.
    thickness_step, diameter_step : float
        Steps of the sizes that can be had [m].
    verify : int
        Stacks to try with the fine model.

    Raises
    ------
    DomainError
        If a step is not above 0, or no disc of such sizes is left that the stock does not have.
    """
    if not (thickness_step > 0.0 and diameter_step > 0.0):
        raise DomainError(f"steps of {thickness_step * 1e3:g} and {diameter_step * 1e3:g} mm; both must be above 0")
    shelf = search.shelf
    wished = _sizes(shelf, thickness_step, diameter_step)
    if not wished:
        raise DomainError("the stock already has every disc of such steps")
    wide = replace(shelf, stock=(*shelf.stock, *(ShelfDisc(disc=disc) for disc in wished)), tapered=shelf.keeps_taper)
    new = range(len(shelf.discs), len(wide.discs))  # the first numbers stay as they were
    bases = {shelf.order: 0} | {one.order: one.changes for one in search.found[:_BASES]}
    orders: dict[Order, int] = {}
    for base, changes in bases.items():
        for at in range(len(base) + 1):
            for disc in new:
                added = (*base[:at], disc, *base[at:])
                swapped = (*base[:at], disc, *base[at + 1 :])
                for order in (added, swapped):
                    if wide.allows(order):
                        orders.setdefault(order, changes + 1)
    listed = list(orders)
    screening = Screening(search.place, wide, search.wanted, search.present.forces)
    miss = screening.miss(screening.forces(listed))
    worst = np.where(np.isnan(miss).any(axis=1), np.inf, np.max(np.abs(miss), axis=1))
    # among those that look inside, fewest changes first; beyond them the nearest
    keys = [(worst[i] > 1.0, orders[order] if worst[i] <= 1.0 else 0, worst[i]) for i, order in enumerate(listed)]
    best: Found | None = None
    for i in sorted(range(len(listed)), key=keys.__getitem__)[:verify]:
        if not math.isfinite(worst[i]):
            break
        one = search.trial.run(wide, listed[i], orders[listed[i]])
        if best is None or one.rank < best.rank:
            best = one
    if best is None:
        raise DomainError("no stack with one more disc could be built on this seat and post")
    lacking = next(wide.discs[i] for i in best.order if i in new)
    return MissingDisc(disc=lacking, found=best, tried=len(listed))


def _sizes(shelf: Shelf, thickness_step: float, diameter_step: float) -> list[Disc]:
    """Return discs of the steps that are not in stock: thinnest to two steps above the thickest, clamp to widest."""
    material = shelf.present.discs[0].material
    have = {(round(disc.thickness * 1e7), round(disc.radius * 2e6)) for disc in shelf.discs}
    thin = min(disc.thickness for disc in shelf.discs)
    thick = max(disc.thickness for disc in shelf.discs) + 2.0 * thickness_step
    wide = 2.0 * max(disc.radius for disc in shelf.discs)
    out = []
    for i in range(max(math.ceil(thin / thickness_step - 1e-6), 1), math.floor(thick / thickness_step + 1e-6) + 1):
        narrow = 2.0 * shelf.present.clamp + 2.0 * max(i * thickness_step, 0.5e-3)
        for j in range(math.ceil(narrow / diameter_step - 1e-6), math.floor(wide / diameter_step + 1e-6) + 1):
            size = (round(i * thickness_step * 1e7), round(j * diameter_step * 1e6))
            if size not in have:
                out.append(Disc(radius=0.5 * j * diameter_step, thickness=i * thickness_step, material=material))
    return out
